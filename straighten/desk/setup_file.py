"""The set-up file: a pass as a person writes it, for `try` and for logging what was really done."""

from dataclasses import replace
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field

from straighten.clamp import ClampSetup
from straighten.errors import BadInput
from straighten.filecheck import Duration, Gap, Length, Power, Table, Temperature, Torque, checked
from straighten.head.records import SIDES, Head, Side
from straighten.heat import HeatSpot, Soak
from straighten.plan.records import PassSetup
from straighten.units import Plausible, System, show

MOST_SPOTS = 60  # of one pass, both sides; the trade makes 4 to 16 (common practice, no source)
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


class SpotTable(Table):
    """Like heat spots: burning together, or one by one in the order of the stations, sides in turn.

    Tables follow one another; `pause` is the wait before each new fire.
    """

    stations: list[Length] = Field(min_length=1, max_length=60)
    side: Literal["exhaust", "inlet", "both"] = "both"
    across: Length | None = None
    flux_radius: Length
    dwell: Duration
    peak: Temperature | None = None
    absorbed_power: Power | None = None
    heated_before: Annotated[int, Field(ge=0, le=5)] = 0
    together: bool = True
    pause: Duration = 600.0


class SoakTable(Table):
    """The oven."""

    temperature: Temperature
    hold: Duration
    heat_up: Duration = 0.0
    cool_down: Duration = 0.0


class SetupFile(Table):
    """A whole set-up file."""

    units: str = "mm"
    head: Annotated[str, Field(max_length=300)] | None = None
    bow_before: Gap | None = None
    deck_bow_before: Gap | None = None
    cam_bow_before: Gap | None = None
    rounds: Annotated[int, Field(ge=1, le=4)] = 1
    clamp: ClampTable | None = None
    spots: list[SpotTable] = Field(default=[], max_length=60)
    soak: SoakTable | None = None
    heated: bool = True

    @property
    def tells_heat(self) -> bool:
        """Whether the file says what was heated, or that nothing was."""
        return bool(self.spots) or self.soak is not None or not self.heated


def setup_file(data: object, *, where: str, system: System, planned: PassSetup | None = None) -> SetupFile:
    """Return the checked set-up file; what `planned` tells it may leave out.

    Raises:
        BadInput: a key or a value makes no sense.
    """
    file = checked(SetupFile, data, where=where, system=system)
    if not file.heated and (file.spots or file.soak is not None):
        raise BadInput("heated = false beside a heat", where=f"{where}: heated", fix="Keep one of the two.")
    if file.spots and file.soak is not None:
        raise BadInput("heat spots and a soak in one pass", where=where, fix="Give one of the two.")
    if file.clamp is None and file.soak is not None and planned is None:
        raise BadInput(
            "a soak without a clamp straightens nothing", where=f"{where}: soak", fix="Add a [clamp] table."
        )
    return file


def done_of(
    file: SetupFile, head: Head, where: str, planned: PassSetup | None
) -> tuple[PassSetup, tuple[str, ...]]:
    """Return what was done, told as differences from the card, and what was taken from the card since it was left out.

    Raises:
        BadInput: as `setup_of`; or no heat is told and there is no card to take it from.
    """
    if planned is None:
        if not file.tells_heat:
            raise BadInput(
                "no heat is given and there is no card to take it from",
                where=where,
                fix="Give [[spots]] or [soak], or heated = false where nothing was heated.",
            )
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
    shims = (table.shims, table.front_shims, table.rear_shims, table.corners)
    parts = {
        "shims": all(s is None for s in shims),
        "pulled stations": table.pull_at is None,
        "gap": table.gap is None and table.torque is None,
    }
    return ", ".join(name for name, missing in parts.items() if missing)


def setup_of(file: SetupFile, head: Head, where: str, card: ClampSetup | None = None) -> PassSetup:
    """Return the pass that a set-up file describes; what its clamp leaves out is taken from the card's, where there is one.

    Raises:
        BadInput: stations outside the head, no bolts where it pulls, shims or bows that cannot be.
    """
    try:
        return PassSetup(
            clamp=None if file.clamp is None else _clamp(file.clamp, head, card),
            spots=_all_spots(file.spots, head),
            soak=None if file.soak is None else _soak(file.soak),
        )
    except BadInput as fault:
        raise fault.at(where) from None


def _clamp(table: ClampTable, head: Head, card: ClampSetup | None) -> ClampSetup:
    bolts = card.bolts if card is not None and table.pull_at is None else _bolts(table, head)
    tension = None
    if table.torque is not None:
        if table.gap is not None:
            raise BadInput("gap and torque are given; the clamp stops at one of them", where="clamp.gap")
        from straighten.clamp.bolts import FRICTION, tension_from, thread_of

        tension = float(tension_from(table.torque, thread_of(head.bolts[bolts[0]].thread), FRICTION.value))
    gap = table.gap if table.gap is not None or card is None else card.gap
    shimless = all(s is None for s in (table.shims, table.front_shims, table.rear_shims, table.corners))
    return ClampSetup(
        shims=card.shims if card is not None and shimless else _corners(table),
        bolts=bolts,
        gap=None if tension is not None else (gap or 0.0),
        tension=tension,
        reverse=table.reverse or (card is not None and card.reverse),
    )


def _corners(table: ClampTable) -> tuple[float, float, float, float]:
    if table.corners is not None:
        heights = tuple(table.corners)
    else:
        front = table.shims if table.front_shims is None else table.front_shims
        rear = table.shims if table.rear_shims is None else table.rear_shims
        heights = (front or 0.0, front or 0.0, rear or 0.0, rear or 0.0)
    for height in heights:
        _checked(_SHIM, height, "shim height", "clamp.shims")
    a, b, c, d = heights
    return a, b, c, d


def _checked(limits: Plausible, value: float, what: str, key: str) -> None:
    try:
        limits.check(value, what)
    except BadInput as fault:
        raise fault.at(key) from None


def _bolts(table: ClampTable, head: Head) -> tuple[int, ...]:
    if table.pull_at is None:
        from straighten.plan.candidates import middle_bolts

        return middle_bolts(head)
    chosen: list[int] = []
    for station in table.pull_at:
        near = [n for n, bolt in enumerate(head.bolts) if abs(bolt.station - station) <= NEAR]
        if not near:
            raise BadInput(
                f"no bolt at {show(station, big=True)}",
                where="clamp.pull_at",
                fix="Stations of bolts: "
                + ", ".join(sorted({f"{1e3 * b.station:g}" for b in head.bolts}))
                + " mm.",
            )
        chosen += near
    return tuple(sorted(set(chosen)))


def _all_spots(tables: list[SpotTable], head: Head) -> tuple[HeatSpot, ...]:
    found: list[HeatSpot] = []
    clock = 0.0
    for table in tables:
        spots = _spots(table, head)
        if len(found) + len(spots) > MOST_SPOTS:
            raise BadInput(
                f"over {MOST_SPOTS} heat spots in all tables", where="spots", fix="A pass has 4 to 16."
            )
        for number, spot in enumerate(spots):
            if found and (number == 0 or not table.together):
                clock += table.pause + table.dwell
            found.append(replace(spot, start=clock))
    return tuple(found)


def _spots(table: SpotTable, head: Head) -> list[HeatSpot]:
    if (table.peak is None) == (table.absorbed_power is None):
        raise BadInput("give either peak or absorbed_power", where="spots")
    for station in table.stations:
        if not 0 <= station <= head.casting.length:
            raise BadInput(f"station {show(station, big=True)} lies outside the head", where="spots.stations")
    if not 1e-3 <= table.flux_radius <= 0.08:
        raise BadInput(
            f"flux radius {show(table.flux_radius, big=True)}; allowed is 1 to 80 mm",
            where="spots.flux_radius",
        )
    if not 0.2 <= table.dwell <= 600:
        raise BadInput(f"dwell {table.dwell:g} s; allowed is 0.2 to 600 s", where="spots.dwell")
    sides: tuple[Side, ...] = SIDES if table.side == "both" else (table.side,)
    return [
        HeatSpot(
            station=station, side=side, radius=table.flux_radius, dwell=table.dwell, peak=table.peak,
            power=table.absorbed_power, heated_before=table.heated_before, across=table.across,
        )
        for station in table.stations
        for side in sides
    ]  # fmt: skip


def _soak(table: SoakTable) -> Soak:
    if not 60 <= table.temperature <= 420:
        raise BadInput(f"soak at {table.temperature:.0f} C; allowed is 60 to 420 C", where="soak.temperature")
    if not 0 <= table.hold <= 300 * 3600:
        raise BadInput(f"hold of {table.hold / 3600:g} h; allowed is 0 to 300 h", where="soak.hold")
    return Soak(
        temperature=table.temperature, hold=table.hold, heat_up=table.heat_up, cool_down=table.cool_down
    )


def bows_before(file: SetupFile, where: str) -> tuple[float, float]:
    """Return deck and cam-line bow before the pass [m].

    Raises:
        BadInput: none is given, or a bow that no head has.
    """
    deck = file.bow_before if file.deck_bow_before is None else file.deck_bow_before
    cam = deck if file.cam_bow_before is None else file.cam_bow_before
    if deck is None or cam is None:
        raise BadInput("the bow before is missing", where=where, fix='Add bow_before = "0.40 mm".')
    for value in (deck, cam):
        _checked(_BOW, value, "bow", f"{where}: bow_before")
    return deck, cam


def head_path(file: SetupFile, setup: Path) -> Path:
    """Return the head file that a set-up names, relative to itself.

    Raises:
        BadInput: it names none.
    """
    if file.head is None:
        raise BadInput("the head is missing", where=str(setup), fix='Add head = "head.toml".')
    return setup.parent / file.head
