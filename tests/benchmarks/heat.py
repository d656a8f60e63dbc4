"""How near the heat room comes to finite elements, and how fast it is. Last line: one JSON object.

worst_fe_error   largest relative error of a line's change of bow over the heat and creep cases of 3D elements that
                 tests/against_published/test_box_elements.py holds
worst_kept_error relative error of the kept share of those cases
spot_ms          a spot worked through, nothing remembered (median over 15 cases, metal of the box and a T6 with its
                 softened zone; best of three each, so that other work on the machine counts less)
cached_ms        the same spot again
worst_given_error  largest error of a line's change of bow over the given heats of tests/against_elements/heats.toml, first heats
worst_reheat_error the same after the last heat where places are heated again, given and own runs
stroke_ms          one stroke worked through on a head whose elastic roof is known (median of 15, best of three each)
runaways           random sets of spots and strokes, one to three heats on one another, each over random shims and bows: how
                   many of 10 000 leave a set that is not finite, a kept part outside nought to the bend held, or an own part
                   beyond what the heat could shrink at all
speedup_vs_skfem transient conduction under the torch: scikit-fem on the coarsest mesh that meets 2 % of the peak, over ours
                 on the same points and times
"""

import json
from dataclasses import replace
from statistics import median
from time import perf_counter

import numpy as np

from straighten.clamp import ClampSetup, clamp_head, section_of
from straighten.errors import OutsideModel
from straighten.head.alloys import alloy_named
from straighten.head.records import NortonCreep
from straighten.heat import FRESH, HeatSpot, HeatStroke, Soak, nominal, relax_soak, relax_spots
from straighten.heat.field import Flame, Slab, expanded, slab_rise
from straighten.heat.heating import SpotCase, _heated
from straighten.heat.layout import fire_on
from straighten.heat.plates import sizes_of
from straighten.heat.roof import roof_of
from straighten.heat.spot import worked
from straighten.heat.torch import power_for_peak
from straighten.shape.modes import INDEX
from tests.against_elements.test_heats import CASES, SHORT
from tests.against_libraries.axisymmetric import plate_rise
from tests.against_published.test_box_elements import CLAMPED, COARSE, FREE, changes, four_spots
from tests.heat.heads import METAL, bar, bowed, box, clamped, work_spot


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
        fresh.append(min(_clocked(_worked_anew, (case,)) for _ in range(3)))
        work_spot(case)
        known.append(min(_clocked(work_spot, case) for _ in range(3)))
    return median(fresh), median(known)


def _worked_anew(cases):
    _heated.cache_clear()  # the heat of a spot is remembered apart from what it does
    return worked(cases)


def _clocked(work, case):
    start = perf_counter()
    work(case)
    return (perf_counter() - start) * 1e3


def treatments_of(heat):
    made = []
    for x, y, x_to, y_to, radius, begins, ends, power, *one_side in heat["flames"]:
        for sign in (-1, 1):
            for side in one_side or ("inlet", "exhaust"):
                flame = {
                    "station": 0.2 + sign * x / 1e3,
                    "side": side,
                    "radius": radius / 1e3,
                    "power": power,
                    "start": begins,
                }
                if (x, y) == (x_to, y_to):
                    made.append(HeatSpot(dwell=ends - begins, across=y / 1e3, **flame))
                    continue
                line = {
                    "station_to": 0.2 + sign * x_to / 1e3,
                    "across_from": y / 1e3,
                    "across_to": y_to / 1e3,
                }
                made.append(HeatStroke(time=ends - begins, **line, **flame))
    return made


def heats_errors(case):
    """Error of every line's change since the start after every heat of a box case, (heats, 4)."""
    short = tuple((t, 1e6 * y) for t, y in zip(*SHORT, strict=True))
    head = box(alloy=replace(METAL, yield_short=short) if case.get("curve") else METAL)
    section, state, past, total, found = section_of(head), bowed(0.4e-3), FRESH, np.zeros(4), []
    for heat in case["heats"]:
        held = None
        if "shim" in heat:
            setup = ClampSetup(shims=(heat["shim"] / 1e3,) * 4, bolts=(0, 1, 2, 3), gap=0.0)
            held = clamp_head(head, state, setup, nominal())
        relaxed = relax_spots(head, section, held, treatments_of(heat), nominal(), past)
        state, past, total = state - relaxed.set_state, relaxed.left, total - relaxed.lines[0]
        found.append(1e3 * total[[1, 0, 3, 2]] / np.array(heat["change"]) - 1)
    return np.abs(found)


def given_errors():
    plain = [
        c for c in CASES if not c.get("head") and not c.get("plates") and c["heats"][0].get("shim") != "snug"
    ]
    first = {c["name"]: float(heats_errors(c)[0].max()) for c in plain if c["source"] == "given"}
    again = {c["name"]: float(heats_errors(c)[-1].max()) for c in plain if len(c["heats"]) > 1}
    return first, again


def stroke_time():
    head, section, spent = box(), section_of(box()), []
    for number in range(16):
        stroke = HeatStroke(
            station=0.167, side="inlet", across_from=0.014, across_to=0.054, radius=0.010 + 0.0004 * number, time=12.0, peak=480.0
        )  # fmt: skip
        best = []
        for _ in range(3):
            fire_on.cache_clear()
            roof = roof_of(sizes_of(head))
            roof.forget()
            best.append(_clocked(lambda one: fire_on(head, section, (one,)), stroke))
        spent.append(min(best))
    return median(spent[1:])


def random_heat(rng):
    def one():
        side, radius, peak = (
            rng.choice(["inlet", "exhaust"]),
            rng.uniform(0.006, 0.030),
            rng.uniform(250.0, 540.0),
        )
        shared = {
            "side": str(side),
            "radius": float(radius),
            "peak": float(peak),
            "start": float(rng.choice([0.0, 0.0, 600.0])),
        }
        if rng.random() < 0.3:
            ends = {"across_from": rng.uniform(0.01, 0.03), "across_to": rng.uniform(0.035, 0.06)}
            return HeatStroke(station=rng.uniform(0.07, 0.33), time=rng.uniform(3.0, 40.0), **ends, **shared)
        return HeatSpot(
            station=rng.uniform(0.05, 0.35),
            dwell=rng.uniform(1.0, 60.0),
            across=rng.uniform(0.008, 0.062),
            **shared,
        )

    return [one() for _ in range(rng.integers(1, 13))]


def runaways(count=10_000, together=40):
    """Runaways, and how many set-ups were refused by name as beyond the model."""
    rng, head, section = np.random.default_rng(11), box(), section_of(box())
    wild = refused = done = 0
    while done < count:
        past = FRESH
        for _ in range(rng.integers(1, 4)):
            setup = ClampSetup(shims=(float(rng.uniform(0, 1e-3)),) * 4, bolts=(0, 1, 2, 3), gap=0.0)
            state = bowed(*rng.uniform(0.0, 0.6e-3, together))
            done += together
            try:
                held = clamp_head(head, state, setup, nominal(together))
                found = relax_spots(head, section, held, random_heat(rng), nominal(together), past)
            except OutsideModel:
                refused += together
                continue
            wild += int(_wild(head, held, found, len(past.short)).sum())
            past = found.left
    return wild, refused, done


def _wild(head, held, found, before):
    bow = INDEX["deck_bow"]
    kept, own = found.kept_part[:, bow], found.spots_part[:, bow]
    roof = roof_of(sizes_of(head))
    area = (
        sum(roof.cover(z.zone).sum() for z in found.left.short[before:])
        * roof.dx
        * roof.dy
        * head.casting.roof
    )
    most = (
        area * float(expanded(head.alloy.expansion, max(found.peaks))) * 3.5e3
    )  # fall of the middle per volume, at most [1/m2]
    bend = (
        1.3 * np.abs(held.bend) + 2e-5
    )  # the lines' middle against the beam's, and what bolts and shims give
    sound = (
        np.isfinite(found.set_state).all(axis=1)
        & (kept >= -2e-6)
        & (kept <= bend)
        & (own <= most)
        & (own >= -most)
    )
    return ~sound


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
    first, again = given_errors()
    for name, error in {**first, **{f"{n}, last": e for n, e in again.items()}}.items():
        print(f"{name:42s} {100 * error:5.1f} %")
    wild, refused, tried = runaways()
    print(f"{tried} random set-ups, {refused} refused as beyond the model")
    fresh, known = spot_times()
    speedup, theirs, ours, nodes = conduction()
    print(f"conduction, {nodes} nodes: scikit-fem {theirs * 1e3:.0f} ms, ours {ours * 1e3:.2f} ms")
    print(
        json.dumps(
            {
                "worst_fe_error": round(max(errors.values()), 4),
                "worst_kept_error": round(kept, 4),
                "worst_given_error": round(max(first.values()), 4),
                "worst_reheat_error": round(max(again.values()), 4),
                "runaways": wild,
                "stroke_ms": round(stroke_time(), 2),
                "spot_ms": round(fresh, 2),
                "cached_ms": round(known, 4),
                "speedup_vs_skfem": round(speedup, 1),
            }
        )
    )


if __name__ == "__main__":
    main()
