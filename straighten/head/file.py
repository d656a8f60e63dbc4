"""The head file as its owner writes it: tables, keys and what each may hold."""

from typing import Annotated, Literal

from pydantic import Discriminator, Field, Tag

from straighten.filecheck import (
    ONE_TABLE,
    TABLES,
    Angle,
    Duration,
    Gap,
    Length,
    Mass,
    Number,
    Power,
    Table,
    Temperature,
    Torque,
    Volume,
    one_or_many,
)

Count = Annotated[int, Field(ge=0, le=200)]
SideName = Literal["exhaust", "inlet", "both"]


class WebTable(Table):
    """A cross wall: where it stands and how thick it is."""

    station: Length
    thickness: Length


class PlatesTable(Table):
    """The section as plates; `solid = true` for a full bar."""

    deck: Length = 0.0
    roof: Length = 0.0
    side_walls: Length = 0.0
    end_walls: Length = 0.0
    solid: bool = False


class CastingTable(Table):
    """The bare casting."""

    length: Length
    width: Length
    height: Length
    mass: Mass | None = None
    alloy: str = Field(default="unknown", max_length=60)
    roof_thickness: Length | None = None
    deck_thickness: Length | None = None
    webs: list[WebTable] = Field(default=[], max_length=60)
    plates: PlatesTable | None = None
    magnesium: bool = False


class CreepTable(Table):
    """The owner's creep law: strain rate = A * stress**n at one temperature."""

    A_per_MPa_n_s: Number = Field(gt=0)
    n: Number = Field(ge=1, le=12)
    temperature: Temperature
    activation_kJ_per_mol: Number = Field(default=137.5, gt=0, lt=1000)


class AlloyTable(Table):
    """The owner's own alloy, curves as lists of the same length as `temperature_C`."""

    name: str = Field(default="own alloy", max_length=60)
    temperature_C: list[Number] = Field(min_length=1, max_length=60)
    E_GPa: list[Number]
    yield_MPa: list[Number]
    yield_soaked_MPa: list[Number] | None = None
    expansion_temperature_C: list[Number] | None = None
    expansion_1e6_per_K: list[Number]
    heat_temperature_C: list[Number] | None = None
    conductivity_W_per_mK: list[Number] | None = None
    heat_capacity_J_per_kgK: list[Number] | None = None
    density_kg_per_m3: Number = Field(default=2680.0, gt=1500, lt=4000)
    hardening_GPa: Number = Field(default=1.0, ge=0, lt=30)
    poisson: Number = Field(default=0.33, gt=0, lt=0.5)
    solidus: Temperature = 550.0
    hardness_HB: Number = Field(default=90.0, gt=20, lt=200)
    creep: CreepTable | None = None


class LimitsTable(Table):
    """What the finished head must keep, each with where it comes from."""

    deck_overall: Gap | None = None
    deck_local: Gap | None = None
    deck_local_length: Length | None = None
    cam_line: Gap | None = None
    tower_step: Gap | None = None
    least_height: Length | None = None
    largest_removal: Gap | None = None
    removed_before: Gap = 0.0
    source: str = Field(default="given in the head file", max_length=200)
    deck_source: str | None = Field(default=None, max_length=200)
    cam_source: str | None = Field(default=None, max_length=200)
    removal_source: str | None = Field(default=None, max_length=200)


class CamTable(Table):
    """The cam towers."""

    towers: list[Length] = Field(min_length=2, max_length=24)
    lines: Literal[1, 2] = 1
    height: Length | None = None


class BoltsTable(Table):
    """One row of like bolts."""

    stations: list[Length] = Field(min_length=1, max_length=40)
    side: SideName = "both"
    thread: str = Field(max_length=30)
    grade: str = Field(max_length=20)
    stretch: bool = False
    lubricated: bool = True
    engagement: Length | None = None
    through: bool = False
    washer: Length | None = None


class BaseTable(Table):
    """What the head is bolted to."""

    kind: Literal["rigid", "plate", "block"]
    thickness: Length | None = None
    width: Length | None = None
    length: Length | None = None
    material: Literal["steel", "aluminium", "iron"] = "steel"
    dome: Gap = 0.0


class WrenchTable(Table):
    """The torque wrench: the least and the most it can be set to."""

    least: Torque
    most: Torque


class BladeTable(Table):
    """Blades or strips of one thickness for the shim stacks."""

    thickness: Gap
    count: Count = 2
    material: Literal["steel", "brass", "aluminium", "other"] = "steel"


class ShimsTable(Table):
    """Where the shims stand and what there is to stack."""

    front_station: Length | None = None
    rear_station: Length | None = None
    blades: list[BladeTable] = Field(min_length=1, max_length=60)


class GaugeTable(Table):
    """The feeler blades for gauging."""

    blades: list[Gap] = Field(min_length=2, max_length=80)


class RingTable(Table):
    """A ring of a flame trial: how far out a crayon had melted after so long under the still flame."""

    crayon: Temperature
    radius: Length
    after: Duration


class TorchTable(Table):
    """The torch as its owner knows it."""

    tip: str = Field(default="", max_length=40)
    flame_radius: Length
    largest_radius: Length | None = None
    dwell: Duration = 4.0
    peak: Temperature = 450.0
    absorbed_power: Power | None = None
    crayon: Temperature | None = None
    crayon_after: Duration | None = None
    unmelted_crayon: Temperature | None = None
    unmelted_after: Duration | None = None
    rings: list[RingTable] = Field(default=[], max_length=20)


class OvenTable(Table):
    """The oven."""

    hottest: Temperature
    longest: Duration = 18000.0
    error_K: Number = Field(default=10.0, ge=0, le=100)


class KeepOffTable(Table):
    """A place that must not be heated."""

    station: Length
    side: SideName = "both"
    radius: Length
    reason: str = Field(max_length=100)


class SpotsTable(Table):
    """Where heat spots may go."""

    rows: Length
    keep_off: list[KeepOffTable] = Field(default=[], max_length=60)


class EngineTable(Table):
    """What the head sits on."""

    cylinders: Annotated[int, Field(ge=1, le=12)] = 4
    bore: Length | None = None
    stroke: Length | None = None
    chamber: Volume | None = None
    compression_ratio: Number | None = Field(default=None, gt=4, lt=30)
    chamber_opening: Number = Field(default=1.0, gt=0.2, le=1.2)
    drive: Literal["belt", "chain", "gears"] = "belt"
    cam_pitch_diameter: Length | None = None
    crank_pitch_diameter: Length | None = None
    centre_distance: Length | None = None
    valve_angles: list[Angle] = Field(default=[], max_length=8)
    valve_clearances: list[Length] = Field(default=[], max_length=8)
    gasket: Literal["composite", "graphite", "multi-layer steel"] = "multi-layer steel"
    gasket_options: list[Length] = Field(default=[], max_length=12)


class PricesTable(Table):
    """What things cost, in the owner's money."""

    hour: Number | None = Field(default=None, ge=0)
    gas_per_pass: Number | None = Field(default=None, ge=0)
    gasket_set: Number | None = Field(default=None, ge=0)
    replacement_head: Number | None = Field(default=None, ge=0)
    line_boring: Number | None = Field(default=None, ge=0)
    removal_per_tenth_mm: Number | None = Field(default=None, ge=0)


class ThresholdsTable(Table):
    """Go / no-go thresholds to use instead of the trade's."""

    hardness_reject: Number | None = Field(default=None, gt=20, lt=200)
    hardness_doubt: Number | None = Field(default=None, gt=20, lt=200)
    hardness_drop: Number | None = Field(default=None, gt=0, lt=100)
    largest_bow: Gap | None = None
    largest_twist: Gap | None = None
    straighten_from: Gap | None = None
    stop_bending: Gap | None = None
    most_passes: Annotated[int, Field(ge=1, le=20)] | None = None
    least_gain: Number | None = Field(default=None, gt=0, lt=1)


class HeadFile(Table):
    """A whole head file."""

    name: str = Field(min_length=1, max_length=80)
    units: str = "mm"
    casting: CastingTable
    alloy: AlloyTable | None = None
    limits: LimitsTable = LimitsTable()
    cam: CamTable
    bolts: list[BoltsTable] = Field(min_length=1, max_length=40)
    base: Annotated[
        Annotated[BaseTable, Tag(ONE_TABLE)]
        | Annotated[list[BaseTable], Field(min_length=1, max_length=8), Tag(TABLES)],
        Discriminator(one_or_many),
    ]
    shims: ShimsTable
    gauge: GaugeTable
    wrench: WrenchTable | None = None
    torch: (
        Annotated[
            Annotated[TorchTable, Tag(ONE_TABLE)]
            | Annotated[list[TorchTable], Field(min_length=1, max_length=6), Tag(TABLES)],
            Discriminator(one_or_many),
        ]
        | None
    ) = None
    oven: OvenTable | None = None
    spots: SpotsTable | None = None
    engine: EngineTable = EngineTable()
    prices: PricesTable = PricesTable()
    thresholds: ThresholdsTable = ThresholdsTable()
