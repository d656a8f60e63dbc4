"""What the card says in words: directions, cautions, reasons. Sentences a machinist reads with gloves on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any, Final

from straighten.errors import counted
from straighten.head.ceiling import heat_ceiling
from straighten.heat.flames import recipes
from straighten.sheet.logged import FACTOR_WORDS
from straighten.sheet.plain import Triple
from straighten.units import System, show, show_duration, show_temperature

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from straighten.clamp.limits import Limit
    from straighten.clamp.shims import Stacking
    from straighten.head.records import Head
    from straighten.plan.records import PassSetup
    from straighten.shape import Finding
    from straighten.sources import Cited

CLOSE_TO_A_LIMIT = 0.8
BEYOND: Final = 2e-3  # m: an outer tower that near the end of the head counts as standing there


def reckoned_on(head: Head) -> bool:
    """Return whether the bow of the cam line over the whole head is reckoned on beyond its outer towers."""
    return min(head.towers) > BEYOND or max(head.towers) < head.casting.length - BEYOND


def source(cited: Cited[Any]) -> str:
    """Return where a limit comes from, with its mark."""
    return f"{cited.source}; {cited.mark}"


def decided_by(finding: Finding, system: System) -> str:
    """Return the number that decided, with its threshold and source."""
    if finding.value is None:
        return finding.kind
    told = f"{finding.kind}: {_number(finding.value, finding.unit, system)}"
    if finding.threshold is None:
        return told
    threshold = finding.threshold
    return f"{told}, threshold {_number(threshold.value, threshold.unit, system)} ({source(threshold)})"


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
    alike = heights["front inlet"] == front and heights["rear inlet"] == rear
    stacks = f"front {front}, rear {rear}" if alike else "; ".join(f"{c} {h}" for c, h in heights.items())
    word = "more" if other.over_bend_error > 0 else "less"
    change = show(abs(other.over_bend_error), system)
    return (
        f"{stacks} ({change} {word} over-bend)"
        if abs(other.over_bend_error) > 2.5e-6
        else f"{stacks} (same over-bend)"
    )


def limits(found: Sequence[Limit], weights: NDArray[np.float64]) -> tuple[str, ...]:
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
