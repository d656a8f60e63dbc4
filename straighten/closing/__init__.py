"""Room `closing`: takes the surveys and the person's answers, gives the final list; does not know the book.

The list says what is looked at before the head goes back, the value to reach, and what is known of it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from statistics import fmean
from typing import Final, Literal

from straighten.head.records import Head
from straighten.readings import Readings
from straighten.sanding.consequences import WEDGE
from straighten.sanding.lap import FINISHES, MICROINCH
from straighten.shape import Shape
from straighten.sources import Cited
from straighten.units import show, turned

State = Literal["holds", "fails", "done", "skipped", "open"]

SEAT_RUNOUT: Final = Cited(0.03e-3, "m", "0.03 mm in a workshop text; a trade page allows 0.05 mm", "seen")
MOVED: Final = Cited(0.02e-3, "m", "no more than a blade can tell after a day", "assumed")

_PRACTICE: Final = "(common practice, no source)"
# Key, title, value to reach: what only the person at the bench can see.
BY_HAND: Final[tuple[tuple[str, str, str], ...]] = (
    ("cracks", "crack test, after any heat (dye, between the seats)", f"none {_PRACTICE}"),
    (
        "cam_free",
        "cam in its bare bearings, caps at torque",
        f"turns by finger all round; clearance by plastic strip to the maker's figure {_PRACTICE}",
    ),
    (
        "guides_seats",
        "guides and seats, after any heat",
        f"no seat loose when tapped, runout under {1e3 * SEAT_RUNOUT.value:.2f} mm ({SEAT_RUNOUT.told}), valves tight",
    ),
    (
        "pressure_test",
        "pressure test AFTER the heat, cold and hot",
        f"no loss, no bubbles; the trade does not agree on hot or cold: do both {_PRACTICE}",
    ),
    (
        "washed",
        "every drilling and gallery brushed, washed, blown out; new plugs",
        f"a white rag comes out white {_PRACTICE}",
    ),
    ("block", "deck of the block", f"the head's own limits hold for it too {_PRACTICE}"),
    (
        "valve_to_piston",
        "valve to piston with clay or an indicator",
        "2.0 mm (80 thou) inlet, 2.5 mm (100 thou) exhaust, or the maker's figure (trade page; seen)",
    ),
    ("timing", "cam timing set after the cut", f"maker's figure, marks or degree wheel {_PRACTICE}"),
    (
        "bolts",
        "new head bolts, staged torque in the maker's order",
        f"tightened again later only where the maker says so {_PRACTICE}",
    ),
    ("cause", "why it overheated: found and mended", f"else it comes back {_PRACTICE}"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """One line of the list: `key`; `title`; value to `reach` with its source; `state`; what was `found`."""

    key: str
    title: str
    reach: str
    state: State
    found: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LaterLook:
    """Two surveys a day apart: how far deck and cam line moved between them [m]."""

    deck: float
    cam: float
    hours: float


def checklist(
    head: Head,
    surveys: Sequence[Readings],
    shape: Shape,
    told: Mapping[str, bool | str],
    later: LaterLook | None,
) -> tuple[Item, ...]:
    """Return the final list of a head that was surveyed, with the shape of the last survey.

    `told` is what the person says of the lines only they can see: true, false, or a text ("skipped: ..."); `later` how far
    the head moved over a day, or None.
    """
    items = (
        *_limits(head, shape),
        *_heights(head, surveys[-1]),
        _hardness(head, surveys),
        _finish(head, told),
        *(_by_hand(key, title, reach, told) for key, title, reach in BY_HAND),
        _after_a_day(head, later, told),
    )
    return tuple(
        replace(item, reach=turned(item.reach, head.system), found=turned(item.found, head.system))
        for item in items
    )


def _limits(head: Head, shape: Shape) -> Iterator[Item]:
    for check in shape.limits:
        reach = f"{show(check.limit.value, head.system)} ({check.limit.told})"
        found = f"{show(check.value, head.system)}, {100 * check.chance:.0f} % sure to be inside"
        yield _measured((check.name.replace(" ", "_"), check.name, reach), found, holds=check.holds)


def _measured(line: tuple[str, str, str], found: str, *, holds: bool | None) -> Item:
    """Return a line that is measured, of its key, title and value to reach; `holds` None where it was not."""
    key, title, reach = line
    if holds is None:
        return Item(key=key, title=title, reach=reach, state="open", found="not measured")
    return Item(key=key, title=title, reach=reach, state="holds" if holds else "fails", found=found)


def _heights(head: Head, last: Readings) -> Iterator[Item]:
    least = head.limits.least_height
    heights = [h.value for h in last.heights]
    if least is not None:
        reach = f"{1e3 * least.value:.2f} mm or more ({least.told})"
        thinnest = min(heights, default=0.0)
        holds = thinnest >= least.value if heights else None
        line = ("least_height", "height of the thinnest corner", reach)
        yield _measured(line, f"{1e3 * thinnest:.2f} mm", holds=holds)
    corners = [h.value for h in last.heights if h.place != "anywhere"]
    wedge = max(corners, default=0.0) - min(corners, default=0.0)
    holds = wedge <= WEDGE.value if len(corners) > 1 else None
    reach = f"within {show(WEDGE.value, head.system)} ({WEDGE.told})"
    yield _measured(("wedge", "four corners alike", reach), show(wedge, head.system), holds=holds)


def _hardness(head: Head, surveys: Sequence[Readings]) -> Item:
    rules = head.thresholds
    reach = (
        f"every place {rules.hardness_reject.value:g} HB or more ({rules.hardness_reject.source}), not over "
        f"{rules.hardness_drop.value:g} HB lost since intake ({rules.hardness_drop.source})"
    )
    line = ("hardness", "hardness again", reach)
    now = [h.value for h in surveys[-1].hardness]
    first = [h.value for h in surveys[0].hardness]
    if not now:
        return _measured(line, "", holds=None)
    lost = fmean(first) - fmean(now) if first and len(surveys) > 1 else 0.0
    fine = min(now) >= rules.hardness_reject.value and lost <= rules.hardness_drop.value
    change = f", {lost:.0f} HB less than at intake" if first and len(surveys) > 1 else ""
    return _measured(line, f"lowest {min(now):.0f} HB, mean {fmean(now):.0f} HB{change}", holds=fine)


def _finish(head: Head, told: Mapping[str, bool | str]) -> Item:
    wanted = FINISHES[head.engine.gasket]
    reach = (
        f"Ra {1e6 * wanted.low:.2f} to {1e6 * wanted.high:.2f} um ({wanted.low / MICROINCH:.0f} to "
        f"{wanted.high / MICROINCH:.0f} uin) for a {wanted.gasket} gasket; {wanted.note}"
    )
    return _by_hand("surface_finish", "finish of the deck, comparison plate or meter", reach, told)


def _by_hand(key: str, title: str, reach: str, told: Mapping[str, bool | str]) -> Item:
    said = told.get(key)
    state: State = "open"
    found = ""
    if isinstance(said, str):
        skipped = said.strip().lower().startswith("skip")
        state, found = ("skipped" if skipped else "done"), said.strip()
    elif said is not None:
        state = "done" if said else "fails"
    return Item(key=key, title=title, reach=reach, state=state, found=found)


def _after_a_day(head: Head, later: LaterLook | None, told: Mapping[str, bool | str]) -> Item:
    title = "measured again 24 h after the last heat or sanding"
    reach = f"deck and cam line moved by no more than {show(MOVED.value, head.system)} ({MOVED.told})"
    if later is None:
        return _by_hand("after_24_hours", title, reach, told)
    holds = max(abs(later.deck), abs(later.cam)) <= MOVED.value
    deck, cam = (show(moved, head.system) for moved in (later.deck, later.cam))
    found = f"after {later.hours:.0f} h: deck {deck}, cam line {cam}"
    return _measured(("after_24_hours", title, reach), found, holds=holds)
