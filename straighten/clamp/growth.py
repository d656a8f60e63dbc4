"""What the oven does to the clamp: the head grows against bolts and base, so that bolts tighten and the head slides."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.clamp.bolts import STEEL_MODULUS, clamp_thread, proof_load
from straighten.clamp.clamped import Solved, state_of
from straighten.clamp.holding import clamp_head
from straighten.clamp.section import curve_at
from straighten.clamp.springs import bench_of, held_by, settled
from straighten.sources import Cited
from straighten.units import show

if TYPE_CHECKING:
    from straighten.clamp.clamped import Clamped, ClampSetup, Factors
    from straighten.head.records import Head
    from straighten.quantiles import Floats

ROOM: Final = 20.0  # degC
IRON_EXPANSION: Final = Cited(
    11.7e-6, "1/K", "grey iron GJL-250, mean 20 to 200 degC, EN 1561 annex", "from memory"
)
STEEL_SOFTENING: Final = Cited(
    ((20.0, 1.0), (100.0, 1.0), (200.0, 0.9), (300.0, 0.8), (400.0, 0.7)),
    "",
    "modulus of carbon steel over its cold value, EN 1993-1-2 Table 3.1",
    "from memory",
)
BOLT_SOFTENING: Final = Cited(
    ((20.0, 1.0), (100.0, 0.968), (150.0, 0.952), (200.0, 0.935), (300.0, 0.903), (400.0, 0.775)),
    "",
    "strength of bolts over its cold value, EN 1993-1-2 Table D.1",
    "from memory",
)
HOLE_PLAY: Final = Cited(
    0.05, "", "half of a medium hole's play, ISO 273: a tenth of the diameter in all", "from memory"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Growth:
    """The clamp at temperature, for n draws.

    `clamped` the hot state, bolts as springs with the nuts left as they were cold;
    `locked_stress` what its growth adds in a bolt that can neither stretch the joint nor yield [Pa];
    `bolt_share` tension over the hot proof load, worst bolt `(n,)`; `slide` each pulling bolt's hole against the base,
    measured from the bolt nearest the middle [m], `(b,)`; `play` that its hole has [m], `(b,)`; `advice` one line each.
    """

    clamped: Clamped
    locked_stress: float
    bolt_share: Floats
    slide: Floats
    play: Floats
    advice: tuple[str, ...]


def aluminium_elongation(temperature: float) -> float:
    """Return the elongation of aluminium alloys from 20 degC [-], an upper bound for cast Al-Si heads.

    `temperature` [degC].

    Source: EN 1999-1-2, 3.3.1.1: 0.1e-7 T2 + 22.5e-6 T - 4.5e-4 (seen in transcription).
    Valid: 0 to 500 degC; wrought alloys. A head's own table stands in `Alloy.expansion`.

    Example:
        >>> round(aluminium_elongation(250.0), 7)
        0.0058
    """
    return 0.1e-7 * temperature**2 + 22.5e-6 * temperature - 4.5e-4


def steel_elongation(temperature: float) -> float:
    """Return the elongation of carbon steel from 20 degC [-].

    `temperature` [degC].

    Source: EN 1993-1-2, 3.4.1.1: 1.2e-5 T + 0.4e-8 T2 - 2.416e-4 (from memory; zero at 20 degC).
    Valid: 20 to 750 degC.

    Example:
        >>> round(steel_elongation(250.0), 7)
        0.0030084
    """
    return 1.2e-5 * temperature + 0.4e-8 * temperature**2 - 2.416e-4


def locked_bolt_stress(
    head_elongation: float, bolt_elongation: float, modulus: float = STEEL_MODULUS.value
) -> float:
    """Return the stress that growth adds in a bolt of a joint that cannot give [Pa].

    `head_elongation` of the head from cold to hot [-]; `bolt_elongation` of the bolt [-]; `modulus` of the
    bolt [Pa].

    Valid: upper bound: a head that bends, a base that bends and hot metal all take some of it.
    """
    return modulus * (head_elongation - bolt_elongation)


def head_elongation(head: Head, temperature: float) -> float:
    """Return the elongation of the head's alloy from 20 degC [-].

    Valid: to its solidus.
    """
    return curve_at(head.alloy.expansion, temperature) * (temperature - ROOM)


def base_elongation(head: Head, temperature: float) -> float:
    """Return the elongation of the base from 20 degC [-].

    Source: EN 1993-1-2 for steel and a rigid base, EN 1999-1-2 for aluminium, mean value for iron (as marked).
    Valid: 20 to 400 degC.
    """
    if head.base.material == "aluminium":
        return aluminium_elongation(temperature) - aluminium_elongation(ROOM)
    if head.base.material == "iron":
        return IRON_EXPANSION.value * (temperature - ROOM)
    return steel_elongation(temperature)


def grow(head: Head, states: Floats, setup: ClampSetup, response: Factors, temperature: float) -> Growth:
    """Return the clamp after it was warmed through with the nuts left alone.

    The cold clamp tells where the nuts stand. Warm, the head is taller than its bolts by the difference of growth over
    the grip, its modulus and the bolts' are lower, and the contact is solved again with the bolts as springs.

    `states` free shapes `(n, 11)` or `(1, 11)`; `temperature` of head, bolts and base alike [degC].

    Raises:
        BadInput: as `clamp_head`.
        OutsideModel: as `clamp_head`.

    Source: EN 1993-1-2, EN 1999-1-2 for growth and softening; exact contact.
    Valid: evenly warm, elastic, no creep yet; friction lets the head slide.
    """
    cold = clamp_head(head, states, setup, response)
    stiffness = np.asarray(response.stiffness, dtype=np.float64)
    pulling = sorted(set(setup.bolts))
    softer = curve_at(head.alloy.modulus, temperature) / curve_at(head.alloy.modulus, ROOM)
    bench = bench_of(head, states, setup, stiffness)
    before = held_by(bench, cold.bolt_tension[:, pulling])
    taller = (head_elongation(head, temperature) - steel_elongation(temperature)) * head.casting.height
    hot_bench = bench_of(
        head, states, setup, softer * stiffness, softer=curve_at(STEEL_SOFTENING.value, temperature)
    )
    hot = settled(hot_bench, before, before.nut + taller)
    tension = np.zeros_like(cold.bolt_tension)
    tension[:, pulling] = hot.push[:, bench.contacts :]
    solved = Solved(
        states=np.broadcast_to(states, (stiffness.size, np.shape(states)[-1])),
        stiffness=softer * stiffness,
        tension=tension,
        forces=hot.push[:, : bench.contacts],
        gaps=hot.slack[:, : bench.contacts],
        rigid=hot.rigid,
    )
    return _grown(head, setup, (cold, state_of(bench.joint, head, bench.section, setup, solved)), temperature)


def _grown(head: Head, setup: ClampSetup, states: tuple[Clamped, Clamped], temperature: float) -> Growth:
    cold, clamped = states
    pulling = sorted(set(setup.bolts))
    hot_proof = [
        proof_load(*clamp_thread(head.bolts[b])) * curve_at(BOLT_SOFTENING.value, temperature)
        for b in pulling
    ]
    share = np.max(clamped.bolt_tension[:, pulling] / hot_proof, axis=1)
    slide = np.abs(_from_fixed(head, pulling)) * (
        head_elongation(head, temperature) - base_elongation(head, temperature)
    )
    play = np.array([HOLE_PLAY.value * clamp_thread(head.bolts[b])[0].diameter for b in pulling])
    locked = locked_bolt_stress(head_elongation(head, temperature), steel_elongation(temperature))
    growth = Growth(
        clamped=clamped,
        locked_stress=locked,
        bolt_share=share,
        slide=np.abs(slide),
        play=play,
        advice=(),
    )
    return replace(growth, advice=(*_gap_advice(head, cold, clamped), *_advice(head, growth)))


def _from_fixed(head: Head, pulling: list[int]) -> Floats:
    x = np.array([head.bolts[b].station for b in pulling])
    return np.asarray(x - x[int(np.argmin(np.abs(x - head.casting.length / 2)))])


def _gap_advice(head: Head, cold: Clamped, hot: Clamped) -> tuple[str, ...]:
    """Say how the gap moves as the head warms, where a blade could tell."""
    before, after = (float(np.median(c.gap.mean(axis=1))) for c in (cold, hot))
    if before - after < 10e-6:
        return ()
    line = (
        f"As the head warms it outgrows its bolts and the gap goes from {show(before, head.system)} to "
        f"{show(max(after, 0.0), head.system)}: the bend grows by {show(before - after, head.system)} without any turning."
    )
    return (line,)


def _advice(head: Head, growth: Growth) -> tuple[str, ...]:
    """Say what to do about bolts that would yield and holes that would bind."""
    lines = []
    worst = float(np.quantile(growth.bolt_share, 0.9))
    if worst > 1:
        lines.append(
            f"Hot, the bolts would pull {worst:.1f} times their hot proof load: put disc springs under the nuts, "
            "or longer studs with sleeves, or tighten hot."
        )
    elif worst > 0.75:
        lines.append(
            f"Hot, the bolts reach {worst:.0%} of their hot proof load: disc springs under the nuts give room."
        )
    if growth.locked_stress > 0 and worst <= 1:
        lines.append(
            f"A bolt that stands on a seat that cannot give would gain {growth.locked_stress / 1e6:.0f} MPa: never tighten the "
            "nuts over a tower or a shim before the oven."
        )
    bind = growth.slide > growth.play
    if bind.any():
        far = float(growth.slide.max())
        lines.append(
            f"The head outgrows the base by up to {show(far, head.system)} at the outer bolts, more than their holes give: "
            "slot those holes or use thinner studs, oil and graphite on the shims, no dowels."
        )
    if len(growth.slide) and not bind.any():
        lines.append("The head slides on its shims as it grows: oil and graphite on them, no dowels.")
    return tuple(lines)
