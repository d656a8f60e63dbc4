"""What a set-up would do, as a record and as text."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from straighten.sheet.layout import block, page, wrap
from straighten.units import show, show_range, show_temperature

if TYPE_CHECKING:
    from straighten.units import System

Pair = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class SpotTrial:
    """One heat spot or stroke (`kind`): station [m], side, surface peak [degC], absorbed power [W], kink [rad], fall of the middle [m]."""

    station: float
    side: str
    peak: float
    power: float
    kink: float
    fall: float
    kind: str = "spot"


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundTrial:
    """One round of the set-up, the physics at its word; bows of the four lines before and after [m].

    `bend` imposed at mid-length, `middle_height` of the deck over the shims' tops and `gap` left [m], `force` of all
    bolts [N], None where the head lies free; `spots_set`, `kept_set` the two shares of the deck's fall [m];
    `movement` that the clamp holds, bolts and base included, as a bow of the whole deck [m], `kept_share` of it, both None
    where it holds next to nothing; `after_range` 10 and 90 % of deck and cam bow after [m]; `hardness` lowest and highest
    after [HB]; `heat_cost`, `costs` what the heat costs, plain and in words; `caveats` where the model is at its limits.
    """

    number: int
    before: dict[str, float]
    after: dict[str, float]
    bend: float | None
    middle_height: float | None
    gap: float | None
    over_bend: float | None
    force: float | None
    spots: tuple[SpotTrial, ...]
    spots_set: float
    kept_set: float
    kept_share: float | None
    movement: float | None
    deck_after_range: Pair
    cam_after_range: Pair
    hardness: Pair
    heat_cost: dict[str, Any] | None = None
    costs: tuple[str, ...] = ()
    caveats: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class TrialReport:
    """All rounds of a trial, with the section it was computed for (EI [N m2], kGA [N], neutral axis [m])."""

    head: str
    system: System
    rounds: tuple[RoundTrial, ...]
    bending_stiffness: float
    shear_stiffness: float
    neutral_axis: float
    caveats: tuple[str, ...]

    def to_plain(self) -> dict[str, Any]:
        """Return the report as JSON scalars with the unit in every key."""
        return {
            "schema": "straighten/try/1",
            "head": self.head,
            "section": {
                "EI_N_m2": self.bending_stiffness,
                "kGA_N": self.shear_stiffness,
                "neutral_axis_mm": 1e3 * self.neutral_axis,
            },
            "rounds": [_plain_round(r) for r in self.rounds],
            "caveats": list(self.caveats),
        }


def _mm(value: float | None) -> float | None:
    return None if value is None else 1e3 * value


def _plain_round(r: RoundTrial) -> dict[str, Any]:
    return {
        "round": r.number,
        "bow_before_mm": {line: 1e3 * v for line, v in r.before.items()},
        "bow_after_mm": {line: 1e3 * v for line, v in r.after.items()},
        "change_of_bow_mm": {line: 1e3 * (r.after[line] - r.before[line]) for line in r.after},
        "bend_imposed_mm": _mm(r.bend),
        "clamped_middle_height_mm": _mm(r.middle_height),
        "gap_left_mm": _mm(r.gap),
        "over_bend_mm": _mm(r.over_bend),
        "clamp_force_N": r.force,
        "spots": [
            {
                "kind": s.kind,
                "station_mm": 1e3 * s.station,
                "side": s.side,
                "surface_peak_C": s.peak,
                "absorbed_power_W": s.power,
                "kink_urad": 1e6 * s.kink,
                "set_mm": 1e3 * s.fall,
            }
            for s in r.spots
        ],
        "spots_set_mm": 1e3 * r.spots_set,
        "kept_set_mm": 1e3 * r.kept_set,
        "movement_held_mm": _mm(r.movement),
        "kept_share_of_bend": r.kept_share,
        "deck_after_range_mm": [1e3 * v for v in r.deck_after_range],
        "cam_after_range_mm": [1e3 * v for v in r.cam_after_range],
        "hardness_after_HB": list(r.hardness),
        "heat_cost": r.heat_cost,
        "caveats": list(r.caveats),
    }


def trial_text(report: TrialReport) -> str:
    """Return the trial as text."""
    parts = [wrap(f"TRY   {report.head}: what this set-up would do, physics at its word; nothing recorded")]
    parts += [block(f"ROUND {r.number}", _lines(report, r)) for r in report.rounds]
    parts.append(block("KEEP IN MIND", report.caveats))
    return page(parts)


def _share(r: RoundTrial) -> str:
    if r.kept_share is None or r.movement is None:
        return " (no bend to keep a share of)"
    return (
        f" ({100 * r.kept_share:.1f} % of the {1e3 * abs(r.movement):.3f} mm that clamp, bolts and base hold)"
    )


def _lines(report: TrialReport, r: RoundTrial) -> list[str]:
    system = report.system
    lines = []
    if r.bend is not None and r.force is not None and r.over_bend is not None:
        lines.append(
            f"clamp: bend imposed {show(r.bend, system)}, held past straight by {show(r.over_bend, system)}, "
            f"force {r.force / 1e3:.1f} kN in all"
        )
    lines += [
        f"{s.kind} at {show(s.station, system, big=True)} {s.side}: {show_temperature(s.peak, system)}, "
        f"{s.power:.0f} W absorbed, takes {1e3 * s.fall:.3f} mm in the middle, its own shrinkage and its kept bend together"
        for s in r.spots
    ]
    lines.append(
        f"set: spots {1e3 * r.spots_set:.3f} mm, kept of the bend {1e3 * r.kept_set:.3f} mm" + _share(r)
    )
    if not r.spots:
        lines.append(f"hardness after: {r.hardness[0]:.0f} to {r.hardness[1]:.0f} HB")
    lines += [f"{line}: {1e3 * r.before[line]:.3f} -> {1e3 * r.after[line]:.3f} mm" for line in r.after]
    lines.append(f"deck after, 8 times in 10: {show_range(*r.deck_after_range, system)}")
    lines += (*r.costs, *r.caveats)
    return lines
