"""The pass card as plain text: on the screen what the hands do, in one unit; the whole of it with reasons and doubts.

Each sentence stands once. The kind of a line says where it is printed: a plain line on both cards.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from itertools import chain
from typing import Final

from straighten.errors import in_shell
from straighten.sheet import card_words as say
from straighten.sheet.card import Alternative, Card, ProjectedPass, Refusal, Round, RungLine, SoakLine
from straighten.sheet.layout import block, page, past_advice, percent, show_force, show_pause, wrap
from straighten.units import System, outward, show, show_duration, show_temperature, show_torque, turned

_HANG: Final = " " * 4
_BOX: Final = f"{_HANG}[ ] "
_OTHER: Final = re.compile(r"( (?:mm|thou|in|Nm|ft-lb|C|F|lb)) \([-\d. to]+ (?:mm|thou|in|Nm|ft-lb|C|F|kg)\)")
_SOURCE: Final = re.compile(r" \(common practice[^)]*\)")


class _More(str):
    """A line of the whole card alone."""

    __slots__ = ()


class _Brief(str):
    """A line of the screen's card alone."""

    __slots__ = ()


def printed_text(printed: Card | Refusal, *, whole: bool = False) -> str:
    """Return the card as it is read on a screen, or the `whole` of it; or the refusal to plan one."""
    if isinstance(printed, Refusal):
        return refusal_text(printed)
    return card_text(printed) if whole else short_text(printed)


def card_text(card: Card) -> str:
    """Return the whole card, in the order of the work, each quantity in both units."""
    steps = ([line for line in step if not isinstance(line, _Brief)] for step in _steps(card))
    return page(
        *("\n".join(_folded(lines, card.system)) for lines in steps if lines),
        block("IF ... THEN", card.if_then), block("LEARNED", [card.learned]),
        block("IF YOU GO ON LIKE THIS", [card.whole_job, *(_projected(card, stage) for stage in card.projected)]),
        block("ALSO WEIGHED", [_alternative(a) for a in card.alternatives]),
        block("WHAT WOULD CHANGE THE ANSWER", card.would_change),
        block("WHAT THE HEAT COSTS", card.costs), block("BEFORE THE FIRST HEAT", card.measure_next),
        block("KEEP IN MIND", card.notes), block("ASSUMED", card.assumed),
    )  # fmt: skip


def short_text(card: Card) -> str:
    """Return the card of the screen, each quantity in the person's own unit alone; reasons and cautions are for the whole card.

    80 columns take at most 40 lines. What is to be done, the boxes before the clamp among it, is never left out.
    """
    lines = [line for step in _steps(card) for line in step if not isinstance(line, _More)]
    whole = f"straighten plan {in_shell(card.name)} --all"
    dangers = f"CAUTION: {len(card.cautions)} dangers to read before you begin: {whole}"
    return "\n".join(_folded([*lines[:2], dangers, *lines[2:]], card.system, one_unit=True)) + "\n"


def _folded(lines: Iterable[str], system: System, *, one_unit: bool = False) -> list[str]:
    told = [turned(line, system) for line in lines]  # some were written in the units of the head file
    if one_unit:
        told = [own_unit(_SOURCE.sub("", line)) for line in told]
    return [part for line in told if line for part in wrap(line, "", _rest(line)).split("\n")]


def _rest(line: str) -> str:
    """Return the indent of a line's folds: a step's own text is at least as far in as its lines."""
    return _HANG if line[0] != " " else f"{' ' * (len(line) - len(line.lstrip()))}  "


def own_unit(text: str) -> str:
    """Return a text without the second unit in brackets behind each quantity.

    Example:
        >>> own_unit("0.20 mm (8 thou) goes, 16 to 17 mm (0.63 to 0.67 in) off (at the plug)")
        '0.20 mm goes, 16 to 17 mm off (at the plug)'
    """
    return _OTHER.sub(r"\1", text)


def refusal_text(refusal: Refusal) -> str:
    """Return the refusal as text: the reason first, what to do next last."""
    command = str(refusal.judgement.get("command", ""))
    others = tuple(found for found in refusal.findings if found != refusal.reason)
    return page(
        f"HEAD {refusal.name}: NO PASS. Verdict: {refusal.verdict.upper()}",
        wrap(refusal.reason),
        wrap(f"Decided by {refusal.decided_by}"),
        block("ALSO", others),
        past_advice(refusal.go_on),
        wrap(f"Next: {command}") if command else "",
    )


# --- the steps, each a list of lines -----------------------------------------------------------------------------


def _steps(card: Card) -> list[list[str]]:
    heat = _heat(card) if card.soak is None else _soak(card, card.soak)
    return [_top(card), _before(card), _shims(card), _tighten(card), heat, _ladder(card), *_after(card)]


def _top(card: Card) -> list[str]:
    """Return what is to be done, why, and the result to expect."""
    go, ahead = f"{say.go_words(card)}: {card.direction}", card.whole_job.partition(";")[0]
    cam = _whole(card, "cam line")
    return [
        f"PASS {card.pass_number}   HEAD {card.name}   {card.made_at[:16].replace('T', ' ')}",
        _More(go),
        _Brief(f"{go}. {ahead}." if ahead else go),
        _More(card.reason),
        _More(f"Decided by {card.decided_by}"),
        *(f"ADVISED AGAINST: {line}" for line in card.advice),
        *_briefly(card),
        _More(
            f"Now: deck bow {say.likely_words(card, card.bow_now)}, {cam} {say.likely_words(card, card.cam_now)}."
        ),
    ]


def _briefly(card: Card) -> Iterator[str]:
    """Yield of each line its bow now, and after release against its limit."""
    now, system = (card.bow_now, card.cam_now), card.system
    for was, (name, after, limit, chance) in zip(now, say.expected_rows(card), strict=True):
        then = f"{outward(after.low, after.high, system)}; overall limit {show(limit, system).split()[0]}"
        bow = f"{_whole(card, name)} {show(was.middle, system)}"
        yield _Brief(f"{bow}, then likely {then}: inside {percent(chance)}")


def _whole(card: Card, line: str) -> str:
    """Return the name of a line; of one reckoned on beyond the places that can be read, that it is."""
    return f"{line} bow, ends reckoned on," if line == "cam line" and card.reckoned_on else f"{line} bow"


def _before(card: Card) -> list[str]:
    """Return step 0, on the screen its first box beside its title; what is answered already stands on the whole card alone.

    Nothing on a card of an earlier version.
    """
    title = "0 BEFORE YOU CLAMP"
    told = [f"{_BOX}{line}" for line in card.before]
    due = [line for line in told if not line.startswith(f"{_BOX}Told in the surveys")]
    answered = [line for line in told if line not in due]
    beside = [_Brief(f"{title} {line.strip()}") for line in due[:1]]
    whole = (title, *answered, *due[:1]) if told else ()
    return [*map(_More, whole), *beside, *due[1:]]


def _shims(card: Card) -> list[str]:
    if not card.shimmed:
        return [f"1 SHIMS {say.bare_words(card)}"]
    front, rear = (show(x, card.system, big=True) for x in card.shim_stations)
    where = "in the middle" if card.reverse else f"at {front} and {rear}"
    by_blades: dict[str, list[str]] = {}
    for stack in card.stacks:
        by_blades.setdefault(say.blades_words(stack, card.system), []).append(stack.corner)
    told = (f"{say.corner_words(at)} {blades}" for blades, at in by_blades.items())
    other = f"{_HANG}Next best: {card.second_stacking}." if card.second_stacking else ""
    on = f"on your {card.base}, " if card.base else ""
    return [
        f"1 SHIMS {on}{where}: {'; '.join(told)}",
        _More(f"{_HANG}Stations count from the front end."),
        *([_More(other)] if other else []),
    ]


def _tighten(card: Card) -> list[str]:
    kinds = sorted({f"{b.thread} {b.grade}" for b in card.bolts})
    stop = f"{show(card.gap, card.system)} is left" if card.gap > 0 else "the gap is closed"
    force = show_force(card.clamp_force.low, card.clamp_force.high, system=card.system)
    limits = "; ".join(card.clamp_limits)
    return [
        f"2 TIGHTEN {', '.join(kinds)}{say.round_words(card) or ', in turn'}: {say.place_words(card.bolts, card.system)}",
        *_warned(card, 2),
        *(_More(f"{_HANG}{say.bolt_words(bolt, card.system)}") for bolt in card.bolts if len(kinds) > 1),
        f"{_HANG}blade {say.blade_words(card)}",
        *(f"{_HANG}{_round(n, turn, card)}" for n, turn in enumerate(card.rounds, start=1)),
        _Brief(f"{_HANG}Stop when {stop}; never over {show_torque(card.most_torque, card.system)}."),
        _More(f"{_HANG}{card.stop_rule}"),
        _More(f"{_HANG}{say.held_words(card)}; clamp force {force} in all."),
        *([_More(f"{_HANG}{card.base_words}")] if card.base_words else []),
        _More(f"{_HANG}How near the clamp comes to what each part may bear: {limits}."),
    ]  # fmt: skip


def _round(number: int, turn: Round, card: Card) -> str:
    system = card.system
    goes = "none has to go" if turn.goes is None else f"{show(turn.goes, system)} goes"
    stops = "" if turn.stops is None else f", {show(turn.stops, system)} does not"
    times = say.times_words(turn, card)
    return f"round {number}: {show_torque(turn.torque, system)}{times and f', {times}'}: {goes}{stops}"


def _heat(card: Card) -> list[str]:
    if not card.spots:
        return ["3 HEAT: none in this pass.", *_warned(card, 3)]
    system = card.system
    low, high = (show_temperature(t, system) for t in (card.spots[0].peak, card.ceiling))
    off = "; ".join(say.keep_off_words(card))
    lines = [
        f"Low crayon {low} melts at {say.dwell_words(card)}: flame off. High crayon: NEVER ABOVE {high}.",
        _More(say.late_words(card).capitalize() + "."),
        card.flame,
        f"keep off: {off}" if off else "",
        "" if card.lowered is None else card.lowered.reason,
        *(_More(say.spot_words(spot, system)) for spot in card.spots),
    ]
    told = [type(line)(f"{_HANG}{line}") for line in lines if line]
    where = "; ".join([say.place_words(card.spots, system), *_apart(card)])
    return [f"3 HEAT on the cam side: {where}", *told, *_warned(card, 3)]


def _apart(card: Card) -> list[str]:
    """Return how far the rows lie from the middle line and how long to wait from spot to spot, where the card tells it."""
    lines = []
    if card.spot_rows is not None:
        away = show(card.spot_rows, card.system, big=True)
        lines.append(f"rows: {away} from the middle line" if card.spot_rows else "row: on the middle line")
    if card.spot_pause is not None:
        lines.append(f"from spot to spot: flame off for {show_pause(card.spot_pause)}")
    return lines


def _soak(card: Card, soak: SoakLine) -> list[str]:
    metal, most = (show_temperature(t, card.system) for t in (soak.temperature, card.ceiling))
    return [
        f"3 HEAT in the oven, clamped: METAL at {metal} for {show_duration(soak.hold)}, NEVER ABOVE {most}",
        _More(f"{_HANG}{say.METAL_THERE} {say.hardness_words(soak.hardness)}"),
        *_warned(card, 3),
    ]


def _warned(card: Card, at: int) -> list[str]:
    return [_More(f"{_HANG}! {line}") for line in say.cautions_at(card, at)]


def _ladder(card: Card) -> list[str]:
    """Return the stages: on the screen one line each, of its blades, thickest first, the first that goes tells."""
    if not card.ladder:
        return []
    system, unit = card.system, "mm" if card.system == "mm" else "thou"
    wait = f"after {show_pause(card.stage_wait)}" if card.stage_wait else "when cold"
    reserve = f" In reserve {say.place_words(card.reserve, system)}." if card.reserve else ""
    return [
        _Brief(f"{_HANG}STAGES: nuts slack {wait}; thickest [{unit}] first.{reserve}"),
        *(_Brief(f"{_HANG}{_brief_rung(rung, system)}") for rung in card.ladder),
        _More(f"3b IN STAGES: flame off, slacken the middle nuts {wait}, blade under the middle; tighten again as in 2"),
        *([_More(f"{_HANG}In reserve, only where a stage calls for it: {say.reserve_words(card)}.")] if reserve else []),
        *chain.from_iterable(_whole_rung(rung, system) for rung in card.ladder),
    ]  # fmt: skip


def _brief_rung(rung: RungLine, system: System) -> str:
    blades = ("none" if x.goes is None else show(x.goes, system).split()[0] for x in rung.lines)
    does = ", ".join(
        f"{blade} {say.do_word(x.do, 'to')}" for blade, x in zip(blades, rung.lines, strict=True)
    )
    return f"{rung.number}. heat {', '.join(map(str, rung.places)) or 'none'}: {does}"


def _whole_rung(rung: RungLine, system: System) -> list[str]:
    ifs = (f"  {line}" for line in say.if_words(rung, system))
    return [_More(f"{_HANG}{line}") for line in (say.rung_words(rung, system), *ifs)]


def _after(card: Card) -> list[list[str]]:
    """Return the waits, the release and what to expect; the clock times hold if the last heat is at the card's own time."""
    order = " ".join(str(b.order) for b in reversed(card.bolts))
    began, unclamp, ready = (stamp[11:16] for stamp in (card.made_at, card.unclamp_at, card.ready_at))
    at = f"unclamp and read at {ready}" if unclamp == ready else f"unclamp at {unclamp}, read at {ready}"
    overshoot = f"past straight by more than the limit: {percent(card.chance_overshoot)}"
    cool = [
        f"4 COOL clamped, still air: {''.join(say.cool_words(card))}.",
        _More(f"{_HANG}If that is at {began}: {at}."),
        *([_More(f"{_HANG}Read no sooner: {card.wait_reason}.")] if card.wait_reason else []),
        *_warned(card, 4),
    ]  # fmt: skip
    expected = (
        f"{name} bow: {say.likely_words(card, after)}; overall limit {show(limit, card.system)}; inside: {percent(chance)}"
        for name, after, limit, chance in say.expected_rows(card)
    )
    more = (
        "expect after release (likely = 8 times in 10):",
        *expected,
        f"both inside: {percent(card.chance_inside)}; {overshoot}",
        f"limits: deck {card.deck_limit_source}; cam line {card.cam_limit_source}",
    )
    return [
        cool,
        [f"5 RELEASE cold, by quarter turns: {order}"],
        [
            f"6 MEASURE, edge as warm as the head; then straighten log {in_shell(card.name)} survey.toml",
            *(_More(f"{_HANG}{line}") for line in more),
        ],
    ]


def _alternative(other: Alternative) -> str:
    trades = f"; {other.trades}" if other.trades else ""
    return f"{other.words}: inside {percent(other.inside)}, overshoot {percent(other.overshoot)}{trades}"


def _projected(card: Card, stage: ProjectedPass) -> str:
    after = "after this pass" if stage.passes == 1 else f"after {stage.passes} passes"
    inside = f"both inside: {percent(stage.inside)}"
    ends = inside if stage.done is None else f"no more heat needed: {percent(stage.done)}"
    return f"{after}: deck {say.likely_words(card, stage.deck_after)}, cam line {say.likely_words(card, stage.cam_after)}, {ends}"
