"""From the checked tables of a head file to a `Head` in SI: defaults named, impossible geometry refused.

The limits and thresholds here stand where a head file gives none, each with its source. Published limits differ from engine
to engine; the maker's own figure in the head file always wins.
"""

from __future__ import annotations

from dataclasses import fields, replace
from typing import TYPE_CHECKING, Any, TypeVar

from straighten.errors import BadInput
from straighten.head.alloys import alloy_named, own_alloy
from straighten.head.equipment import engine_of, torch_of
from straighten.head.records import (
    SIDES,
    Base,
    Casting,
    Head,
    HeadBolt,
    KeepOff,
    Limits,
    Oven,
    Plates,
    Prices,
    ShimBlade,
    Side,
    Thresholds,
    Web,
    Wrench,
)
from straighten.sources import Cited
from straighten.units import Plausible, System, show, show_torque, turned

if TYPE_CHECKING:
    from straighten.head import file as tables

_Told = TypeVar("_Told", Limits, Thresholds)

DECK_OVERALL = Cited(
    76e-6,
    "m",
    "aluminium heads, 0.003 in overall: a trade page on resurfacing; makers range from 0.035 to 0.15 mm",
    "seen",
)
DECK_LOCAL = Cited(50e-6, "m", "0.002 in within any 6 in: one maker's reconditioning guide", "seen")
DECK_LOCAL_LENGTH = 0.150
CAM_LINE = Cited(
    50e-6,
    "m",
    "a straight cam turns free while the bow stays below its running clearance, 0.022 to 0.084 mm new",
    "derived",
)
TOWER_STEP = Cited(25e-6, "m", "one thou from a bore to the next: shop rule of thumb", "from memory")
LARGEST_REMOVAL = Cited(200e-6, "m", "0.20 mm in all: workshop texts of several makers", "seen")

THRESHOLDS = Thresholds(
    hardness_reject=Cited(65.0, "HB", "scrap below 65 HB: two engine-shop pages; a third says 70", "seen"),
    hardness_doubt=Cited(
        75.0, "HB", "the average of sound heads should be 75 HB or more: a rebuilders' thread", "seen"
    ),
    hardness_drop=Cited(10.0, "HB", "more than 10 HB lost since intake: stop", "common practice, no source"),
    largest_bow=Cited(
        1.0e-3, "m", "above about 1 mm (40 thou) hand it to a specialist", "common practice, no source"
    ),
    largest_twist=Cited(
        0.10e-3, "m", "twist above 0.10 mm (4 thou) seldom comes out", "common practice, no source"
    ),
    straighten_from=Cited(
        0.08e-3, "m", "from 0.003 in up straighten before facing: a machine shop's page", "seen"
    ),
    stop_bending=Cited(
        0.05e-3, "m", "the last 0.05 to 0.10 mm is sanded, not bent", "common practice, no source"
    ),
    most_passes=Cited(3, "passes", "one to three cycles are usual", "common practice, no source"),
    least_gain=Cited(0.20, "of the bend", "gain under 20 % of the bend: stop", "common practice, no source"),
)

LEAST_TORQUE = Cited(5.0, "Nm", "a small and a half-inch wrench together", "common practice, no source")
MOST_TORQUE = Cited(110.0, "Nm", "a small and a half-inch wrench together", "common practice, no source")
ROOF = Cited(8e-3, "m", "cam-side wall of a sand- or gravity-cast head; not measured", "assumed")
DECK = Cited(10e-3, "m", "deck wall of a sand- or gravity-cast head; not measured", "assumed")

MOST_BOLTS = 80  # of a head; twice those of the longest
_LENGTH = Plausible(0.15, 1.2)
_WIDTH = Plausible(0.03, 0.5)
_HEIGHT = Plausible(0.03, 0.3)
_WALL = Plausible(1.5e-3, 0.05)
_LIMIT = Plausible(0.01e-3, 0.6e-3)
_REMOVAL = Plausible(0.0, 2.0e-3)
_BLADE = Plausible(0.01e-3, 5e-3)
_BASE = Plausible(8e-3, 0.6)
_TORQUE = Plausible(0.5, 1000.0)


def head_of(file: tables.HeadFile, system: System) -> Head:
    """Return the head that a checked file describes.

    Raises:
        BadInput: impossible geometry, a size no head has, a table that contradicts another; key named.
    """
    assumed: list[str] = []
    casting = _casting(file.casting, assumed)
    front, rear = _shim_stations(file.shims, casting, assumed)
    torches = file.torch if isinstance(file.torch, list) else [file.torch] if file.torch else []
    tips = tuple(torch_of(table, assumed) for table in torches)
    bases = tuple(_base(t, casting) for t in (file.base if isinstance(file.base, list) else [file.base]))
    return Head(
        name=file.name,
        system=system,
        casting=casting,
        alloy=alloy_named(file.casting.alloy) if file.alloy is None else own_alloy(file.alloy),
        limits=_of_system(_limits(file.limits, casting, assumed), system),
        thresholds=_of_system(_thresholds(file.thresholds), system),
        towers=_stations(file.cam.towers, casting.length, "cam.towers"),
        cam_lines=file.cam.lines,
        cam_height=casting.height if file.cam.height is None else file.cam.height,
        bolts=_bolts(file.bolts, casting),
        base=bases[0],
        spare_bases=bases[1:],
        wrench=_wrench(file.wrench, assumed),
        front_shim=front,
        rear_shim=rear,
        shim_blades=_shim_blades(file.shims),
        gauge_blades=_gauge_blades(file.gauge.blades),
        torch=tips[0] if tips else None,
        spare_tips=tips[1:],
        oven=_oven(file.oven),
        spot_rows=_spot_rows(file, casting, assumed),
        keep_off=_keep_off(file.spots),
        magnesium=file.casting.magnesium,
        engine=engine_of(file.engine, casting),
        prices=_prices(file.prices),
        assumed=tuple(turned(line, system) for line in assumed),
    )


def _casting(table: tables.CastingTable, assumed: list[str]) -> Casting:
    length = _LENGTH.at(table.length, "casting.length")
    width = _WIDTH.at(table.width, "casting.width")
    height = _HEIGHT.at(table.height, "casting.height")
    if length < 1.5 * width:
        raise BadInput(
            f"length {show(length, big=True)} is under 1.5 times the width {show(width, big=True)}",
            where="casting.length",
            fix="Length runs along the cam line; are the two swapped?",
        )
    webs = tuple(Web(**web.model_dump()) for web in table.webs)
    _stations([w.station for w in webs], length, "casting.webs")
    plates = None if table.plates is None else _plates(table.plates, (width, height), webs)
    of_plates = (None, None) if plates is None else (plates.roof, plates.deck)
    roof, roof_assumed = _wall(table.roof_thickness, of_plates[0], ROOF, "roof thickness", assumed)
    deck, _ = _wall(table.deck_thickness, of_plates[1], DECK, "deck thickness", assumed)
    if plates is not None and plates.solid:
        roof, roof_assumed = height, False
    elif roof + deck >= 0.8 * height:
        walls = f"roof {show(roof, big=True)} and deck {show(deck, big=True)}"
        raise BadInput(f"{walls} fill the height {show(height, big=True)}", where="casting.roof_thickness")
    if table.mass is not None:
        _check_mass(table.mass, length * width * height)
    return Casting(
        length=length, width=width, height=height, mass=table.mass, plates=plates,
        roof=roof, roof_assumed=roof_assumed, deck=deck, webs=webs,
    )  # fmt: skip


def _wall(
    given: float | None, of_plates: float | None, default: Cited[float], name: str, assumed: list[str]
) -> tuple[float, bool]:
    if given is not None:
        return _WALL.at(given, f"casting.{name.replace(' ', '_')}"), False
    if of_plates:
        return of_plates, False
    if of_plates is None:
        assumed.append(f"{name} {show(default.value, big=True)} ({default.told})")
    return default.value, True


def _plates(table: tables.PlatesTable, outline: tuple[float, float], webs: tuple[Web, ...]) -> Plates:
    if table.solid:
        return Plates(solid=True)
    for key in ("deck", "roof", "side_walls"):
        _WALL.at(getattr(table, key), f"casting.plates.{key}")
    width, height = outline
    if table.deck + table.roof >= height or 2 * table.side_walls >= width:
        problem, fix = "the plates fill more than the outline", "Use solid = true for a full bar."
        raise BadInput(problem, where="casting.plates", fix=fix)
    return Plates(**table.model_dump(), webs=webs)


# A hollow casting of aluminium fills 12 to 90 % of its outline; magnesium and iron fall outside with the same sizes.
_SOLID_FRACTION = (0.12, 1.0)
_DENSITY = 2700.0


def _check_mass(mass: float, outline: float) -> None:
    fraction = mass / (_DENSITY * outline)
    low, high = _SOLID_FRACTION
    if not low <= fraction <= high:
        slip = "Is it in pounds?" if low <= fraction * 0.4536 <= high else ""
        raise BadInput(
            f"a mass of {mass:.1f} kg fills {100 * fraction:.0f} % of the outline with aluminium; allowed is 12 to 100 %",
            where="casting.mass",
            fix=slip or "Check length, width, height and the stripped mass.",
        )


def _stations(found: list[float], length: float, key: str) -> tuple[float, ...]:
    for number, station in enumerate(found, start=1):
        if not 0 <= station <= length:
            raise BadInput(
                f"station {number} is {show(station, big=True)}; the head runs from 0 to {show(length, big=True)}",
                where=key,
                fix="Stations are measured from the front end.",
            )
    if len(set(found)) != len(found):
        raise BadInput("the same station stands twice", where=key)
    return tuple(sorted(found))


def _shim_stations(table: tables.ShimsTable, casting: Casting, assumed: list[str]) -> tuple[float, float]:
    inset = 0.010
    front = inset if table.front_station is None else table.front_station
    rear = casting.length - inset if table.rear_station is None else table.rear_station
    if table.front_station is None or table.rear_station is None:
        assumed.append(f"shims {show(inset, big=True)} from the ends, under the end walls (assumed)")
    _stations([front, rear], casting.length, "shims")
    if front > 0.25 * casting.length or rear < 0.75 * casting.length:
        raise BadInput("the shims belong under the end quarters of the head", where="shims.front_station")
    return front, rear


def _shim_blades(table: tables.ShimsTable) -> tuple[ShimBlade, ...]:
    for number, blade in enumerate(table.blades, start=1):
        _BLADE.check(blade.thickness, f"shims.blades: blade {number}")
    return tuple(ShimBlade(**blade.model_dump()) for blade in table.blades)


def _gauge_blades(blades: list[float]) -> tuple[float, ...]:
    for number, blade in enumerate(blades, start=1):
        _BLADE.check(blade, f"gauge.blades: blade {number}")
    return tuple(sorted(set(blades)))


def _bolts(rows: list[tables.BoltsTable], casting: Casting) -> tuple[HeadBolt, ...]:
    bolts = [
        HeadBolt(station=station, side=side, **row.model_dump(exclude={"stations", "side"}))
        for row in rows
        for station in _stations(row.stations, casting.length, "bolts.stations")
        for side in _sides(row.side)
    ]
    if len(bolts) > MOST_BOLTS:
        raise BadInput(f"{len(bolts)} bolts in all rows; at most {MOST_BOLTS} are taken", where="bolts")
    places = [(b.station, b.side) for b in bolts]
    if len(set(places)) != len(places):
        raise BadInput("two bolts stand in the same place", where="bolts")
    return tuple(sorted(bolts, key=lambda b: (b.station, b.side)))


def _sides(name: str) -> tuple[Side, ...]:
    return SIDES if name == "both" else tuple(side for side in SIDES if side == name)


def _base(table: tables.BaseTable, casting: Casting) -> Base:
    if table.kind != "rigid" and table.thickness is None:
        raise BadInput(f"a {table.kind} needs its thickness", where="base.thickness")
    if table.thickness is not None:
        _BASE.at(table.thickness, "base.thickness")
    usual: dict[str, Any] = {"thickness": 1.0, "width": casting.width, "length": casting.length}
    return Base(**usual | table.model_dump(exclude_none=True))


def _wrench(table: tables.WrenchTable | None, assumed: list[str]) -> Wrench:
    if table is None:
        low, high = LEAST_TORQUE, MOST_TORQUE
        assumed.append(f"torque wrench {show_torque(low.value)} to {show_torque(high.value)} ({low.told})")
        return Wrench(least=low.value, most=high.value)
    least = _TORQUE.at(table.least, "wrench.least")
    most = _TORQUE.at(table.most, "wrench.most")
    if most < 2 * least:
        scale = f"{show_torque(least)} to {show_torque(most)} is no wrench's scale"
        raise BadInput(scale, where="wrench.most")
    return Wrench(least=least, most=most)


def _oven(table: tables.OvenTable | None) -> Oven | None:
    if table is None:
        return None
    if not 100 <= table.hottest <= 400:
        hottest = f"hottest setting {table.hottest:.0f} C; allowed is 100 to 400 C"
        raise BadInput(hottest, where="oven.hottest")
    if not 600 <= table.longest <= 200 * 3600:
        longest = f"longest soak {table.longest / 3600:g} h; allowed is 10 min to 200 h"
        raise BadInput(longest, where="oven.longest")
    return Oven(hottest=table.hottest, longest=table.longest, error=table.error_K)


def _spot_rows(file: tables.HeadFile, casting: Casting, assumed: list[str]) -> float:
    if file.spots is None:
        if file.torch is not None:
            assumed.append("heat-spot rows a fifth of the width from the middle (assumed)")
        return 0.2 * casting.width
    if not 0 <= file.spots.rows <= 0.5 * casting.width:
        raise BadInput(
            f"rows {show(file.spots.rows, big=True)} from the middle; the head ends at {show(casting.width / 2, big=True)}",
            where="spots.rows",
        )
    return file.spots.rows


def _keep_off(table: tables.SpotsTable | None) -> tuple[KeepOff, ...]:
    return tuple(
        KeepOff(side=side, **place.model_dump(exclude={"side"}))
        for place in (table.keep_off if table else ())
        for side in _sides(place.side)
    )


def _limits(table: tables.LimitsTable, casting: Casting, assumed: list[str]) -> Limits:
    def pick(key: str, default: Cited[float], source: str | None, range_: Plausible) -> Cited[float]:
        given = getattr(table, key)
        if given is None:
            named = f"{key.replace('_', ' ')} {show(default.value)}"
            assumed.append(f"{named} ({default.told})")
            return default
        return Cited(range_.at(given, f"limits.{key}"), "m", source or table.source, "given")

    least = table.least_height
    if least is not None and not 0.5 * casting.height <= least <= 1.1 * casting.height:
        raise BadInput(
            f"least height {show(least, big=True)} does not fit a head {show(casting.height, big=True)} high",
            where="limits.least_height",
        )
    of_removal = table.removal_source
    return Limits(
        deck_overall=pick("deck_overall", DECK_OVERALL, table.deck_source, _LIMIT),
        deck_local=pick("deck_local", DECK_LOCAL, table.deck_source, _LIMIT),
        deck_local_length=table.deck_local_length or DECK_LOCAL_LENGTH,
        cam_line=pick("cam_line", CAM_LINE, table.cam_source, _LIMIT),
        tower_step=pick("tower_step", TOWER_STEP, table.cam_source, _LIMIT),
        least_height=None if least is None else Cited(least, "m", of_removal or table.source, "given"),
        largest_removal=pick("largest_removal", LARGEST_REMOVAL, of_removal, _REMOVAL),
        removed_before=_REMOVAL.at(table.removed_before, "limits.removed_before"),
    )


def _of_system(table: _Told, system: System) -> _Told:
    """Return limits or thresholds whose sources tell lengths in the person's own unit first."""
    cited = {f.name: told for f in fields(table) if isinstance(told := getattr(table, f.name), Cited)}
    own: dict[str, Any] = {name: replace(c, source=turned(c.source, system)) for name, c in cited.items()}
    return replace(table, **own)


def _thresholds(table: tables.ThresholdsTable) -> Thresholds:
    given = table.model_dump(exclude_none=True)
    own: dict[str, Any] = {
        key: Cited(value, getattr(THRESHOLDS, key).unit, "given in the head file", "given")
        for key, value in given.items()
    }
    return replace(THRESHOLDS, **own)


def _prices(table: tables.PricesTable) -> Prices:
    given = table.model_dump(exclude_none=True)
    return Prices(**given, assumed=tuple(key for key in type(table).model_fields if key not in given))
