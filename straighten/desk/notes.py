"""What the card notes beside the pass: how far the base bends, how an oven's clamp grows, which other soaks there are."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.clamp import ClampSetup, clamp_head, grow, section_of
from straighten.clamp.joint import base_beam
from straighten.heat import Soak, soak_choices
from straighten.quantiles import spread_along
from straighten.units import show, show_duration, show_temperature

if TYPE_CHECKING:
    from straighten.head.records import Base, Head
    from straighten.heat.choosing import SoakChoice
    from straighten.plan.forecast import Forecast
    from straighten.plan.records import Draws, PassSetup

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
    less, size = abs(float(np.mean(other.base_bend))), show(stiffest.thickness, head.system, big=True)
    return f"{told} Your {size} {stiffest.material} {stiffest.kind} would bend by {show(less, head.system)}: use that one."


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
