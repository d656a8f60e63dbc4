"""Cautions of every card that heats, each in the step where it counts, with how well it is known."""

from __future__ import annotations

from typing import Final, Literal

from straighten.sources import Cited

HeatSource = Literal["torch", "oven"]

_PRACTICE: Final = "common practice, no source"
_BEFORE: Final = (
    Cited(
        "All core and gallery plugs out, head dried (110 C, 1 h): trapped water or oil bursts out as steam.",
        "",
        "trade pages on stripping heads",
        _PRACTICE,
    ),
    Cited(
        "Sodium-filled valves out; never cut or press them: violent with water.",
        "",
        "workshop-manual text",
        "seen",
    ),
    Cited(
        "Local rules on flame and hot work come first; a licensed person where they ask for one.",
        "",
        "local codes",
        _PRACTICE,
    ),
)
_LATER: Final = (
    Cited(
        "Hot aluminium looks cold. Chalk HOT on it, wear gloves; head and plate weigh 20 to 80 kg: lift with help.",
        "",
        "workshop rule",
        _PRACTICE,
    ),
    Cited(
        "The clamp holds tonnes: stand clear of the stud ends, slacken only when cold, a quarter turn at a time.",
        "",
        "clamp force of this plan",
        "derived",
    ),
    Cited(
        "Charred fluoro-rubber seals leave an acid residue: do not touch it.",
        "",
        "safety sheets of fluoroelastomers",
        "from memory",
    ),
)
_TORCH: Final = (
    Cited(
        "Aluminium shows no colour before it melts. Go by a crayon pair or a thermocouple, never by eye; burning soot or "
        "soap means far too hot.",
        "",
        "handbook on temperature crayons; blog pages on annealing marks",
        "seen",
    ),
    Cited(
        "Rules for welded structures keep a flame off age-hardened aluminium above about 150 C. Here the roof's temper is "
        "given up on purpose, the deck's never: no flame on the deck side.",
        "",
        "practice for structural aluminium, EN 1090-3 and AWS D1.2",
        "from memory",
    ),
    Cited(
        "Flashback arrestors on both hoses, bottles upright and tied, no oil near oxygen, no solvent-wet head near the "
        "flame; fire watch for 30 minutes after.",
        "",
        "oxy-fuel rules",
        _PRACTICE,
    ),
    Cited(
        "Never on valve seats, plug holes, thin bridges or oil drillings; keep the flame off the bolt bosses.",
        "",
        "trade practice of spot heating",
        _PRACTICE,
    ),
    Cited(
        "No water and no fan on the spots: let each row cool by itself.",
        "",
        "trade practice of spot heating",
        _PRACTICE,
    ),
)
_OVEN: Final = (
    Cited(
        "No kitchen oven: oil residue smokes and burns. Wash the head first, ventilate.",
        "",
        "forum reports of ovens full of smoke",
        "seen",
    ),
    Cited(
        "The dial is not the metal: a thermocouple bolted into the middle of the mass starts the soak clock.",
        "",
        "workshop rule",
        _PRACTICE,
    ),
    Cited(
        "The head grows more than steel bolts and plate: leave slots or disc springs, or the bolts yield.",
        "",
        "EN 1999-1-2 and EN 1993-1-2 elongations: 585 MPa in a rigid joint heated to 250 C",
        "derived",
    ),
    Cited(
        "Cool in the closed oven or in still air until hand-warm before unclamping: overnight is best.",
        "",
        "handbook-type page: slow cool",
        "seen",
    ),
)


def before_clamping() -> tuple[Cited[str], ...]:
    """Return what must be done before the head is clamped.

    Source: as marked at each line.
    Valid: usual cautions of the trade; they do not replace local codes or a licensed person.
    """
    return _BEFORE


def cautions(source: HeatSource) -> tuple[Cited[str], ...]:
    """Return the caution lines of a heat source for the work in the clamp, the gravest first.

    Args:
        source: "torch" or "oven".

    Source: as marked at each line.
    Valid: usual cautions of the trade; they do not replace local codes or a licensed person.
    """
    return (_TORCH if source == "torch" else _OVEN) + _LATER
