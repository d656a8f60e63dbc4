"""What a pass is: the clamp, the heat; and the weighted draws it is judged on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from straighten.clamp import ClampSetup
from straighten.errors import BadInput
from straighten.heat import HeatSpot, Soak, ageing

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from straighten.heat import Response


@dataclass(frozen=True, slots=True, kw_only=True)
class PassSetup:
    """One pass on the bench: the clamp and either heat spots, in their order, or a soak, or neither (a cold pull)."""

    clamp: ClampSetup | None
    spots: tuple[HeatSpot, ...] = ()
    soak: Soak | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Done:
    """What was done to the head so far: how many `passes`, the `spots` heated, `aged` time of its soaks at 250 degC [s]."""

    passes: int = 0
    spots: tuple[HeatSpot, ...] = ()
    aged: float = 0.0

    def and_then(self, *setups: PassSetup) -> Done:
        """Return it with further passes done."""
        return Done(
            passes=self.passes + len(setups),
            spots=(*self.spots, *(spot for setup in setups for spot in setup.spots)),
            aged=self.aged + sum(ageing(setup.soak) for setup in setups if setup.soak is not None),
        )


UNTOUCHED: Final = Done()


@dataclass(frozen=True, slots=True, kw_only=True)
class Draws:
    """Weighted draws: `states` `(n, 11)` [m], `response`, `weights` `(n,)` that sum to one."""

    states: NDArray[np.float64]
    response: Response
    weights: NDArray[np.float64]


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
        "spots": [
            {
                "station_mm": 1e3 * s.station,
                "side": s.side,
                "radius_mm": 1e3 * s.radius,
                "dwell_s": s.dwell,
                "peak_C": s.peak,
                "power_W": s.power,
                "heated_before": s.heated_before,
                "start_s": s.start,
                "across_mm": None if s.across is None else 1e3 * s.across,
            }
            for s in setup.spots
        ],
        "soak": None
        if soak is None
        else {
            "temperature_C": soak.temperature,
            "hold_h": soak.hold / 3600,
            "heat_up_h": soak.heat_up / 3600,
            "cool_down_h": soak.cool_down / 3600,
        },
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


def _spot_from(plain: dict[str, Any]) -> HeatSpot:
    return HeatSpot(
        station=1e-3 * plain["station_mm"],
        side=plain["side"],
        radius=1e-3 * plain["radius_mm"],
        dwell=plain["dwell_s"],
        peak=plain["peak_C"],
        power=plain["power_W"],
        heated_before=plain["heated_before"],
        start=plain["start_s"],
        across=None if plain["across_mm"] is None else 1e-3 * plain["across_mm"],
    )
