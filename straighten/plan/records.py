"""What a pass is: the clamp, the heat; and the weighted draws it is judged on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from straighten.clamp import ClampSetup
from straighten.errors import BadInput
from straighten.heat import HeatSpot, HeatStroke, Soak, Treatment, ageing
from straighten.quantiles import spread_along
from straighten.shape.modes import INDEX

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from straighten.heat import Response
    from straighten.quantiles import Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class PassSetup:
    """One pass on the bench: the clamp and either heat spots and strokes, in their order, or a soak, or neither (a cold pull)."""

    clamp: ClampSetup | None
    spots: tuple[Treatment, ...] = ()
    soak: Soak | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Done:
    """What was done to the head so far: how many `passes`, the `setups` that are known of them, in order."""

    passes: int = 0
    setups: tuple[PassSetup, ...] = ()

    @property
    def spots(self) -> tuple[Treatment, ...]:
        """All spots and strokes heated."""
        return tuple(spot for setup in self.setups for spot in setup.spots)

    @property
    def aged(self) -> float:
        """Equivalent time of all soaks at 250 degC [s]."""
        return sum(ageing(setup.soak) for setup in self.setups if setup.soak is not None)

    def and_then(self, *setups: PassSetup) -> Done:
        """Return it with further passes done."""
        return Done(passes=self.passes + len(setups), setups=(*self.setups, *setups))


UNTOUCHED: Final = Done()


@dataclass(frozen=True, slots=True, kw_only=True)
class Draws:
    """Weighted draws: `states` `(n, 11)` [m], `response`, `weights` `(n,)` that sum to one."""

    states: NDArray[np.float64]
    response: Response
    weights: NDArray[np.float64]

    def even(self, chosen: NDArray[np.intp]) -> Draws:
        """Return the draws chosen by their weights, each with the same weight now."""
        weights = np.full(chosen.size, 1.0 / chosen.size)
        return Draws(states=self.states[chosen], response=self.response.take(chosen), weights=weights)


def thinned(draws: Draws, noise: Floats, count: int) -> tuple[Draws, Floats]:
    """Return a few draws of equal weight, spread evenly along the weights, with noise spread evenly along a pass's luck.

    Source: Systematic resampling along the cam bow (derived).
    """
    count = min(count, draws.weights.size)
    order = np.argsort(draws.states[:, INDEX["cam_bow"]])
    chosen = order[spread_along(draws.weights[order], count)]
    ranks = np.argsort(noise[:, 0])[((np.arange(count) + 0.5) * len(noise) / count).astype(np.intp)]
    return draws.even(chosen), noise[np.random.default_rng(count).permutation(ranks)]


def setup_to_plain(setup: PassSetup) -> dict[str, Any]:
    """Return a set-up as JSON scalars, units in the keys."""
    clamp, soak = setup.clamp, setup.soak
    return {
        "clamp": None
        if clamp is None
        else {
            "shims_mm": [1e3 * s for s in clamp.shims],
            "bolts": list(clamp.bolts),
            "gap_mm": None if clamp.gap is None else 1e3 * clamp.gap,
            "tension_kN": None if clamp.tension is None else 1e-3 * clamp.tension,
            "reverse": clamp.reverse,
        },
        "spots": [_treatment_to_plain(one) for one in setup.spots],
        "soak": None
        if soak is None
        else {
            "temperature_C": soak.temperature,
            "hold_h": soak.hold / 3600,
            "heat_up_h": soak.heat_up / 3600,
            "cool_down_h": soak.cool_down / 3600,
        },
    }


def _treatment_to_plain(one: Treatment) -> dict[str, Any]:
    flame = {
        "station_mm": 1e3 * one.station,
        "side": one.side,
        "radius_mm": 1e3 * one.radius,
        "peak_C": one.peak,
        "power_W": one.power,
        "start_s": one.start,
    }
    if isinstance(one, HeatSpot):
        across = None if one.across is None else 1e3 * one.across
        return {**flame, "dwell_s": one.dwell, "across_mm": across}
    return {
        **flame,
        "station_to_mm": None if one.station_to is None else 1e3 * one.station_to,
        "across_from_mm": 1e3 * one.across_from,
        "across_to_mm": 1e3 * one.across_to,
        "time_s": one.time,
        "passes": one.passes,
        "pause_s": one.pause,
    }


def setup_from_plain(plain: dict[str, Any]) -> PassSetup:
    """Return the set-up that `setup_to_plain` wrote.

    Raises:
        BadInput: the record does not hold a set-up.
    """
    try:
        clamp, soak = plain["clamp"], plain["soak"]
        return PassSetup(
            clamp=None if clamp is None else _clamp_from(clamp),
            spots=tuple(_spot_from(spot) for spot in plain["spots"]),
            soak=None
            if soak is None
            else Soak(
                temperature=soak["temperature_C"],
                hold=3600 * soak["hold_h"],
                heat_up=3600 * soak["heat_up_h"],
                cool_down=3600 * soak["cool_down_h"],
            ),
        )
    except (KeyError, TypeError, ValueError) as fault:
        raise BadInput(f"a pass record does not make sense: {fault!r}", where="book") from None


def _clamp_from(plain: dict[str, Any]) -> ClampSetup:
    a, b, c, d = (1e-3 * s for s in plain["shims_mm"])
    return ClampSetup(
        shims=(a, b, c, d),
        bolts=tuple(plain["bolts"]),
        gap=None if plain["gap_mm"] is None else 1e-3 * plain["gap_mm"],
        tension=None if plain["tension_kN"] is None else 1e3 * plain["tension_kN"],
        reverse=plain["reverse"],
    )


def _spot_from(plain: dict[str, Any]) -> Treatment:
    if "time_s" not in plain:
        return HeatSpot(
            station=1e-3 * plain["station_mm"],
            side=plain["side"],
            radius=1e-3 * plain["radius_mm"],
            dwell=plain["dwell_s"],
            peak=plain["peak_C"],
            power=plain["power_W"],
            start=plain["start_s"],
            across=None if plain["across_mm"] is None else 1e-3 * plain["across_mm"],
        )
    last = plain["station_to_mm"]
    return HeatStroke(
        station=1e-3 * plain["station_mm"],
        side=plain["side"],
        across_from=1e-3 * plain["across_from_mm"],
        across_to=1e-3 * plain["across_to_mm"],
        radius=1e-3 * plain["radius_mm"],
        time=plain["time_s"],
        station_to=None if last is None else 1e-3 * last,
        peak=plain["peak_C"],
        power=plain["power_W"],
        passes=plain["passes"],
        pause=plain["pause_s"],
        start=plain["start_s"],
    )
