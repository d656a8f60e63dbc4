"""The clamp against a general frame library, its speed, and how well three tightening readings foretell the torque.

Run as `python -m tests.benchmarks.clamp`; the last line is one JSON object.
"""

from __future__ import annotations

import json
import sys
import time
from dataclasses import replace
from unittest.mock import patch

import numpy as np

from straighten.clamp import ClampSetup, clamp_head, section_of, tightening_log
from straighten.clamp import joint as joints
from straighten.clamp.bolts import lever, thread_of
from straighten.clamp.joint import base_beam, joint_of
from straighten.clamp.springs import at_rest
from straighten.clamp.tightening import settled_torque, turn_round, wrench_of
from straighten.clamp.tightening_log import (
    Reading,
    log_likelihood,
    next_step,
    replay,
)  # fmt: skip
from straighten.quantiles import weighted_quantiles, weights_of
from tests.clamp.benches import bowed, clamp_section, draws, pump_head, random_bench

STIFF = 1e4  # an outrigger's stiffness over the beam's; what it gives is taken off the contact spring


def frame_model(head, section, state, setup, stiffness, pushing=None):
    """Build the same clamp in the general frame library: two beams, outriggers, compression-only springs."""
    from Pynite import FEModel3D

    joint = joint_of(head, section, setup)
    model = FEModel3D()
    _frame_material(model, joint, stiffness)
    levels = {"h": (joint.head, 0.0, 1.0)} | ({"b": (joint.base, -joint.overhang, 0.0)} if joint.base else {})
    for letter, (beam, start, level) in levels.items():
        _frame_beam(model, joint, letter, (beam, start, level))
    _frame_weight(model, head, section, joint)
    _frame_contacts(model, head, section, joint, (state, setup, stiffness, pushing))
    _frame_pulls(model, joint, setup)
    _frame_supports(model, joint)
    return model, joint


def _frame_material(model, joint, stiffness):
    model.add_material("m", 1.0, 1.0, 0.3, 0.0)
    head, base = joint.head, joint.base
    model.add_section("h", 1e3, head.EI, stiffness * head.EI, stiffness * head.GJ)
    if base is not None:
        model.add_section("b", 1e3, base.EI, base.EI, base.GJ)
    stiff = _outrigger(joint, stiffness)
    model.add_section("out", 1e3, stiff, stiff, stiff)


def _outrigger(joint, stiffness):
    return STIFF * max(stiffness * joint.head.EI, joint.base.EI if joint.base is not None else 0.0)


def _frame_beam(model, joint, letter, line):
    beam, start, level = line
    stations = np.unique(
        np.round(np.concatenate([joint.x, [start, start + beam.length, joint.head.length / 2]]), 9)
    )
    for k, x in enumerate(stations):
        model.add_node(f"{letter}{k}", float(x), level, 0.0)
        if k:
            model.add_member(f"{letter}m{k}", f"{letter}{k - 1}", f"{letter}{k}", "m", letter)
    for p, (x, y) in enumerate(zip(joint.x, joint.y, strict=True)):
        k = int(np.argmin(np.abs(stations - x)))
        model.add_node(f"{letter}p{p}", float(x), level, float(y))
        model.add_member(f"{letter}o{p}", f"{letter}{k}", f"{letter}p{p}", "m", "out")


def _frame_weight(model, head, section, joint):
    per_metre = section.weight / head.casting.length
    for name in [n for n in model.members if n.startswith("hm")]:
        model.add_member_dist_load(name, "FY", -per_metre, -per_metre)


def _frame_contacts(model, head, section, joint, draw):
    """Lay a seat under every contact: half its give as a two-way spring that also holds the seat's height, half as
    the compression-only spring."""
    from straighten.clamp.joint import free_heights

    state, setup, stiffness, pushing = draw
    gaps = free_heights(joint, head, state)[0]
    gaps[:4] -= setup.shims
    c = joint.contacts
    for bolt in setup.bolts:  # a bolt pulls its own bit of deck down
        gaps[:c] -= (
            setup.tension
            * (joint.x[:c] == joint.x[c + bolt])
            * (joint.y[:c] * joint.y[c + bolt] > 0)
            * ((np.arange(c) >= 4) * section.give_pull / stiffness)
        )
    for p in range(c):
        arms = 1 if joint.base is None else 2
        outriggers = arms * abs(joint.y[p]) ** 3 / (3 * _outrigger(joint, stiffness))
        give = (section.give_shim if p < 4 else section.give_pull) / stiffness - outriggers
        seat = model.add_node(f"s{p}", float(joint.x[p]), 0.5, float(joint.y[p]))
        ground = (
            f"bp{p}"
            if joint.base is not None
            else model.add_node(f"g{p}", float(joint.x[p]), 0.0, float(joint.y[p]))
        )
        model.add_spring(f"two{p}", ground, seat, 2 / give)
        if pushing is None or p in pushing:
            model.add_spring(f"one{p}", seat, f"hp{p}", 2 / give, comp_only=pushing is None)
        held = 2 / give * gaps[p]
        model.add_node_load(seat, "FY", -held)
        if joint.base is not None:
            model.add_node_load(ground, "FY", held)


def _frame_pulls(model, joint, setup):
    for bolt in setup.bolts:
        p = joint.contacts + bolt
        model.add_node_load(f"hp{p}", "FY", -setup.tension)
        if joint.base is not None:
            model.add_node_load(f"bp{p}", "FY", setup.tension)


def _frame_supports(model, joint):
    """Hold what a vertical problem leaves idle; the base stands on its ends, its front end does not roll."""
    for name in model.nodes:
        seat = name[0] == "s"
        model.def_support(
            name, True, name[0] == "g", True, seat or name[0] == "g", True, seat or name[0] == "g"
        )
    if joint.base is None:
        return
    last = max(int(n[1:]) for n in model.nodes if n[0] == "b" and n[1] != "p")
    model.def_support("b0", True, True, True, True, True, False)
    model.def_support(f"b{last}", True, True, True, False, True, False)


def solve_frame(head, section, state, setup, stiffness):
    """Solve with the frame library until its own answer neither overlaps nor pulls.

    The library drops compression-only springs that would pull and never lets them push again. Where its answer shows an
    overlap at a dropped spring, it solves again from the four shims on, with the worst spring put in or taken out each
    time, until its answer shows neither an overlap nor a pull.

    Returns stations and downward deflection of the head's line (chord out), contact forces, and the seconds of the first model, built and solved (ours is built and solved in its time as well).
    """
    pushing, seconds = None, None
    for _ in range(60):
        begin = time.perf_counter()
        model, joint = frame_model(head, section, state, setup, stiffness, pushing)
        model.analyze(check_stability=False, sparse=False)
        seconds = seconds or time.perf_counter() - begin
        push = np.array([_squeezed(model, p) for p in range(joint.contacts)])
        first = pushing is None
        if first:
            pushing = {p for p in range(joint.contacts) if model.springs[f"one{p}"].active["Combo 1"]}
        least = 1e-9 * np.abs(push).max()
        wrong = {p for p, v in enumerate(push) if (v < -least if p in pushing else v > least)}
        if not wrong:
            break
        pushing = {0, 1, 2, 3} if first else pushing ^ {max(wrong, key=lambda p: abs(push[p]))}
    else:
        raise RuntimeError("the frame library did not settle")
    nodes = sorted((n for n in model.nodes if n[0] == "h" and n[1] != "p"), key=lambda n: int(n[1:]))
    x = np.array([model.nodes[n].X for n in nodes])
    rise = np.array([model.nodes[n].DY["Combo 1"] for n in nodes])
    rise = rise - rise[0] * (1 - x / joint.head.length) - rise[-1] * x / joint.head.length
    return x, -rise, np.where([p in pushing for p in range(joint.contacts)], push, 0.0), seconds


def _squeezed(model, p):
    """Return the force of a contact spring, or what it would have if it stood there, > 0 in compression."""
    closing = model.nodes[f"s{p}"].DY["Combo 1"] - model.nodes[f"hp{p}"].DY["Combo 1"]
    return float(closing * model.springs[f"two{p}"].ks)


def slender_base(base):
    """Return the base as a beam without shear, as the frame library has it."""
    beam = base_beam(base)
    return None if beam is None else replace(beam, kGA=np.inf)


def compare(seed):
    """Return the largest relative differences of one random case (deflection, force), and seconds of both solvers."""
    rng = np.random.default_rng(seed)
    head, state, setup = random_bench(rng)
    section, stiffness = replace(section_of(head), kGA=np.inf), float(np.exp(rng.normal(0, 0.3)))
    x, deflection, force, theirs = solve_frame(head, section, state, setup, stiffness)
    mine = []
    for _ in range(3):
        begin = time.perf_counter()
        with patch.object(joints, "base_beam", slender_base):
            ours = clamp_section(head, section, state, setup, draws(stiffness))
        mine.append(time.perf_counter() - begin)
    shared = np.isin(np.round(x, 9), np.round(ours.station, 9))
    off = np.abs(np.interp(x, ours.station, ours.deflection[0]) - deflection)[shared].max()
    forces = np.concatenate([ours.shim_force[0], ours.base_force[0].ravel()])
    return off / np.abs(deflection).max(), np.abs(forces - force).max() / force.max(), theirs, min(mine)


BLADES = np.array(pump_head().gauge_blades)
LIBRARY = 256


def tightening_cases(count, seed=20):
    """Invented set-ups as a shop would have them: some pulling the middle pair, some three pairs, gaps of a blade or none."""
    rng = np.random.default_rng(seed)
    for _ in range(count):
        bow, shim = rng.uniform(0.15e-3, 0.5e-3), rng.choice([0.05e-3, 0.1e-3, 0.15e-3, 0.2e-3])
        bolts = (4, 5) if rng.random() < 0.5 else (2, 3, 4, 5, 6, 7)
        gap = float(rng.choice([0.0, 0.05e-3, 0.1e-3]))
        yield bow, ClampSetup(shims=(shim,) * 4, bolts=bolts, gap=gap), rng


def bracket(gap, rng):
    """Return what the blades of the shop find of a gap, each felt to a few micrometres."""
    felt = max(gap + rng.normal(0, 5e-6), 0.0)
    goes, does_not = BLADES[felt >= BLADES], BLADES[felt < BLADES]
    return float(goes.max()) if goes.size else 0.0, float(does_not.min()) if does_not.size else None


def prior_draws(rng, count=LIBRARY):
    """Return even draws of stiffness (half to double) and friction (0.10 to 0.18)."""
    from scipy.stats import qmc

    u = qmc.Sobol(2, rng=rng).random(count)
    return draws(2.0 ** (2 * u[:, 0] - 1), 0.10 + 0.08 * u[:, 1])


def scattered(scatter):
    """Return `wrench_of` with the friction of each bolt of the head over the draw's, `(n, b)` or `(b,)`."""

    def wrench(head, states, setup, response):
        found = wrench_of(head, states, setup, response)
        each = [
            lever(thread_of(head.bolts[b].thread), response.friction * scatter[..., b])
            for b in found.bench.pulling
        ]
        return replace(found, levers=np.stack(each, axis=1))

    return wrench


def replayed(guess, *given):
    """Play a log through draws whose bolts differ in friction."""
    with patch.object(tightening_log, "wrench_of", scattered(guess)):
        return replay(*given)


def foretold(head, bow, setup, rng):
    """Return the closing torque foretold after three readings at the planner's own steps, and the true one.

    Hidden: stiffness, friction, friction from bolt to bolt, and the shape within a careful survey's doubt.
    """
    hidden = draws(2.0 ** rng.uniform(-1, 1), rng.uniform(0.10, 0.18))
    scatter = np.exp(rng.normal(0, 0.05, len(head.bolts)))
    true = scattered(scatter)(
        head, bowed(bow + rng.normal(0, 8e-6), twist=rng.normal(0, 8e-6)), setup, hidden
    )
    held = at_rest(true.bench)
    library = prior_draws(rng)
    shapes = np.repeat(bowed(bow), LIBRARY, axis=0)
    shapes[:, 0] += rng.normal(0, 8e-6, LIBRARY)
    guess = np.exp(rng.normal(0, 0.05, (LIBRARY, len(head.bolts))))
    even, readings = np.full(LIBRARY, 1 / LIBRARY), []
    for _ in range(3):
        played = replayed(guess, head, shapes, setup, library, readings)
        step = next_step(head, setup, played, readings, even)
        if step.torque is None:
            break
        held = turn_round(true, held, np.array([step.torque]))
        goes, does_not = bracket(true.gap(held)[0], rng)
        readings.append(Reading(torque=step.torque, goes=goes, does_not=does_not))
    played = replayed(guess, head, shapes, setup, library, readings)
    weights = weights_of(log_likelihood(played, readings))
    expected = weighted_quantiles(played.closing, weights, (0.5,))[0]
    return expected / settled_torque(true, setup.gap)[0], len(readings), step.verdict


def torque_foretold(count=500):
    """Return the share of cases foretold within 10 %, and what the logs were like."""
    head = pump_head()
    ratio, readings, verdicts = zip(*(foretold(head, *case) for case in tightening_cases(count)), strict=True)
    off = np.abs(np.array(ratio) - 1)
    return {
        "torque_within_10pct": float(np.mean(off <= 0.10)),
        "torque_median_error": float(np.median(off)),
        "logs": count,
        "readings_mean": float(np.mean(readings)),
        "called_wrong": float(np.mean([v == "stop: something is wrong" for v in verdicts])),
    }


def frames_compared(count=50):
    """Return the agreement with the frame library on random cases and the time ratios, side by side in this run."""
    off, force, theirs, mine = np.array([compare(seed) for seed in range(count)]).T
    return {
        "max_rel_diff": float(off.max()),
        "max_rel_diff_force": float(force.max()),
        "cases": count,
        "reference_seconds": float(np.median(theirs)),
        "speedup_single_call": float(np.median(theirs / mine)),
    }


def draws_timed(count=4096):
    """Return the seconds for many draws of one head with every shape its own, best of three."""
    head, rng = pump_head(), np.random.default_rng(3)
    shapes = bowed(3e-4) + rng.normal(size=(count, 11)) * 2e-5
    response = draws(np.exp(rng.normal(0, 0.3, count)))
    setup = ClampSetup(shims=(1e-4,) * 4, bolts=(2, 3, 4, 5, 6, 7), gap=0.03e-3)
    seconds = []
    for _ in range(3):
        begin = time.perf_counter()
        stations = clamp_head(head, shapes, setup, response).station.size
        seconds.append(time.perf_counter() - begin)
    return {"seconds_4096_draws": min(seconds), "stations": stations}


def main():
    result = frames_compared()
    result |= draws_timed()
    result["speedup_vs_reference"] = result["reference_seconds"] / (result["seconds_4096_draws"] / 4096)
    print(json.dumps(result))
    result |= torque_foretold(int(sys.argv[1]) if len(sys.argv) > 1 else 500)
    print(json.dumps(result))


if __name__ == "__main__":
    main()
