"""The card on the screen: what the hands do, step by step, in the person's own unit; the rest stands in `card_text`."""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import groupby
from typing import Final

from straighten.sheet.card import BoltLine, Card, Refusal, Round, SpotLine, StackLine
from straighten.sheet.card_text import (
    BARE,
    card_text,
    dwell_words,
    expected_rows,
    go_words,
    keep_off_words,
    refusal_text,
)
from straighten.sheet.layout import percent, show_pause, wrap
from straighten.units import outward, show, show_duration, show_temperature, show_torque

_HANG: Final = " " * 4
_OTHER: Final = re.compile(r"( (?:mm|thou|in|Nm|ft-lb|C|F)) \([-\d. to]+ (?:mm|thou|in|Nm|ft-lb|C|F)\)")

_SOURCE: Final = re.compile(r" \(common practice[^)]*\)")


def printed_text(printed: Card | Refusal, *, whole: bool = False) -> str:
    """Return the card as it is read on a screen, or the `whole` of it; or the refusal to plan one."""
    if isinstance(printed, Refusal):
        return refusal_text(printed)
    return card_text(printed) if whole else short_text(printed)


def short_text(card: Card) -> str:
    """Return the card in about 40 lines, in the order of the work, each quantity in the person's own unit alone."""
    heat = _soak(card) if card.soak is not None else [*_heat(card), *_ladder(card)]
    lines = [
        f"PASS {card.pass_number}   HEAD {card.name}   {card.made_at[:16].replace('T', ' ')}",
        f"{go_words(card)}: {card.direction}",
        *(f"ADVISED AGAINST: {line}" for line in card.advice),
        *_result(card),
        f"CAUTION: {len(card.cautions)} dangers to read before you begin: straighten plan {card.name} --all",
        *_before(card),
        _shims(card),
        *_tighten(card),
        *heat,
        *_cool(card),
    ]
    return "\n".join(wrap(own_unit(line), "", _HANG) for line in lines if line) + "\n"


def own_unit(text: str) -> str:
    """Return a text without the second unit in brackets behind each quantity.

    Example:
        >>> own_unit("0.20 mm (8 thou) goes, 16 to 17 mm (0.63 to 0.67 in) off (at the plug)")
        '0.20 mm goes, 16 to 17 mm off (at the plug)'
    """
    return _OTHER.sub(r"\1", text)


def _result(card: Card) -> list[str]:
    nows = (card.bow_now, card.cam_now)
    unit = "mm" if card.system == "mm" else "thou"
    return [
        f"{name} now {show(now.middle, card.system)}, then likely {outward(after.low, after.high, card.system)} {unit} "
        f"(limit {show(limit, card.system)}): inside {percent(chance)}"
        for (name, after, limit, chance), now in zip(expected_rows(card), nows, strict=True)
    ]


def _before(card: Card) -> list[str]:
    """Return step 0 without what is answered already."""
    open_ = [line for line in card.before if not line.startswith("Told in the surveys")]
    return [
        f"{'0 BEFORE YOU CLAMP ' if n == 0 else ''}[ ] {_SOURCE.sub('', line)}"
        for n, line in enumerate(open_)
    ]


def _shims(card: Card) -> str:
    if not card.shimmed:
        return f"1 SHIMS {BARE}"
    front, rear = (show(x, card.system, big=True) for x in card.shim_stations)
    where = "in the middle" if card.reverse else f"at {front} and {rear}"
    by_blades: dict[str, list[str]] = {}
    for stack in card.stacks:
        by_blades.setdefault(_blades(stack, card), []).append(stack.corner)
    told = (f"{_corners(at)} {blades}" for blades, at in by_blades.items())
    return f"1 SHIMS {where}: {'; '.join(told)}"


def _corners(at: list[str]) -> str:
    """Return corners in as few words as name them: all four, a side, an end, or each."""
    if len(at) == 4:
        return "all four corners"
    ends, sides = ({corner.split()[k] for corner in at} for k in (0, 1))
    whole = len(at) == 2 and (len(ends) == 1 or len(sides) == 1)
    return (sides if len(sides) == 1 else ends).pop() if whole else ", ".join(at)


def _blades(stack: StackLine, card: Card) -> str:
    blades = " + ".join(show(blade, card.system) for blade in stack.blades) or BARE
    return f"{blades} ({stack.warning})" if stack.warning else blades


def _tighten(card: Card) -> list[str]:
    kinds = ", ".join(sorted({f"{b.thread} {b.grade}" for b in card.bolts}))
    stop = f"{show(card.gap, card.system)} is left" if card.gap > 0 else "the gap is closed"
    where = (
        "at the four corners" if card.reverse else "in mid-length, at the exhaust edge, then the inlet edge"
    )
    return [
        f"2 TIGHTEN {kinds}, in turn {_places(card.bolts, card)}",
        f"{_HANG}blades {where}",
        *(f"{_HANG}{_round(n, turn, card)}" for n, turn in enumerate(card.rounds, start=1)),
        f"{_HANG}Stop when {stop}, whatever the torque; never over {show_torque(card.most_torque, card.system)}.",
    ]


def _round(number: int, turn: Round, card: Card) -> str:
    goes = "none has to go" if turn.goes is None else f"{show(turn.goes, card.system)} goes"
    stops = "" if turn.stops is None else f", {show(turn.stops, card.system)} does not"
    times = "" if turn.times_round == 1 else f", {turn.times_round} times round"
    return f"round {number}: {show_torque(turn.torque, card.system)}{times}: {goes}{stops}"


def _places(placed: Sequence[SpotLine | BoltLine], card: Card) -> str:
    """Return places with their numbers in order; where each station has first the exhaust side, then the inlet, that is said once."""
    groups = [(x, list(group)) for x, group in groupby(placed, key=lambda one: one.station)]
    alike = len(groups) > 1 and all(
        [one.side for one in group] == ["exhaust", "inlet"] for _, group in groups
    )
    told = []
    for station, group in groups:
        names = (
            "+".join(str(one.order) for one in group)
            if alike
            else ", ".join(f"{one.order} {one.side}" for one in group)
        )
        told.append(f"{names} at {show(station, card.system, big=True)}")
    return ("exhaust, then inlet: " if alike else "") + ", ".join(told)


def _heat(card: Card) -> list[str]:
    if not card.spots:
        return ["3 HEAT: none in this pass."]
    low, high = (show_temperature(t, card.system) for t in (card.spots[0].peak, card.ceiling))
    rows = (
        "" if not card.spot_rows else f"; {show(card.spot_rows, card.system, big=True)} off the middle line"
    )
    pause = "" if card.spot_pause is None else f"; {show_pause(card.spot_pause)} between them"
    off = "; ".join(keep_off_words(card))
    return [
        f"3 HEAT on the cam side: {_places(card.spots, card)}{rows}{pause}",
        f"{_HANG}Low crayon {low} melts at {dwell_words(card)}: flame off. High crayon: NEVER ABOVE {high}.",
        f"{_HANG}{card.flame.partition(' instead')[0].rstrip('.')}." if card.flame else "",
        f"{_HANG}Keep off {off}." if off else "",
        "" if card.lowered is None else f"{_HANG}{card.lowered.reason}",
    ]


def _soak(card: Card) -> list[str]:
    assert card.soak is not None  # noqa: S101 - the caller has looked
    metal, most = (show_temperature(t, card.system) for t in (card.soak.temperature, card.ceiling))
    return [f"3 SOAK clamped: METAL at {metal} for {show_duration(card.soak.hold)}, NEVER ABOVE {most}"]


def _ladder(card: Card) -> list[str]:
    """Return the stages, one line each: of the blades, thickest first, the first that goes tells."""
    if not card.ladder:
        return []
    unit = "mm" if card.system == "mm" else "thou"
    wait = f"after {show_pause(card.stage_wait)}" if card.stage_wait else "when cold"
    reserve = f" In reserve {_places(card.reserve, card)}." if card.reserve else ""
    lines = [f"{_HANG}STAGES: nuts slack {wait}; thickest [{unit}] first; AGAIN: reread, stop.{reserve}"]
    for rung in card.ladder:
        does = ", ".join(f"{_bare(line.goes, card)} {_do(line.do)}" for line in rung.lines)
        lines.append(f"{_HANG}{rung.number}. heat {', '.join(map(str, rung.places)) or 'none'}: {does}")
    return lines


def _bare(goes: float | None, card: Card) -> str:
    return "none" if goes is None else show(goes, card.system).split()[0]


def _do(do: int) -> str:
    return {0: "STOP", -1: "AGAIN"}.get(do, f"to {do}")


def _cool(card: Card) -> list[str]:
    ended = "the oven is off" if card.soak else "the last heat"
    order = " ".join(str(b.order) for b in reversed(card.bolts))
    waits = show_duration(card.unclamp_wait), show_duration(card.wait)
    return [
        f"4 COOL clamped, still air: {waits[0]} after {ended}; read {waits[1]} after it.",
        f"5 RELEASE by quarter turns: {order}",
        f"6 MEASURE, edge as warm as the head; then straighten log {card.name} survey.toml",
    ]
