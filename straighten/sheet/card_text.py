"""The whole pass card as plain text: what is read at the bench from a terminal or a print, with reasons and doubts."""

from __future__ import annotations

from straighten.sheet.card import (
    Alternative,
    BoltLine,
    Card,
    ProjectedPass,
    Refusal,
    RungIf,
    RungLine,
    SpotLine,
    StackLine,
)
from straighten.sheet.layout import block, page, past_advice, percent, show_force, show_pause, width, wrap
from straighten.sheet.plain import Range
from straighten.units import (
    System,
    show,
    show_duration,
    show_likely,
    show_temperature,
    show_torque,
)

BARE = "none: the head lies on the base"  # a corner without shims
WHATEVER = "Whatever is read"  # of a rung with one line


def card_text(card: Card) -> str:
    """Return the card as text, in the order of the work."""
    blocks = [
        _title(card), _verdict(card), block("ADVISED AGAINST", card.advice), _before(card), _shims(card), _tighten(card), _heat(card), _ladder(card), _cool(card), _expect(card),
        block("IF ... THEN", card.if_then), block("LEARNED", [card.learned]),
        block("IF YOU GO ON LIKE THIS", [_projected(card, p) for p in card.projected]),
        block("ALSO WEIGHED", [_alternative(a) for a in card.alternatives]),
        block("WHAT WOULD CHANGE THE ANSWER", card.would_change),
        block("WHAT THE HEAT COSTS", card.costs), block("BEFORE THE FIRST HEAT", card.measure_next),
        block("KEEP IN MIND", card.notes), block("ASSUMED", card.assumed),     ]  # fmt: skip
    return page(blocks)


def refusal_text(refusal: Refusal) -> str:
    """Return the refusal as text: the reason first."""
    others = tuple(found for found in refusal.findings if found != refusal.reason)
    blocks = [
        f"HEAD {refusal.name}: NO PASS. Verdict: {refusal.verdict.upper()}",
        wrap(refusal.reason),
        wrap(f"Decided by {refusal.decided_by}"),
        block("ALSO", others),
        past_advice(refusal.go_on),
    ]
    return page(blocks)


def _before(card: Card) -> str:
    """Return step 0, or nothing on a card of an earlier version."""
    return block("0 BEFORE YOU CLAMP", [f"[ ] {line}" for line in card.before])


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


def blade_words(card: Card, length: float | None = None) -> str:
    """Return where the blades stand that are tried under the head."""
    if card.reverse:
        return "under each corner of the head"
    at = "in the middle of its length" if length is None else f"at {show(length / 2, card.system, big=True)}"
    return f"{at}, under the exhaust edge, then the inlet edge"


def _span(card: Card, found: Range) -> str:
    return show_likely(*found, card.system)


def _title(card: Card) -> str:
    return f"PASS {card.pass_number}   HEAD {card.name}   {card.made_at.replace('T', ' ')}\n" + "=" * width()


def _verdict(card: Card) -> str:
    now = f"Now: deck {_span(card, card.bow_now)}, cam line {_span(card, card.cam_now)}."
    return "\n".join([
        wrap(f"{go_words(card)}: {card.reason}"),
        wrap(f"Decided by {card.decided_by}"),
        wrap(now),
        "",
        wrap(f">>> {card.direction}", "", "    "),
    ])  # fmt: skip


def _shims(card: Card) -> str:
    front, rear = (show(x, card.system, big=True) for x in card.shim_stations)
    place = f"front at {front}, rear at {rear} from the front end"
    lines = [wrap(f"1 SHIMS   {'middle' if card.reverse else place}", "", "          ")]
    lines += [wrap(stack_words(stack, card.system), "   ", "                  ") for stack in card.stacks]
    if card.second_stacking:
        lines.append(wrap(f"next best: {card.second_stacking}", "   ", "      "))
    return "\n".join(lines)


def stack_words(stack: StackLine, system: System) -> str:
    """Return the shims of one corner."""
    blades = " + ".join(show(blade, system) for blade in stack.blades) or BARE
    return f"{stack.corner:<14} {blades}" + (f" ({stack.warning})" if stack.warning else "")


def bolt_words(bolt: BoltLine, system: System) -> str:
    """Return one bolt with its place in the order of turning."""
    at = show(bolt.station, system, big=True)
    return f"({bolt.order}) {bolt.side:<8} at {at}   {bolt.thread} {bolt.grade}"


def go_words(card: Card) -> str:
    """Return whether the pass goes by advice or against it."""
    return "AGAINST ADVICE" if card.because else "GO"


def expected_rows(card: Card) -> tuple[tuple[str, Range, float, float], ...]:
    """Return of each line its name, its bow after release with the limit [m], and the chance to be inside."""
    return (
        ("deck", card.deck_after, card.deck_limit, card.chance_deck),
        ("cam line", card.cam_after, card.cam_limit, card.chance_cam),
    )


def held_words(card: Card) -> str:
    """Return how far past straight, or short of it, the middle is held."""
    over = card.over_bend
    if over.middle >= 0:
        return f"Held past straight: {show_likely(*over, card.system)}"
    return f"Held short of straight: {show_likely(-over.high, -over.middle, -over.low, card.system)}"


def _tighten(card: Card) -> str:
    lines = ["2 TIGHTEN   stop at the gap, not at the torque", *_warned(card, 2)]
    lines.append(wrap(f"stand the blade {blade_words(card)}", "   "))
    lines += [f"   {bolt_words(bolt, card.system)}" for bolt in card.bolts]
    for number, turn in enumerate(card.rounds, start=1):
        goes = "no blade has to go" if turn.goes is None else f"{show(turn.goes, card.system)} GOES"
        stops = "" if turn.stops is None else f", {show(turn.stops, card.system)} does NOT"
        times = "" if turn.times_round == 1 else f", {turn.times_round} times round"
        text = f"round {number}: {show_torque(turn.torque, card.system)}{times}; in the middle {goes}{stops}"
        lines.append(wrap(text, "   ", "            "))
    lines.append(wrap(card.stop_rule, "   "))
    force = show_force(card.clamp_force.low, card.clamp_force.high, card.system)
    lines.append(wrap(f"{held_words(card)}; clamp force {force} in all.", "   "))
    if card.base_words:
        lines.append(wrap(card.base_words, "   "))
    lines.append(
        wrap(
            "How near the clamp comes to what each part may bear: " + "; ".join(card.clamp_limits) + ".",
            "   ",
        )
    )
    return "\n".join(lines)


def _heat(card: Card) -> str:
    if card.soak is not None:
        soak = card.soak
        return "\n".join([
            "3 HEAT   oven, clamped",
            wrap(f"metal at {show_temperature(soak.temperature, card.system)} for {show_duration(soak.hold)}, counted from when the METAL is there", "   "),
            f"   NEVER ABOVE {show_temperature(card.ceiling, card.system)}",
            wrap(f"hardness after: {soak.hardness.low:.0f} to {soak.hardness.high:.0f} HB", "   "),
            *_warned(card, 3),
        ])  # fmt: skip
    lines = [f"3 HEAT   {len(card.spots)} spots on the cam side, in this order, one at a time"]
    if card.flame:
        lines.append(wrap(card.flame, "   "))
    lines += [f"   {spot_words(spot, card.system)}" for spot in card.spots]
    lines += [wrap(line, "   ") for line in _places(card)]
    if card.lowered is not None:
        lines.append(wrap(card.lowered.reason, "   "))
    low = show_temperature(card.spots[0].peak, card.system) if card.spots else ""
    if low:
        lines.append(
            wrap(f"low crayon {low} melts at {dwell_words(card)}: flame off; {late_words(card)}", "   ")
        )
    lines.append(f"   NEVER ABOVE {show_temperature(card.ceiling, card.system)}")
    return "\n".join([*lines, *_warned(card, 3)])


def spot_words(spot: SpotLine, system: System) -> str:
    """Return one place with its number, its seconds and its peak."""
    at, peak = show(spot.station, system, big=True), show_temperature(spot.peak, system)
    return f"({spot.order}) {spot.side:<8} at {at}   {spot.dwell:.0f} s to {peak}"


def _warned(card: Card, at: int) -> list[str]:
    """Return the cautions that count in a step, each behind a mark."""
    return [wrap(line, "   ! ", "     ") for line in cautions_at(card, at)]


def _ladder(card: Card) -> str:
    """Return the stages of the heat with what follows from the gap read after each; nothing where there are none."""
    if not card.ladder:
        return ""
    lines = ["3b IN STAGES   flame off, wait, slacken the middle nuts, blade under the middle"]
    if card.stage_wait:
        lines.append(
            wrap(f"wait {show_pause(card.stage_wait)} after each stage; tighten again as in 2", "   ")
        )
    if card.reserve:
        lines.append(wrap(f"in reserve, only where a stage calls for it: {reserve_words(card)}", "   "))
    for rung in card.ladder:
        lines.append(wrap(rung_words(rung, card.system), "   ", "      "))
        lines += [wrap(line, "      ") for line in if_words(rung, card.system)]
    return "\n".join(lines)


def do_words(do: int, after: int) -> str:
    """Return what to do in a few words: the next stage, one further on, stop, or read again."""
    if do > 0:
        return f"stage {do}" if do == after + 1 else f"skip to stage {do}"
    return "STOP, release cold and measure" if do == 0 else "READ AGAIN, then stop"


def reserve_words(card: Card) -> str:
    """Return the places in reserve with their numbers."""
    system = card.system
    return ", ".join(
        f"({spot.order}) {spot.side} at {show(spot.station, system, big=True)} for {spot.dwell:.0f} s"
        for spot in card.reserve
    )


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


def _places(card: Card) -> list[str]:
    """Return how long to wait from spot to spot, how far the rows lie from the middle line, what to keep off."""
    system, lines = card.system, []
    if card.spot_pause is not None:
        lines.append(f"from spot to spot: flame off for {show_pause(card.spot_pause)}, still air")
    if card.spot_rows is not None:
        away = show(card.spot_rows, system, big=True)
        lines.append(f"rows: {away} from the middle line" if card.spot_rows else "row: on the middle line")
    lines += [f"keep off: {zone}" for zone in keep_off_words(card)]
    return lines


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


def _cool(card: Card) -> str:
    """Times after the last heat; the clock times hold if the last heat is at the card's own time."""
    unclamp, ready = (_hour(stamp) for stamp in (card.unclamp_at, card.ready_at))
    ended, now = (
        ("the oven is off", "the oven went off") if card.soak else ("the last heat", "the last heat was")
    )
    cool = f"leave it clamped, still air, no water, no fan: {show_duration(card.unclamp_wait)} after {ended}; if {now} at {_hour(card.made_at)}: unclamp at {unclamp}."
    measure = (
        f"a reading is honest {show_duration(card.wait)} after {ended} ({card.wait_reason}): at {ready}."
    )
    return "\n".join([
        "4 COOL", wrap(cool, "   "), *_warned(card, 4),
        "5 RELEASE", wrap("cold, outside to middle, quarter turns.", "   "),
        "6 MEASURE", wrap(measure, "   "),
    ])  # fmt: skip


def _hour(stamp: str) -> str:
    return stamp[11:16]


def _expect(card: Card) -> str:
    lines = ["   expect after release (likely = 8 times in 10):"]
    for name, after, limit, chance in expected_rows(card):
        text = f"{name:<9}{_span(card, after)}; limit {show(limit, card.system)}; inside: {percent(chance)}"
        lines.append(wrap(text, "   ", "            "))
    overshoot = f"past straight by more than the limit: {percent(card.chance_overshoot)}"
    lines.append(wrap(f"both inside: {percent(card.chance_inside)};  {overshoot}", "   "))
    lines.append(wrap(f"limits: deck {card.deck_limit_source}; cam line {card.cam_limit_source}", "   "))
    return "\n".join(lines)


def _alternative(other: Alternative) -> str:
    trades = f"; {other.trades}" if other.trades else ""
    return f"{other.words}: inside {percent(other.inside)}, overshoot {percent(other.overshoot)}{trades}"


def _projected(card: Card, stage: ProjectedPass) -> str:
    after = "after this pass" if stage.passes == 1 else f"after {stage.passes} passes"
    return f"{after}: deck {_span(card, stage.deck_after)}, cam line {_span(card, stage.cam_after)}, " + (
        f"both inside: {percent(stage.inside)}"
        if stage.done is None
        else f"no more heat needed: {percent(stage.done)}"
    )
