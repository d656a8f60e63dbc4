"""How near the heat room comes to finite elements, and how fast it is. Last line: one JSON object.

worst_fe_error   largest relative error of a line's change of bow over the heat and creep cases of 3D elements that
                 tests/against_published/test_box_elements.py holds
worst_kept_error relative error of the kept share of those cases
spot_ms          a spot worked through, nothing remembered (median over 15 cases, metal of the box and a T6 with its
                 softened zone; best of three each, so that other work on the machine counts less)
cached_ms        the same spot again
speedup_vs_skfem transient conduction under the torch: scikit-fem on the coarsest mesh that meets 2 % of the peak, over ours
                 on the same points and times
"""

import json
from dataclasses import replace
from statistics import median
from time import perf_counter

import numpy as np

from straighten.clamp import section_of
from straighten.head.alloys import alloy_named
from straighten.head.records import NortonCreep
from straighten.heat import HeatSpot, Soak, nominal, relax_soak, relax_spots
from straighten.heat.field import Flame, Slab, slab_rise
from straighten.heat.spot import work_spot, worked
from straighten.heat.spot_case import SpotCase
from straighten.heat.torch import power_for_peak
from tests.against_libraries.axisymmetric import plate_rise
from tests.against_published.test_box_elements import CLAMPED, COARSE, FREE, changes, four_spots
from tests.heat.heads import METAL, bar, box, clamped


def fe_errors():
    head = box()
    free = relax_spots(head, section_of(head), None, four_spots(), nominal()).lines[0]
    held = relax_spots(head, section_of(head), clamped(head, 1e-4), four_spots(), nominal()).lines[0]
    pairs = {
        "free": (free, changes(FREE)),
        "clamped": (held, changes(CLAMPED)),
        "coarse mesh": (held, changes(COARSE)),
    }
    errors = {name: float(np.abs(ours / theirs - 1).max()) for name, (ours, theirs) in pairs.items()}
    metal = replace(
        METAL, yield_soaked=((20, 1e9),), yield_short=((20, 1e9),),
        creep=NortonCreep(factor=1e-46, exponent=5.0, temperature=230.0),
    )  # fmt: skip
    solid = bar(alloy=metal)
    for hours, after in ((1, 0.39335), (4, 0.37722), (8, 0.36074)):
        soak = Soak(temperature=230.0, hold=3600.0 * hours)
        kept = relax_soak(solid, section_of(solid), clamped(solid, 1e-4), soak, nominal()).lines[0, 0]
        errors[f"creep {hours} h"] = abs(float(kept) / ((0.4 - after) * 1e-3) - 1)
    share = (held - free).mean() / (changes(CLAMPED) - changes(FREE)).mean()
    return errors, abs(float(share) - 1)


def fresh_cases(count):
    for number in range(count):
        metal = METAL if number % 2 else alloy_named("A356-T6")
        spot = HeatSpot(station=0.2, side="inlet", radius=0.008 + 0.0007 * number, dwell=3.0 + 0.13 * number)
        peak = 420.0 + 7 * number
        power = power_for_peak(metal, 0.010, spot, peak)
        yield SpotCase(
            alloy=metal, thickness=0.010, power=power, radius=spot.radius, dwell=spot.dwell, peak=peak
        )


def spot_times():
    work_spot(next(fresh_cases(1)))  # loads the libraries
    fresh, known = [], []
    for case in list(fresh_cases(16))[1:]:
        fresh.append(min(_clocked(worked, (case,)) for _ in range(3)))
        work_spot(case)
        known.append(min(_clocked(work_spot, case) for _ in range(3)))
    return median(fresh), median(known)


def _clocked(work, case):
    start = perf_counter()
    work(case)
    return (perf_counter() - start) * 1e3


def conduction():
    flame, slab = (
        Flame(power=2479.0, radius=0.012, dwell=4.0),
        Slab(thickness=0.01, conductivity=155.0, capacity=2.68e6),
    )
    times = np.array([1.0, 2.5, 4.0, 4.6, 6.0, 10.0])
    for across, down, steps in ((12, 3, 24), (16, 4, 40), (24, 6, 60), (36, 8, 120), (48, 12, 240)):
        start = perf_counter()
        (r, depth), rises = plate_rise(flame, slab, times, across=across, down=down, steps=steps)
        theirs = perf_counter() - start
        exact = _on_nodes(flame, slab, (r, depth), times)
        if np.abs(exact - rises).max() < 0.02 * rises.max():
            break
    spent = []
    for _ in range(20):
        start = perf_counter()
        _on_nodes(flame, slab, (r, depth), times)
        spent.append(perf_counter() - start)
    return theirs / median(spent), theirs, median(spent), r.size


def _on_nodes(flame, slab, nodes, times):
    """Our field at the nodes of a product mesh: every radius with every depth, then picked."""
    r, depth = (np.round(v, 12) for v in nodes)
    radii, at_r = np.unique(r, return_inverse=True)
    depths, at_d = np.unique(depth, return_inverse=True)
    return slab_rise(flame, slab, radii, depths, times)[:, at_r, at_d]


def main():
    errors, kept = fe_errors()
    for name, error in errors.items():
        print(f"{name:12s} {100 * error:5.1f} %")
    print(f"kept share   {100 * kept:5.1f} %")
    fresh, known = spot_times()
    speedup, theirs, ours, nodes = conduction()
    print(f"conduction, {nodes} nodes: scikit-fem {theirs * 1e3:.0f} ms, ours {ours * 1e3:.2f} ms")
    print(
        json.dumps(
            {
                "worst_fe_error": round(max(errors.values()), 4),
                "worst_kept_error": round(kept, 4),
                "spot_ms": round(fresh, 2),
                "cached_ms": round(known, 4),
                "speedup_vs_skfem": round(speedup, 1),
            }
        )
    )


if __name__ == "__main__":
    main()
