"""What card, log and trial say in words, as a machinist reads with gloves on: directions, reasons, broken limits."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Final

import numpy as np

from straighten.clamp import Clamped, ClampSetup, clamp_head, section_of
from straighten.clamp.bolts import FRICTION, clamp_thread, torque_for
from straighten.clamp.joint import base_beam
from straighten.clamp.limits import Limit, limits_of
from straighten.clamp.shims import Stacking
from straighten.clamp.springs import grow
from straighten.clamp.tightening import torque_cap
from straighten.clamp.tightening_log import AS_PRINTED
from straighten.errors import BadInput, OutsideModel, counted
from straighten.head.ceiling import heat_ceiling
from straighten.head.records import Base, Head
from straighten.heat import Soak, soak_choices
from straighten.heat.flames import recipes
from straighten.heat.layout import check_model
from straighten.heat.safety import hottest_over, refused_peak
from straighten.heat.soak import SoakChoice, check_soak
from straighten.plan.forecast import Forecast
from straighten.plan.records import Draws, PassSetup
from straighten.quantiles import Floats, spread_along
from straighten.shape import Finding
from straighten.sheet.learned import FACTOR_WORDS
from straighten.sheet.plain import Triple
from straighten.units import System, show, show_duration, show_temperature, show_torque, turned

CLOSE_TO_A_LIMIT = 0.8
BEYOND: Final = 2e-3  # m: an outer tower that near the end of the head counts as standing there


def reckoned_on(head: Head) -> bool:
    """Return whether the bow of the cam line over the whole head is reckoned on beyond its outer towers."""
    return min(head.towers) > BEYOND or max(head.towers) < head.casting.length - BEYOND


def decided_by(finding: Finding, system: System) -> str:
    """Return the number that decided, with its threshold and source."""
    if finding.value is None:
        return finding.kind
    told = f"{finding.kind}: {_number(finding.value, finding.unit, system)}"
    if finding.threshold is None:
        return told
    threshold = finding.threshold
    return f"{told}, threshold {_number(threshold.value, threshold.unit, system)} ({threshold.told})"


def _number(value: float, unit: str, system: System) -> str:
    return show(float(value), system) if unit == "m" else f"{float(value):.3g} {unit}".strip()


FLAT: Final = 20e-6  # m: a deck bowed by less looks flat under the blades


def direction(reverse: bool, deck: float, *, shimmed: bool = True) -> str:
    """Return the direction to bend in words, with how the `deck` lies [m, hollow > 0]: a wrong sign doubles the bow."""
    shims = f"shims under the {'MIDDLE' if reverse else 'ENDS'}" if shimmed else "no shims"
    lies = "flat" if abs(deck) < FLAT else "hollow in the middle" if deck > 0 else "crowned in the middle"
    if reverse:
        return f"deck {lies}, cam line low: {shims}, pull the ENDS down"
    return f"deck {lies}, cam line high: {shims}, pull the MIDDLE down"


def ceiling(head: Head, setup: PassSetup) -> float:
    """Return the temperature [degC] that must never be passed: the alloy's heat ceiling, or the oven's soak plus its error."""
    if setup.soak is not None:
        return setup.soak.temperature + (head.oven.error if head.oven else 10.0)
    return heat_ceiling(head.alloy).highest


def second_stacking(other: Stacking, system: System) -> str:
    """Return the next best shim stacking in words, with what it changes."""
    heights = {stack.corner: show(stack.height, system) for stack in other.stacks}
    front, rear = heights["front exhaust"], heights["rear exhaust"]
    sides = heights["front inlet"] == front and heights["rear inlet"] == rear
    stacks = f"front {front}, rear {rear}" if sides else "; ".join(f"{c} {h}" for c, h in heights.items())
    word = "more" if other.over_bend_error > 0 else "less"
    alike = abs(other.over_bend_error) <= 2.5e-6
    change = "same" if alike else f"{show(abs(other.over_bend_error), system)} {word}"
    return f"{stacks} ({change} over-bend)"


def limits(found: Sequence[Limit], weights: Floats) -> tuple[str, ...]:
    """Return the clamp's limits in words: how near, and what to do where one is close."""
    lines = []
    for limit in found:
        share = float(weights @ limit.share)
        advice = f": {limit.words}" if share > CLOSE_TO_A_LIMIT else ""
        lines.append(f"{limit.name} at {100 * share:.0f} % of what is allowed{advice}")
    return tuple(lines)


def learned(before: Mapping[str, Triple], after: Mapping[str, Triple], passes: int) -> str:
    """Return in one line what the passes have changed in the belief, and why; empty before the first pass."""
    if passes == 0:
        return "No pass logged yet: the plan uses the model with its published spread, so the first pass is mild."
    shares = {
        name: (after[name][2] - after[name][0]) / (before[name][2] - before[name][0])
        for name in before
        if name not in ("skew", "scatter", "growth")
    }
    name = min(shares, key=lambda key: shares[key])
    shift = after[name][1] / before[name][1]
    word = "more" if shift > 1.03 else "less" if shift < 0.97 else "as much"
    than = "than" if word != "as much" else "as"
    return (
        f"After {passes} logged pass{'es' if passes > 1 else ''}: {FACTOR_WORDS[name]} is {word} {than} the physics alone said "
        f"(x {after[name][1]:.2f}, likely {after[name][0]:.2f} to {after[name][2]:.2f}; its range is now {100 * shares[name]:.0f} % "
        "of what it was), because the measured change of bow says so."
    )


def setup(head: Head, chosen: PassSetup) -> str:
    """Return a set-up in one line."""
    clamp, shims = chosen.clamp, "head free"
    if clamp is not None:
        alike = "" if len(set(clamp.shims)) == 1 else "up to "
        middle = f"a gap of {show(clamp.gap, head.system)} left" if clamp.gap else "middle to the base"
        shims = f"shims {alike}{show(max(clamp.shims), head.system)}, {middle}"
    if chosen.soak is not None:
        hold = show_duration(chosen.soak.hold)
        return f"{shims}, oven {show_temperature(chosen.soak.temperature, head.system)} for {hold}"
    if not chosen.spots:
        return shims
    wide = show(2 * chosen.spots[0].radius, head.system, big=True)
    return f"{shims}, {counted(len(chosen.spots), 'heat spot')} of {wide}"


def flame(head: Head, chosen: PassSetup) -> str:
    """Return which tip heats the spots and how far off it is held; nothing where there are none."""
    if not chosen.spots or head.torch is None:
        return ""
    radius, dwell = chosen.spots[0].radius, chosen.spots[0].dwell
    held = next((r for r in recipes(head) if (r.radius, r.dwell) == (radius, dwell)), head.torch)
    tip = next(one for one in (head.torch, *head.spare_tips) if one is not None and one.tip == held.tip)
    name = f"tip {tip.tip}, " if tip.tip else ""
    wide = f"bites {show(2 * radius, head.system, big=True)} across"
    if radius <= 1.02 * tip.radius:
        return f"Flame: {name}held as tried: it {wide}."
    near = show(2 * tip.radius, head.system, big=True)
    return f"Flame: {name}held farther off, until it {wide} instead of {near}."


def if_then(head: Head) -> tuple[str, ...]:
    """Return what to do with the readings after the pass."""
    cam, deck = (show(x.value, head.system) for x in (head.limits.cam_line, head.limits.deck_overall))
    drop = head.thresholds.hardness_drop.value
    return (
        f"IF the cam line still stands more than {cam} out of straight: log it and plan the next card.",
        f"IF it is inside {cam}: no more heat; log it, then sand what the deck has over {deck}.",
        f"IF the bow has changed sign, a crack shows or hardness fell by over {drop:g} HB: STOP, log it, ask straighten decide.",
    )


# --- what a set-up means beside its pass -------------------------------------------------------------------------------


AFTER_OVERLOAD = "Check bolts, nuts and the base's threads, or put new ones, before they pull again"
AFTER_OVERHEATING = (
    "Look for melting and cracks there before anything else, and test the hardness of the roof"
)


def broken_limits(head: Head, setup: PassSetup) -> tuple[str, ...]:
    """Return the limits that a set-up breaks, one sentence each, with what to look for; none where it keeps them all."""
    hottest, tight = hottest_over(head, section_of(head), setup.spots), _too_tight(head, setup)
    heat = () if hottest is None else (f"{_too_hot(head, hottest)}. {AFTER_OVERHEATING}.",)
    pull = (f"{tight}. {AFTER_OVERLOAD}.",) if tight else ()
    return (*heat, *pull, *(() if heat else beyond_model(head, setup)))


def overloads(head: Head, clamped: Clamped | None, setup: PassSetup) -> tuple[str, ...]:
    """Return what the clamp loads past what it may bear, one clause each; none where nothing is clamped."""
    if clamped is None or setup.clamp is None:
        return ()
    limits = limits_of(head, section_of(head), clamped, setup.clamp)
    shares = ((limit, float(limit.share.max())) for limit in limits)
    return tuple(
        f"{limit.name} at {100 * share:.0f} % of what is allowed: {limit.words}."
        for limit, share in shares
        if share > 1
    )


def beyond_model(head: Head, setup: PassSetup) -> tuple[str, ...]:
    """Return in a sentence what no model here can compute of a heat, so that nothing can be learned from it."""
    try:
        if setup.spots:
            check_model(head, section_of(head), setup.spots)
        if setup.soak is not None:
            check_soak(setup.soak)
    except OutsideModel as fault:
        return (f"{fault.problem[:1].upper()}{fault.problem[1:]}. Nothing can be learned from it.",)
    return ()


def refuse_broken(head: Head, setup: PassSetup, where: str) -> None:
    """Refuse a set-up whose target passes the heat ceiling, or whose torque passes the most that the bolts may have.

    Raises:
        BadInput: with the limit that binds.
    """
    hottest = refused_peak(head, section_of(head), setup.spots)
    if hottest is not None:
        raise BadInput(
            _too_hot(head, hottest),
            where=f"{where}: spots",
            fix=f"Aim at {show_temperature(heat_ceiling(head.alloy).highest, head.system)} or less.",
        )
    if tight := _too_tight(head, setup):
        fix = "Share the pull among more bolts, or stop at a gap."
        raise BadInput(tight, where=f"{where}: clamp.torque", fix=fix)


def _too_tight(head: Head, setup: PassSetup) -> str:
    """Say that a torque was set over the cap of these bolts, or nothing; a pull to a gap sets none."""
    clamp = setup.clamp
    if clamp is None or clamp.tension is None:
        return ""
    thread, _ = clamp_thread(head.bolts[clamp.bolts[0]])
    torque, cap = torque_for(clamp.tension, thread, FRICTION.value), torque_cap(head, clamp)
    if torque <= cap.torque + AS_PRINTED.value:
        return ""
    set_to, most = (show_torque(t, head.system) for t in (torque, cap.torque))
    return f"{set_to} is over {most}, the most these bolts may have for the {cap.limit} on slippery threads"


def _too_hot(head: Head, hottest: float) -> str:
    ceiling = heat_ceiling(head.alloy)
    target, highest = (show_temperature(t, head.system) for t in (hottest, ceiling.highest))
    return f"{target} on the surface is over the heat ceiling of {highest}: {turned(ceiling.reason, head.system)}"


FEW: Final = 32  # draws: bend of a base, growth and hardness are told as middles
MUCH: Final = 0.2  # of the head's bend: a base that takes more is worth changing


def base_words(head: Head, draws: Draws, seen: Forecast, clamp: ClampSetup) -> str:
    """Return how far the base bends under the pull, and a stiffer base among those owned where it takes much of it."""
    if head.base.kind == "rigid" or seen.clamped is None:
        return ""
    own = abs(float(seen.weights @ seen.clamped.base_bend))
    told = f"The base itself bends by {show(own, head.system)} under this pull."
    stiffest = max((head.base, *head.spare_bases), key=_stiffness)
    if own < MUCH * float(seen.weights @ np.abs(seen.clamped.bend)) or stiffest == head.base:
        return told
    part = spread_along(draws.weights, FEW)
    other = clamp_head(replace(head, base=stiffest), draws.states[part], clamp, draws.response.take(part))
    less = abs(float(np.mean(other.base_bend)))
    return f"{told} Your {base_name(stiffest, head.system)} would bend by {show(less, head.system)}: use that one."


def base_name(base: Base, system: System) -> str:
    """Return what a base is: thickness, material and kind."""
    if base.kind == "rigid":
        return "rigid base"
    return f"{show(base.thickness, system, big=True)} {base.material} {base.kind}"


def _stiffness(base: Base) -> float:
    beam = base_beam(base)
    return np.inf if beam is None else float(beam.EI)


def oven_notes(head: Head, draws: Draws, setup: PassSetup) -> tuple[str, ...]:
    """Return advice on the growing clamp, and the soaks worth comparing; nothing for a torch.

    Raises:
        OutsideModel: the clamp cannot be held.
    """
    if setup.soak is None or setup.clamp is None or head.oven is None:
        return ()
    chosen = spread_along(draws.weights, FEW)
    states, response = draws.states[chosen], draws.response.take(chosen)
    grown = grow(head, states, setup.clamp, response, setup.soak.temperature)
    hold = setup.soak.hold
    holds = sorted({h for h in (3600.0, hold / 2, hold, 2 * hold) if 1800.0 <= h <= head.oven.longest})
    clamped = clamp_head(head, states, setup.clamp, response)
    choices = soak_choices(
        head, section_of(head), clamped, response, holds, aged_before=setup.soak.aged_before
    )
    bend = float(np.mean(np.abs(clamped.bend)))
    return (*grown.advice, *_compared(head, choices, (setup.soak, bend)))


def _compared(head: Head, choices: tuple[SoakChoice, ...], planned: tuple[Soak, float]) -> tuple[str, ...]:
    """Say the planned soak, the hottest and shortest that keeps the hardness, and a hotter one with its price."""
    soak, bend = planned
    assert head.oven is not None  # noqa: S101 - the caller has looked
    able = [c for c in choices if c.soak.temperature <= head.oven.hottest]
    sound = [c for c in able if not c.warning]
    lines = []
    if sound:
        best = max(sound, key=lambda c: (c.soak.temperature, -c.soak.hold))
        lines.append(
            f"Another choice, the hottest and shortest soak that keeps the hardness: {_told(head, best, bend)}"
        )
    spoilt = [c for c in able if c.warning and c.soak.temperature >= soak.temperature]
    if spoilt:
        worst = min(spoilt, key=lambda c: (c.soak.temperature, c.soak.hold))
        lines.append(f"Too hot or too long: {_told(head, worst, bend)}; {worst.warning}")
    return tuple(lines)


def _told(head: Head, choice: SoakChoice, bend: float) -> str:
    low, high = choice.hardness
    share = (
        f"{100 * choice.kept:.0f} % of the bend imposed"
        if choice.kept <= 1
        else "all of the bend imposed and what bolts and base give on top as they follow"
    )
    return (
        f"{show_temperature(choice.soak.temperature, head.system)} for {show_duration(choice.soak.hold)} takes "
        f"{show(choice.kept * bend, head.system)} of bow ({share}) and leaves {low:.0f} to {high:.0f} HB"
    )
