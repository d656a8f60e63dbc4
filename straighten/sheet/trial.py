"""What a set-up would do, as a record and as text."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, ClassVar

from straighten.sheet.layout import block, page, show_force, wrap
from straighten.sheet.plain import LEFT_OUT, MM, Answer, called
from straighten.units import System, show, show_range, show_temperature, turned

Pair = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class SpotTrial:
    """One heat spot or stroke (`kind`): station [m], side, surface peak [degC], absorbed power [W], kink [rad], fall of the middle [m]."""

    station: float = field(metadata=MM)
    side: str
    peak: float = field(metadata=called("surface_peak_C"))
    power: float = field(metadata=called("absorbed_power_W"))
    kink: float = field(metadata=called("kink_urad"))
    fall: float = field(metadata=called("set_mm"))
    kind: str = "spot"


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundTrial(Answer):
    """One round of the set-up, by the nominal model; bows of the four lines before and after [m].

    `bend` imposed at mid-length, `middle_height` of the deck over the shims' tops and `gap` left [m], `force` of all
    bolts [N], None where the head lies free; `spots_set`, `kept_set` the two shares of the deck's fall [m];
    `movement` that the clamp holds, bolts and base included, as a bow of the whole deck [m], `kept_share` of it, both
    None where it holds next to nothing; `after_range` 10 and 90 % of deck and cam bow after [m]; `hardness` lowest and highest
    after [HB]; `heat_cost`, `costs` what the heat costs, plain and in words; `caveats` where the model is at its limits.
    """

    number: int = field(metadata=called("round"))
    before: dict[str, float] = field(metadata=called("bow_before_mm"))
    after: dict[str, float] = field(metadata=called("bow_after_mm"))
    bend: float | None = field(metadata=called("bend_imposed_mm"))
    middle_height: float | None = field(metadata=called("clamped_middle_height_mm"))
    gap: float | None = field(metadata=called("gap_left_mm"))
    over_bend: float | None = field(metadata=MM)
    force: float | None = field(metadata=called("clamp_force_N"))
    spots: tuple[SpotTrial, ...]
    spots_set: float = field(metadata=MM)
    kept_set: float = field(metadata=MM)
    kept_share: float | None = field(metadata=called("kept_share_of_bend"))
    movement: float | None = field(metadata=called("movement_held_mm"))
    deck_after_range: Pair = field(metadata=MM)
    cam_after_range: Pair = field(metadata=MM)
    hardness: Pair = field(metadata=called("hardness_after_HB"))
    heat_cost: dict[str, Any] | None = None
    costs: tuple[str, ...] = field(default=(), metadata=LEFT_OUT)
    caveats: tuple[str, ...] = ()

    def to_plain(self) -> dict[str, Any]:
        """Return the round as JSON scalars, with how far each line moved."""
        moved = {line: 1e3 * (after - self.before[line]) for line, after in self.after.items()}
        return Answer.to_plain(self) | {"change_of_bow_mm": moved}


@dataclass(frozen=True, slots=True, kw_only=True)
class SectionTrial:
    """The section a trial was computed for: bending stiffness [N m2], shear stiffness [N], neutral axis [m]."""

    bending_stiffness: float = field(metadata=called("EI_N_m2"))
    shear_stiffness: float = field(metadata=called("kGA_N"))
    neutral_axis: float = field(metadata=MM)


@dataclass(frozen=True, slots=True, kw_only=True)
class TrialReport(Answer):
    """All rounds of a trial, with the section it was computed for; `dangers` those of the caveats that forbid it."""

    schema: ClassVar[str] = "try/1"
    head: str
    system: System = field(metadata=LEFT_OUT)
    section: SectionTrial
    rounds: tuple[RoundTrial, ...]
    dangers: tuple[str, ...]
    caveats: tuple[str, ...]


def trial_text(report: TrialReport) -> str:
    """Return the trial as text."""
    title = f"TRY   {report.head}: what this set-up would do by the nominal model; nothing is recorded"
    rounds = (block(f"ROUND {r.number}", _lines(report, r)) for r in report.rounds)
    told = {*report.dangers, *(line for r in report.rounds for line in r.caveats)}
    rest = [line for line in report.caveats if line not in told]
    return page(wrap(title), block("DO NOT DO IT SO", report.dangers), *rounds, block("KEEP IN MIND", rest))


def _share(r: RoundTrial) -> str:
    if r.kept_share is None or r.movement is None:
        return " (no bend to keep a share of)"
    held = f"{1e3 * abs(r.movement):.3f} mm that clamp, bolts and base hold"
    return f" ({100 * r.kept_share:.1f} % of the {held})"


def _lines(report: TrialReport, r: RoundTrial) -> list[str]:
    system = report.system
    clamp = ""
    if r.bend is not None and r.force is not None and r.over_bend is not None:
        clamp = (
            f"clamp: bend imposed {show(r.bend, system)}, held past straight by {show(r.over_bend, system)}, "
            f"force {show_force(r.force, system=system)} in all"
        )
    spots = (
        f"{s.kind} at {show(s.station, system, big=True)} {s.side}: {show_temperature(s.peak, system)}, "
        f"{s.power:.0f} W absorbed, takes {1e3 * s.fall:.3f} mm in the middle, its own shrinkage and its kept bend together"
        for s in r.spots
    )
    lines = [
        clamp,
        *(line for line in r.caveats if line not in report.dangers),
        *spots,
        f"set: spots {1e3 * r.spots_set:.3f} mm, kept of the bend {1e3 * r.kept_set:.3f} mm{_share(r)}",
        "" if r.spots else f"hardness after: {r.hardness[0]:.0f} to {r.hardness[1]:.0f} HB",
        *(f"{x}: {1e3 * r.before[x]:.3f} mm before, {1e3 * r.after[x]:.3f} mm after" for x in r.after),
        f"deck after, 8 times in 10: {show_range(*r.deck_after_range, system)}",
        *r.costs,
    ]
    return [turned(line, system) for line in lines]
