"""The set-up file: a pass as a person writes it, for `try` and for logging what was really done.

A key, a value or a set-up that cannot be is refused with `BadInput`, and so is what is due and left out.
"""

from dataclasses import replace
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field, model_validator

from straighten.clamp import ClampSetup
from straighten.clamp.bolts import FRICTION, tension_from, thread_of
from straighten.errors import BadInput, located
from straighten.filecheck import Duration, Gap, Length, Power, Table, Temperature, Torque, checked
from straighten.head.records import SIDES, Head, Side
from straighten.heat import HeatSpot, HeatStroke, Soak, Treatment
from straighten.heat.torch import MOST_AT_ONCE, check_sense
from straighten.plan.candidates import middle_bolts
from straighten.plan.records import PassSetup
from straighten.units import Plausible, System, show

MOST_SPOTS = 60  # of one pass, both sides; the trade makes 4 to 16 (common practice, no source)
MOST_FIRES = 4 * MOST_AT_ONCE.value  # of all heats of a file: each takes 40 ms, and a minute is the most
NEAR = 5e-3  # m: a pull station names the bolts this near
_SHIM = Plausible(0.0, 5e-3)
_BOW = Plausible(-3e-3, 3e-3)


class ClampTable(Table):
    """Shims and pull."""

    shims: Gap | None = None
    front_shims: Gap | None = None
    rear_shims: Gap | None = None
    corners: Annotated[list[Gap], Field(min_length=4, max_length=4)] | None = None
    pull_at: list[Length] | None = None
    gap: Gap | None = None
    torque: Torque | None = None
    reverse: bool = False

    @property
    def shimless(self) -> bool:
        """Whether it tells no shims."""
        return all(s is None for s in (self.shims, self.front_shims, self.rear_shims, self.corners))


def _renamed(found: object) -> object:
    """Take `flux_radius`, the key of older set-up files, for `flame_radius`."""
    if isinstance(found, dict) and "flux_radius" in found and "flame_radius" not in found:
        return {("flame_radius" if key == "flux_radius" else key): value for key, value in found.items()}
    return found


class _Flame(Table):
    """A table that names a flame."""

    _older = model_validator(mode="before")(_renamed)


class SpotTable(_Flame):
    """Like heat spots: burning together, or one by one in the order of the stations, sides in turn.

    Tables follow one another; `pause` is the wait before each new fire. `heated_before` counts heats of the same places
    by the same flame in the same clamp before this file begins.
    """

    stations: list[Length] = Field(min_length=1, max_length=MOST_SPOTS)
    side: Literal["exhaust", "inlet", "both"] = "both"
    across: Length | None = None
    flame_radius: Length
    dwell: Duration
    peak: Temperature | None = None
    absorbed_power: Power | None = None
    heated_before: Annotated[int, Field(ge=0, le=5)] = 0
    together: bool = True
    pause: Duration = 600.0


class StrokeTable(_Flame):
    """Like strokes: the torch drawn from `across_from` to `across_to` off the middle line, along the head where `stations_to` are given.

    Burning together, or one by one; `passes` over each line with `pause` between them; tables follow one another after
    `wait`.
    """

    stations: list[Length] = Field(min_length=1, max_length=MOST_SPOTS)
    stations_to: list[Length] | None = Field(default=None, max_length=MOST_SPOTS)
    side: Literal["exhaust", "inlet", "both"] = "both"
    across_from: Length
    across_to: Length
    flame_radius: Length
    time: Duration
    peak: Temperature | None = None
    absorbed_power: Power | None = None
    passes: Annotated[int, Field(ge=1, le=20)] = 1
    pause: Duration = 0.0
    together: bool = True
    wait: Duration = 600.0


class SoakTable(Table):
    """The oven."""

    temperature: Temperature
    hold: Duration
    heat_up: Duration = 0.0
    cool_down: Duration = 0.0


class HeatTable(Table):
    """One heat of a sequence: the head is clamped, heated, cooled and released."""

    clamp: ClampTable | None = None
    spots: list[SpotTable] = Field(default=[], max_length=MOST_SPOTS)
    strokes: list[StrokeTable] = Field(default=[], max_length=MOST_SPOTS)
    soak: SoakTable | None = None

    @property
    def hot(self) -> bool:
        """Whether anything is heated."""
        return bool(self.spots or self.strokes) or self.soak is not None


class SetupFile(HeatTable):
    """A whole set-up file: one heat, done `rounds` times, or a sequence of heats."""

    units: str = "mm"
    head: Annotated[str, Field(max_length=300)] | None = None
    bow_before: Gap | None = None
    deck_bow_before: Gap | None = None
    cam_bow_before: Gap | None = None
    rounds: Annotated[int, Field(ge=1, le=4)] = 1
    heat: list[HeatTable] = Field(default=[], max_length=12)
    heated: bool = True

    @property
    def tells_heat(self) -> bool:
        """Whether the file says what was heated, or that nothing was."""
        return self.hot or not self.heated


def setup_file(data: object, *, where: str, system: System, planned: PassSetup | None = None) -> SetupFile:
    """Return the checked set-up file; what `planned` tells it may leave out."""
    file = checked(SetupFile, data, where=where, system=system)
    if file.heat and (file.clamp or file.hot or file.rounds > 1):
        raise BadInput(
            "[[heat]] tables and a heat outside them",
            where=where,
            fix="Put clamp, spots, strokes and soak into [[heat]].",
        )
    if not file.heated and (file.heat or file.hot):
        raise BadInput("heated = false beside a heat", where=f"{where}: heated", fix="Keep one of the two.")
    for number, heat in enumerate(file.heat or [file], start=1):
        _one_kind(heat, f"{where}: heat {number}" if file.heat else where, planned)
    return file


def _one_kind(heat: HeatTable, where: str, planned: PassSetup | None) -> None:
    if (heat.spots or heat.strokes) and heat.soak is not None:
        raise BadInput("heat spots and a soak in one pass", where=where, fix="Give one of the two.")
    if heat.clamp is None and heat.soak is not None and planned is None:
        raise BadInput(
            "a soak without a clamp straightens nothing", where=f"{where}: soak", fix="Add a [clamp] table."
        )


def done_of(
    file: SetupFile, head: Head, where: str, planned: PassSetup | None
) -> tuple[PassSetup, tuple[str, ...]]:
    """Return what was done, told as differences from the card, and what was taken from the card since it was left out."""
    if planned is None:
        if not file.tells_heat:
            fix = "Give [[spots]] or [soak], or heated = false where nothing was heated."
            raise BadInput("no heat is given and there is no card to take it from", where=where, fix=fix)
        return setup_of(file, head, where), ()
    taken: list[str] = []
    told = setup_of(file, head, where, planned.clamp)
    if file.clamp is None:
        taken.append("no clamp given: clamped as on the card")
        told = replace(told, clamp=planned.clamp)
    elif planned.clamp is not None and (left_out := _left_out(file.clamp)):
        taken.append(f"no {left_out} given: as on the card")
    if not file.tells_heat:
        taken.append("no heat given: heated as on the card")
        told = replace(told, spots=planned.spots, soak=planned.soak)
    return told, tuple(taken)


def _left_out(table: ClampTable) -> str:
    """Name what a clamp table does not tell."""
    parts = {
        "shims": table.shimless,
        "pulled stations": table.pull_at is None,
        "gap": table.gap is None and table.torque is None,
    }
    return ", ".join(name for name, missing in parts.items() if missing)


def setup_of(file: SetupFile, head: Head, where: str, card: ClampSetup | None = None) -> PassSetup:
    """Return the pass that a set-up file describes; what its clamp leaves out is taken from the card's, where there is one."""
    if file.heat:
        raise BadInput(
            "a sequence of heats where one pass is asked for", where=where, fix="Log the heats one by one."
        )
    return _one_heat(file, head, where, card)


def heats_of(file: SetupFile, head: Head, where: str) -> tuple[PassSetup, ...]:
    """Return the heats of a set-up file in order: its sequence, or its one heat `rounds` times."""
    several = (_one_heat(heat, head, f"{where}: heat {n}") for n, heat in enumerate(file.heat, start=1))
    heats = tuple(several) or (_one_heat(file, head, where),) * file.rounds
    _refuse_many(sum(len(h.spots) for h in heats), MOST_FIRES, "in all heats", "Try the first ones alone.")
    return heats


def heated_before(file: SetupFile, head: Head, where: str) -> tuple[PassSetup, ...]:
    """Return the heats that spots marked `heated_before` have had before the file begins."""
    first = file.heat[0] if file.heat else file
    most = max((table.heated_before for table in first.spots), default=0)
    if not most:
        return ()
    again = [t for t in first.spots if t.heated_before]
    before = _one_heat(first.model_copy(update={"spots": again, "strokes": []}), head, where)
    return (before,) * most


def _one_heat(heat: HeatTable, head: Head, where: str, card: ClampSetup | None = None) -> PassSetup:
    with located(where):
        treatments = _all_treatments(heat, head)
        if treatments:
            check_sense(head, treatments)
        return PassSetup(
            clamp=None if heat.clamp is None else _clamp(heat.clamp, head, card),
            spots=treatments,
            soak=None if heat.soak is None else _soak(heat.soak),
        )


def _clamp(table: ClampTable, head: Head, card: ClampSetup | None) -> ClampSetup:
    bolts = card.bolts if card is not None and table.pull_at is None else _bolts(table, head)
    tension = None
    if table.torque is not None:
        if table.gap is not None:
            raise BadInput("gap and torque are given; the clamp stops at one of them", where="clamp.gap")
        tension = float(tension_from(table.torque, thread_of(head.bolts[bolts[0]].thread), FRICTION.value))
    gap = table.gap if table.gap is not None or card is None else card.gap
    return ClampSetup(
        shims=card.shims if card is not None and table.shimless else _corners(table),
        bolts=bolts,
        gap=None if tension is not None else (gap or 0.0),
        tension=tension,
        reverse=table.reverse or (card is not None and card.reverse),
    )


def _corners(table: ClampTable) -> tuple[float, float, float, float]:
    front, rear = (
        (table.shims if own is None else own) or 0.0 for own in (table.front_shims, table.rear_shims)
    )
    a, b, c, d = table.corners or (front, front, rear, rear)
    for height in (a, b, c, d):
        _SHIM.check(height, "shim height", where="clamp.shims")
    return a, b, c, d


def _bolts(table: ClampTable, head: Head) -> tuple[int, ...]:
    if table.pull_at is None:
        return middle_bolts(head)
    chosen: list[int] = []
    for station in table.pull_at:
        near = [n for n, bolt in enumerate(head.bolts) if abs(bolt.station - station) <= NEAR]
        if not near:
            raise BadInput(
                f"no bolt at {show(station, big=True)}",
                where="clamp.pull_at",
                fix="Stations of bolts: "
                + ", ".join(show(s, head.system, big=True) for s in sorted({b.station for b in head.bolts}))
                + ".",
            )
        chosen += near
    return tuple(sorted(set(chosen)))


def _all_treatments(heat: HeatTable, head: Head) -> tuple[Treatment, ...]:
    """Spots first, then strokes, each fire after the one before; counted before they are made."""
    tables: list[SpotTable | StrokeTable] = [*heat.spots, *heat.strokes]
    count = sum(len(table.stations) * (2 if table.side == "both" else 1) for table in tables)
    _refuse_many(count, MOST_AT_ONCE.value, "in one heat", "Give several [[heat]] tables.")
    found: list[Treatment] = []
    clock = 0.0
    for table in tables:
        wait = table.pause if isinstance(table, SpotTable) else table.wait
        for number, one in enumerate(_made(table, head)):
            if found and (number == 0 or not table.together):
                clock += wait + (one.dwell if isinstance(one, HeatSpot) else one.lasts)
            found.append(replace(one, start=clock))
    return tuple(found)


def _refuse_many(count: int, most: int, where: str, fix: str) -> None:
    if count > most:
        raise BadInput(f"{count} spots and strokes {where}; {most} are the most", where="spots", fix=fix)


def _made(table: SpotTable | StrokeTable, head: Head) -> list[Treatment]:
    """The spots or strokes of one table, stations in order, sides in turn."""
    ends = _ends_of(table)
    for station in (*table.stations, *ends):
        if not 0 <= station <= head.casting.length:
            raise BadInput(f"station {show(station, big=True)} lies outside the head", where="spots.stations")
    sides: tuple[Side, ...] = SIDES if table.side == "both" else (table.side,)
    return [
        _one(table, x, last, side) for x, last in zip(table.stations, ends, strict=True) for side in sides
    ]


def _ends_of(table: SpotTable | StrokeTable) -> list[float]:
    if isinstance(table, SpotTable) or table.stations_to is None:
        return table.stations
    if len(table.stations_to) != len(table.stations):
        raise BadInput("as many stations_to as stations are needed", where="strokes.stations_to")
    return table.stations_to


def _one(table: SpotTable | StrokeTable, station: float, last: float, side: Side) -> Treatment:
    if isinstance(table, SpotTable):
        return HeatSpot(
            station=station, side=side, radius=table.flame_radius, dwell=table.dwell, peak=table.peak,
            power=table.absorbed_power, across=table.across,
        )  # fmt: skip
    return HeatStroke(
        station=station, side=side, across_from=table.across_from, across_to=table.across_to, radius=table.flame_radius,
        time=table.time, station_to=None if last == station else last, peak=table.peak, power=table.absorbed_power,
        passes=table.passes, pause=table.pause,
    )  # fmt: skip


def _soak(table: SoakTable) -> Soak:
    if not 60 <= table.temperature <= 420:
        raise BadInput(f"soak at {table.temperature:.0f} C; allowed is 60 to 420 C", where="soak.temperature")
    if not 0 <= table.hold <= 300 * 3600:
        raise BadInput(f"hold of {table.hold / 3600:g} h; allowed is 0 to 300 h", where="soak.hold")
    return Soak(**table.model_dump())


def bows_before(file: SetupFile, where: str) -> tuple[float, float]:
    """Return deck and cam-line bow before the pass [m]."""
    deck = file.bow_before if file.deck_bow_before is None else file.deck_bow_before
    cam = deck if file.cam_bow_before is None else file.cam_bow_before
    if deck is None or cam is None:
        raise BadInput("the bow before is missing", where=where, fix='Add bow_before = "0.40 mm".')
    for value in (deck, cam):
        _BOW.check(value, "bow", where=f"{where}: bow_before")
    return deck, cam


def head_path(file: SetupFile, setup: Path) -> Path:
    """Return the head file that a set-up names, relative to itself."""
    if file.head is None:
        raise BadInput("the head is missing", where=str(setup), fix='Add head = "head.toml".')
    return setup.parent / file.head
