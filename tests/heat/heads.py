"""Heads and metals for the heat room's tests: a hollow box, a solid bar, and a metal with a table of its own.

The table is that of the 3D finite-element cases in tests/against_published/test_box_elements.py: a cast Al-Si-Mg in T6,
yield after long soaks taken at all times.
"""

from dataclasses import replace

import numpy as np

from straighten.clamp import ClampSetup, clamp_head
from straighten.head.records import (
    SIDES,
    Alloy,
    Base,
    Casting,
    Head,
    HeadBolt,
    Limits,
    NortonCreep,
    Plates,
    Thresholds,
    Web,
)
from straighten.heat import nominal
from straighten.heat.spot import work_spots
from straighten.shape.modes import INDEX
from straighten.sources import Cited

YIELD = tuple(
    zip(
        (20, 100, 150, 205, 260, 315, 370, 450, 540),
        (185e6, 165e6, 138e6, 60e6, 34e6, 21e6, 14e6, 8e6, 4e6),
        strict=True,
    )
)
METAL = Alloy(
    name="box metal",
    family="own table",
    temper="as given",
    modulus=tuple(
        zip(
            (20, 150, 205, 260, 315, 370, 450, 540),
            (72.4e9, 67e9, 63e9, 56e9, 48e9, 38e9, 25e9, 10e9),
            strict=True,
        )
    ),
    yield_short=YIELD,
    yield_soaked=YIELD,
    expansion=((20, 21.5e-6), (500, 25e-6)),
    conductivity=((20, 155.0),),
    heat_capacity=((20, 963.0), (500, 1100.0)),
    density=2680.0,
    hardening=1e9,
    poisson=0.33,
    solidus=550.0,
    hardness=(75.0, 90.0),
    spread=0.1,
)
CREEP_FREE = NortonCreep(factor=1e-90, exponent=5.0, temperature=230.0)


def assumed(value, unit="m"):
    return Cited(value, unit, "test", "assumed")


LIMITS = Limits(
    deck_overall=assumed(1e-4),
    deck_local=assumed(5e-5),
    deck_local_length=0.15,
    cam_line=assumed(5e-5),
    tower_step=assumed(3e-5),
    least_height=None,
    largest_removal=assumed(2e-4),
)
THRESHOLDS = Thresholds(
    hardness_reject=assumed(65.0, "HB"),
    hardness_doubt=assumed(75.0, "HB"),
    hardness_drop=assumed(10.0, "HB"),
    largest_bow=assumed(1e-3),
    largest_twist=assumed(1e-4),
    straighten_from=assumed(8e-5),
    stop_bending=assumed(5e-5),
    most_passes=Cited(3, "", "test", "assumed"),
    least_gain=assumed(0.2, ""),
)


def bolts_at(*stations):
    return tuple(HeadBolt(station=x, side=s, thread="M10x1.5", grade="10.9") for x in stations for s in SIDES)


def box(**changes):
    """Hollow box 400 x 150 x 90 mm: deck 12, roof 10, walls 8, five webs and two ends of 10 mm."""
    webs = tuple(Web(station=0.2 + x, thickness=0.01) for x in (-0.133, -0.066, 0.0, 0.066, 0.133))
    casting = Casting(
        length=0.4,
        width=0.15,
        height=0.09,
        mass=None,
        plates=Plates(deck=0.012, roof=0.01, side_walls=0.008, end_walls=0.01, webs=webs),
        roof=0.01,
        roof_assumed=False,
        deck=0.012,
        webs=webs,
    )
    head = Head(
        name="box",
        system="mm",
        casting=casting,
        alloy=METAL,
        limits=LIMITS,
        thresholds=THRESHOLDS,
        towers=(0.05, 0.2, 0.35),
        cam_lines=1,
        cam_height=0.09,
        bolts=bolts_at(0.167, 0.233),
        base=Base(kind="rigid", thickness=0.1, width=0.2, length=0.6, material="steel"),
        front_shim=0.01,
        rear_shim=0.39,
        shim_blades=(),
        gauge_blades=(),
        torch=None,
        oven=None,
        spot_rows=0.03,
    )
    return replace(head, **changes)


def bar(**changes):
    """Solid bar 400 x 60 x 40 mm, pulled in the middle."""
    casting = replace(
        box().casting,
        width=0.06,
        height=0.04,
        plates=Plates(solid=True),
        roof=0.04,
        deck=0.04,
        webs=(),
    )
    return box(casting=casting, bolts=bolts_at(0.2), spot_rows=0.0, cam_height=0.04, **changes)


def bowed(*bows):
    """States with nothing but a bow of deck and cam line [m]."""
    state = np.zeros((len(bows), 11))
    state[:, INDEX["deck_bow"]] = state[:, INDEX["cam_bow"]] = bows
    return state


def clamped(head, shim, bow=0.4e-3, response=None, gap=0.0):
    """The head clamped over end shims, its middle pulled to a gap."""
    setup = ClampSetup(shims=(shim,) * 4, bolts=tuple(range(len(head.bolts))), gap=gap)
    return clamp_head(head, bowed(bow), setup, response or nominal())


def box_like(plates, alloy=METAL):
    """A box of other plates [mm]: a case's own table, `webs` on one half from the middle, pulled beside its first web."""
    length, half = plates["length"] / 1e3, plates["webs"]
    stations = sorted({length / 2 + sign * x / 1e3 for x in half for sign in (-1, 1)})
    webs = tuple(Web(station=x, thickness=plates["web"] / 1e3) for x in stations)
    sizes = {name: plates[name] / 1e3 for name in ("width", "height", "deck", "roof")}
    casting = replace(
        box().casting,
        length=length,
        plates=Plates(
            deck=sizes["deck"],
            roof=sizes["roof"],
            side_walls=plates["wall"] / 1e3,
            end_walls=plates["end"] / 1e3,
            webs=webs,
        ),
        webs=webs,
        **sizes,
    )
    pull = {66: 0.033, 80: 0.040, 100: 0.050}[half[1]]
    return box(
        casting=casting,
        alloy=alloy,
        cam_height=sizes["height"],
        bolts=bolts_at(length / 2 - pull, length / 2 + pull),
        front_shim=length / 2 - plates["shim_x"] / 1e3,
        rear_shim=length / 2 + plates["shim_x"] / 1e3,
    )


def work_spot(case):
    """One spot's answer, from memory where it is known."""
    return work_spots((case,))[0]
