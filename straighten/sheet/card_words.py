"""Words of the pass card that its text, its page, the guided session and other answers say alike."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby
from typing import Final

from straighten.sheet.card import BoltLine, Card, Round, RungIf, RungLine, SpotLine, StackLine
from straighten.sheet.plain import Range
from straighten.units import System, show, show_duration, show_likely, show_temperature

BARE: Final = "none: the head lies on the base"  # a corner without shims
WHATEVER: Final = "Whatever is read"  # of a rung with one line
METAL_THERE: Final = "Count from when the METAL is there, not the oven."


def go_words(card: Card) -> str:
    """Return whether the pass goes by advice or against it."""
    return "AGAINST ADVICE" if card.because else "GO"


def cautions_at(card: Card, at: int) -> tuple[str, ...]:
    """Return the cautions that count in a step; on a card of an earlier version, which tells no steps, all at the heat."""
    steps = card.caution_steps or (3,) * len(card.cautions)
    return tuple(line for line, step in zip(card.cautions, steps, strict=True) if step == at)


def dwell_words(card: Card) -> str:
    """Return the seconds of the spots, as one figure where they are alike."""
    least, most = min(s.dwell for s in card.spots), max(s.dwell for s in card.spots)
    return f"{least:.0f} s" if most - least < 0.5 else f"{least:.0f} to {most:.0f} s"


def late_words(card: Card) -> str:
    """Return what the high crayon of the pair says, and how soon after the low one it would."""
    seconds = (card.heat_cost or {}).get("seconds_to_ceiling_s")
    late = "" if seconds is None else f"; {seconds:.1f} s more would melt it"
    return f"high crayon stays{late}"


def hardness_words(hardness: Range) -> str:
    """Return the hardness to expect after a soak."""
    return f"Hardness after: {hardness.low:.0f} to {hardness.high:.0f} HB."


def blade_words(card: Card, length: float | None = None) -> str:
    """Return where the blades stand that are tried under the head."""
    if card.reverse:
        return "under each corner of the head"
    at = "in mid-length" if length is None else f"at {show(length / 2, card.system, big=True)}"
    return f"{at}, under exhaust edge, then inlet edge"


def round_words(card: Card) -> str:
    """Return how often round, where that is the same in every round."""
    times = {turn.times_round for turn in card.rounds}
    return f", each torque {times.pop()} times round" if len(times) == 1 and times != {1} else ""


def times_words(turn: Round, card: Card) -> str:
    """Return how often round in one round, where it is not the same in every one."""
    return "" if turn.times_round == 1 or round_words(card) else f"{turn.times_round} times round"


def bare_words(card: Card) -> str:
    """Return that nothing is laid under the head, and on which base it lies where several are owned."""
    return BARE.replace("the base", f"your {card.base}") if card.base else BARE


def cool_words(card: Card) -> tuple[str, ...]:
    """Return when to unclamp and when to read, both counted from the end of the heat: its figures apart, for bold print."""
    ended = "the last heat" if card.soak is None else "the oven is off"
    free, honest = show_duration(card.unclamp_wait), show_duration(card.wait)
    if free == honest:
        return "unclamp and read ", honest, f" after {ended}"
    return "unclamp ", free, ", read ", honest, f" after {ended}"


def stack_words(stack: StackLine, system: System) -> str:
    """Return the shims of one corner."""
    return f"{stack.corner:<14} {blades_words(stack, system)}"


def blades_words(stack: StackLine, system: System) -> str:
    """Return the blades of one corner, with the warning where there is one."""
    blades = " + ".join(show(blade, system) for blade in stack.blades) or BARE
    return f"{blades} ({stack.warning})" if stack.warning else blades


def corner_words(at: list[str]) -> str:
    """Return corners in as few words as name them: all four, a side, an end, or each."""
    if len(at) == 4:
        return "all four corners"
    ends, sides = ({corner.split()[k] for corner in at} for k in (0, 1))
    whole = len(at) == 2 and (len(ends) == 1 or len(sides) == 1)
    return (sides if len(sides) == 1 else ends).pop() if whole else ", ".join(at)


def place_words(placed: Sequence[SpotLine | BoltLine], system: System) -> str:
    """Return places with their numbers in order; where each station has first the exhaust side, then the inlet, that is said once."""
    groups = [(x, list(group)) for x, group in groupby(placed, key=lambda one: one.station)]
    alike = len(groups) > 1 and all(
        [one.side for one in group] == ["exhaust", "inlet"] for _, group in groups
    )
    told = []
    for station, group in groups:
        names = [str(one.order) if alike else f"{one.order} {one.side}" for one in group]
        told.append(f"{('+' if alike else ', ').join(names)} at {show(station, system, big=True)}")
    return ("exhaust, then inlet: " if alike else "") + ", ".join(told)


def bolt_words(bolt: BoltLine, system: System) -> str:
    """Return one bolt with its place in the order of turning."""
    at = show(bolt.station, system, big=True)
    return f"({bolt.order}) {bolt.side:<8} at {at}   {bolt.thread} {bolt.grade}"


def expected_rows(card: Card) -> tuple[tuple[str, Range, float, float], ...]:
    """Return of each line its name, its bow after release with the limit [m], and the chance to be inside."""
    return (
        ("deck", card.deck_after, card.deck_limit, card.chance_deck),
        ("cam line", card.cam_after, card.cam_limit, card.chance_cam),
    )


def likely_words(card: Card, found: Range) -> str:
    """Return a range of lengths [m] as it is said at the bench."""
    return show_likely(*found, card.system)


def held_words(card: Card) -> str:
    """Return how far past straight, or short of it, the middle is held."""
    over = card.over_bend
    if over.middle >= 0:
        return f"Held past straight: {likely_words(card, over)}"
    return f"Held short of straight: {show_likely(-over.high, -over.middle, -over.low, card.system)}"


def spot_words(spot: SpotLine, system: System) -> str:
    """Return one place with its number, its seconds and its peak."""
    at, peak = show(spot.station, system, big=True), show_temperature(spot.peak, system)
    return f"({spot.order}) {spot.side:<8} at {at}   {spot.dwell:.0f} s to {peak}"


def reserve_words(card: Card) -> str:
    """Return the places in reserve with their numbers."""
    return ", ".join(
        f"({spot.order}) {spot.side} at {show(spot.station, card.system, big=True)} for {spot.dwell:.0f} s"
        for spot in card.reserve
    )


def do_word(do: int, stage: str = "stage") -> str:
    """Return what to do in one word, or `stage` with the number of the next one."""
    return {0: "STOP", -1: "REREAD"}.get(do, f"{stage} {do}")


def do_words(do: int, after: int) -> str:
    """Return what to do in a few words: the next stage, one further on, stop, or read again."""
    if do > 0:
        return f"stage {do}" if do == after + 1 else f"skip to stage {do}"
    return "STOP, release cold and measure" if do == 0 else "READ AGAIN, stop if it is as odd"


def rung_words(rung: RungLine, system: System) -> str:
    """Return what a stage heats and the gap that should be read after it."""
    places = ", ".join(map(str, rung.places)) or "nothing"
    about = f"about {show(rung.gap.middle, system)}"
    goes = "" if rung.goes is None else f", {show(rung.goes, system)} should go"
    stops = "" if rung.stops is None else f", {show(rung.stops, system)} should not"
    return f"stage {rung.number}: heat {places}; gap then {about}{goes}{stops}"


def if_words(rung: RungLine, system: System) -> list[str]:
    """Return the IF lines of a stage from the widest gap down; the first that holds counts."""
    return [_if(line, rung, system) for line in rung.lines]


def _if(line: RungIf, rung: RungLine, system: System) -> str:
    then = do_words(line.do, rung.number)
    if line.goes is None:
        return f"{'IF not' if len(rung.lines) > 1 else WHATEVER}: {then}"
    return f"IF {show(line.goes, system)} goes: {then}"


def keep_off_words(card: Card) -> list[str]:
    """Return the places never to heat, each with its distance, once where it is the same on both sides."""
    zones: dict[tuple[float, float, str], list[str]] = {}
    for zone in card.keep_off:
        zones.setdefault((zone.station, zone.radius, zone.reason), []).append(zone.side)
    return [_zone(place, sides, card) for place, sides in zones.items()]


def _zone(place: tuple[float, float, str], sides: list[str], card: Card) -> str:
    at, reach = (show(value, card.system, big=True) for value in place[:2])
    reason = f" ({place[2]})" if place[2] else ""
    side = sides[0] if len(sides) == 1 and sides[0] != "both" else "both rows"
    return f"{reach} around {at}, {side}{reason}"
