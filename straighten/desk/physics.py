"""The physics asked directly: what a set-up would do to a head of a known bow, and the formulas behind a head's plans.

A try tells the nominal model with its spread; the formulas are derived, given the head's numbers, and held against what
the code computes. Nothing is recorded.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np

from straighten.belief.priors import priors_for, response_of
from straighten.clamp import Clamped, ClampSetup, Section, clamp_head, section_of
from straighten.desk.dossier import Dossier
from straighten.desk.setup_file import bows_before, head_path, heated_before, heats_of, setup_file
from straighten.desk.words import overloads, refuse_broken
from straighten.filecheck import load_text, parse_toml, system_of
from straighten.head import read_head
from straighten.head.records import Head
from straighten.heat import FRESH, HeatSpot, HeatStroke, Relaxed, ageing, nominal, relax_spots
from straighten.heat.lines import SNUG
from straighten.heat.safety import cost_lines, cost_plain, heat_cost
from straighten.heat.treatment import kept_off
from straighten.plan.candidates import middle_bolts
from straighten.plan.forecast import left_after, run_pass
from straighten.plan.records import PassSetup
from straighten.quantiles import Floats
from straighten.shape import fit_shape
from straighten.shape.modes import INDEX, STATE
from straighten.sheet.learned import Explanation, Step
from straighten.sheet.setups import RoundTrial, SectionTrial, SpotTrial, TrialReport
from straighten.sobol import sobol_normal
from straighten.units import INCH, POUND_FORCE, THOU, System, own_first, show, turned

LINES = ("deck edges", "deck centre", "cam face edges", "cam face centre")  # in the order of `Relaxed.lines`
UNBENT = f"The clamp holds less than {1e3 * SNUG:g} mm of bend: there is no share of it to tell."
SPREAD_DRAWS = 512
SEED = 47


def try_setup(path: Path) -> TrialReport:
    """Return what the set-up of a file would do.

    Raises:
        BadInput: the set-up or the head file makes no sense.
        OutsideModel: the clamp cannot reach the gap.
    """
    where = str(path)
    data = parse_toml(load_text(path), where)
    file = setup_file(data, where=where, system=system_of(data, where))
    head = read_head(head_path(file, path))
    head = replace(head, system=system_of(data, where, head.system))  # told in the units that were typed
    heats = heats_of(file, head, where)
    for setup in heats:
        refuse_broken(head, setup, where)
    section = section_of(head)
    rounds, dangers, words = _rounds(
        head, section, (heated_before(file, head, where), heats), bows_before(file, where)
    )
    return TrialReport(
        head=head.name,
        system=head.system,
        section=SectionTrial(
            bending_stiffness=section.EI, shear_stiffness=section.kGA, neutral_axis=section.neutral_axis
        ),
        rounds=tuple(rounds),
        dangers=dangers,
        caveats=(*words, *head.assumed),
    )


def _rounds(
    head: Head,
    section: Section,
    heats: tuple[tuple[PassSetup, ...], tuple[PassSetup, ...]],
    bows: tuple[float, float],
) -> tuple[list[RoundTrial], tuple[str, ...], tuple[str, ...]]:
    """Return the rounds, what forbids them, and every word of caution."""
    state = np.zeros((1, len(STATE)))
    state[0, INDEX["deck_bow"]], state[0, INDEX["cam_bow"]] = bows
    response = nominal()
    lines = {line: bows[0] if line.startswith("deck") else bows[1] for line in LINES}
    priors = priors_for(head)
    u = sobol_normal(SPREAD_DRAWS, len(priors) + 1 + len(STATE), SEED)
    many, spread = response_of(priors, u), u[:, len(priors) :]
    cloud = np.repeat(state, SPREAD_DRAWS, axis=0)
    before, wanted = heats
    past, aged = FRESH, 0.0
    for setup in before:
        past = run_pass(head, section, state, response, setup, past)[1].left
    done: list[RoundTrial] = []
    dangers: list[str] = []
    words: list[str] = []
    for number, heat in enumerate(wanted, start=1):
        setup = replace(heat, soak=heat.soak and replace(heat.soak, aged_before=heat.soak.aged_before + aged))
        clamped, relaxed = run_pass(head, section, state, response, setup, past)
        overloaded = tuple(f"TOO MUCH, do not clamp so: {told}" for told in overloads(head, clamped, setup))
        kept_off_here = tuple(_kept_off(head, setup))
        relaxed = replace(relaxed, caveats=(*overloaded, *relaxed.caveats))
        falls = zip(LINES, lines.values(), relaxed.lines[0].tolist(), strict=True)
        after = {line: b - fall for line, b, fall in falls}
        spread_out = run_pass(head, section, cloud, many, setup, past)[1]
        cloud = left_after(cloud, spread_out.set_state, many, spread, spread_out.again)
        done.append(_round(head, number, (setup, clamped, relaxed), (lines, after), cloud))
        state, lines, past = state - relaxed.set_state, after, relaxed.left
        aged += 0.0 if heat.soak is None else ageing(heat.soak)
        dangers += (*overloaded, *kept_off_here, *_out_of_straight(head, bows, after))
        words += (*kept_off_here, *relaxed.caveats)
    return done, tuple(dict.fromkeys(dangers)), tuple(dict.fromkeys(words))


def _round(
    head: Head,
    number: int,
    done: tuple[PassSetup, Clamped | None, Relaxed],
    lines: tuple[dict[str, float], dict[str, float]],
    cloud: Floats,
) -> RoundTrial:
    setup, clamped, relaxed = done

    def pair(name: str) -> tuple[float, float]:
        low, high = np.quantile(cloud[:, INDEX[name]], [0.1, 0.9])
        return float(low), float(high)

    bow = INDEX["deck_bow"]
    share = float(relaxed.kept_share[0])
    told = clamped is not None and np.isfinite(share)
    cost = heat_cost(head, section_of(head), setup.spots) if setup.spots else None
    return RoundTrial(
        number=number,
        before=lines[0],
        after=lines[1],
        bend=None if clamped is None else float(clamped.bend[0]),
        middle_height=None if clamped is None else float(clamped.middle_height[0]),
        gap=None if clamped is None else float(clamped.gap[0].mean()),
        over_bend=None if clamped is None else float(clamped.over_bend[0]),
        force=None if clamped is None else float(clamped.total_force[0]),
        spots=tuple(_spot(head, (setup, relaxed), k) for k in range(len(setup.spots))),
        spots_set=float(relaxed.spots_part[0, bow]),
        kept_set=float(relaxed.kept_part[0, bow]),
        kept_share=share if told else None,
        movement=float(relaxed.held[0]) if told else None,
        deck_after_range=pair("deck_bow"),
        cam_after_range=pair("cam_bow"),
        hardness=(float(np.min(relaxed.hardness_after)), float(np.max(relaxed.hardness_after))),
        heat_cost=None if cost is None else cost_plain(cost),
        costs=() if cost is None else cost_lines(cost, head.system),
        caveats=relaxed.caveats if told or clamped is None else (*relaxed.caveats, UNBENT),
    )


def _out_of_straight(head: Head, bows: tuple[float, float], after: dict[str, float]) -> Iterator[str]:
    """Yield which of deck and cam line a round bends past straight, or the wrong way, to beyond its limit; without the spread."""
    parts = (("deck", head.limits.deck_overall.value), ("cam line", head.limits.cam_line.value))
    for (part, limit), bow, line in zip(parts, bows, ("deck centre", "cam face centre"), strict=True):
        end = after[line]
        far, was, allowed = (show(abs(bow_or_limit), head.system) for bow_or_limit in (end, bow, limit))
        if abs(end) > limit and end * bow <= 0:
            yield f"Too strong: it bends the {part} {far} past straight, and {allowed} is the limit."
        elif abs(end) > max(limit, abs(bow)):
            yield f"The wrong way: it bends the {part} from {was} to {far} out of straight, and {allowed} is the limit."


def _kept_off(head: Head, setup: PassSetup) -> Iterator[str]:
    """Yield the places of a set-up where the head must not be heated."""
    for one in setup.spots:
        if (why := kept_off(head, one)) is not None:
            kind = "stroke" if isinstance(one, HeatStroke) else "spot"
            yield f"Do not heat the {kind} at {show(one.station, head.system, big=True)}, {one.side} side: {why}."


def _spot(head: Head, done: tuple[PassSetup, Relaxed], k: int) -> SpotTrial:
    setup, relaxed = done
    one, kink, length = setup.spots[k], float(relaxed.kinks[0, k]), head.casting.length
    near = min(one.station, length - one.station)
    return SpotTrial(
        station=one.station, side=one.side, peak=relaxed.peaks[k], power=relaxed.powers[k], kink=kink,
        fall=kink * min(near, length / 2) / 2, kind="stroke" if isinstance(one, HeatStroke) else "spot",
    )  # fmt: skip


# --- the formulas behind the plans -----------------------------------------------------------------------------------------


def explain(dossier: Dossier) -> Explanation:
    """Return the reasoning behind the plans for a head.

    Raises:
        BadInput: the head has not been measured.
    """
    head = dossier.head
    section = section_of(head)
    shape = fit_shape(dossier.survey, head)
    bow = shape.value("deck_bow")
    priors = priors_for(head)
    return Explanation(
        name=dossier.name,
        steps=tuple(step for step in (_influence(head), _release(bow, head.system), _beam(head)) if step),
        priors=tuple(
            f"{p.name}: centre {p.centre:.3g}, spread {p.spread:.2g} ({'of the log' if p.kind == 'log' else 'plain'}); "
            f"{turned(p.reason, head.system)} ({p.mark})"
            for p in priors
        ),
        sources=tuple(turned(line, head.system) for line in head.alloy.sources),
        assumed=(*head.assumed, *section.assumed),
    )


def _influence(head: Head) -> Step | None:
    """One spot at a third of the length: kink by reciprocity, against the code."""
    if head.torch is None:
        return None
    from straighten.theory.beam import derive_influence

    law, section = derive_influence(), section_of(head)
    at = head.casting.length / 3
    spot = HeatSpot(
        station=at, side="inlet", radius=head.torch.radius, dwell=head.torch.dwell, peak=head.torch.peak
    )
    relaxed = relax_spots(head, section, None, [spot], nominal())
    kink = float(relaxed.kinks[0, 0])
    inertia = section.EI / section.modulus
    height = section.height - head.casting.roof / 2 - section.neutral_axis
    volume = kink * inertia / height
    values = {law.V: volume, law.z: height, law.I: inertia, law.L: head.casting.length, law.a: at}
    bow = float(law.bow.subs(values))
    return Step(
        title="1 What one heat spot does to the middle (reciprocity)",
        formula=f"kink = {law.kink};  fall of the middle = {law.bow_front} for a spot in the front half",
        numbers=(
            f"V = {_cubed(volume, 3, head.system)} shrunk in the roof, z = {show(height, head.system, big=True)} over the neutral axis, "
            f"I = {_cubed(inertia, 4, head.system)}, a = {show(at, head.system, big=True)}, "
            f"L = {show(head.casting.length, head.system, big=True)}"
        ),
        result=f"kink {1e6 * kink:.0f} microrad, fall {_fine(bow, head.system)}",
        code=f"kink by the code {1e6 * kink:.0f} microrad; deck edges fall {_fine(float(relaxed.lines[0, 0]), head.system)}",
    )


def _release(bow: float, system: System) -> Step:
    from straighten.theory.beam import derive_release

    law = derive_release()
    share = 0.1
    values = {law.h: bow, law.t: bow / 2, law.g: 0.0, law.f: share, law.s: 0.0}
    after = float(law.after.subs(values))
    return Step(
        title="2 What stays after release",
        formula=f"after = {law.after};  over-bend for a straight head = {law.over_bend}",
        numbers=f"h = {_fine(bow, system)}, t = h/2, g = 0, f = {share}, s = 0 (no spots)",
        result=f"after = {_fine(after, system)}; the half-bow shim straightens only where f = 2/3",
        code=f"before less set: {_fine(bow - share * (bow + bow / 2), system)}",
    )


def _beam(head: Head) -> Step:
    """The force to press the bow flat by the closed form, against the contact model with its shims and base."""
    from straighten.theory.beam import derive_pulled_beam

    law, section = derive_pulled_beam(), section_of(head)
    span = head.rear_shim - head.front_shim
    bolts = middle_bolts(head)
    at = min(head.bolts[b].station for b in bolts) - head.front_shim
    state = np.zeros((1, len(INDEX)))
    state[0, INDEX["deck_bow"]] = state[0, INDEX["cam_bow"]] = 0.3e-3
    clamped = clamp_head(head, state, ClampSetup(shims=(1e-4,) * 4, bolts=bolts, gap=0.0), nominal())
    force = float(clamped.total_force[0])
    values = {law.L: span, law.a: at, law.P: force, law.EI: section.EI, law.kGA: section.kGA}
    under = float(law.under_pull.subs(values))
    return Step(
        title="3 How far the pull bends the head (Timoshenko beam)",
        formula=f"deflection under the pull = {law.under_pull}",
        numbers=(
            f"L = {show(span, head.system, big=True)} between shims, a = {show(at, head.system, big=True)}, "
            f"P = {_stiff(force, 0, head.system)}, EI = {_stiff(section.EI, 2, head.system)}, "
            f"kGA = {_stiff(section.kGA, 0, head.system)}"
        ),
        result=f"{_fine(under, head.system)} by bending and shear of the head alone",
        code=f"bend by the contact model, shims, base and ends in it: {_fine(float(clamped.bend[0]), head.system)}",
    )


def _fine(length: float, system: System) -> str:
    """Return a length [m] finer than a blade can tell, the person's own unit first."""
    return own_first(f"{1e3 * length:.4f} mm", f"{length / THOU:.2f} thou", system)


def _cubed(value: float, power: int, system: System) -> str:
    """Return a volume [m3] or a second moment [m4], the person's own unit first."""
    metric = f"{1e3**power * value:.3g} mm{power}"
    return metric if system == "mm" else f"{value / INCH**power:.3g} in{power} ({metric})"


def _stiff(value: float, lengths: int, system: System) -> str:
    """Return a force [N], or a force times a length squared, the person's own unit first."""
    metric, inch = ("N m2", "lbf in2") if lengths else ("N", "lbf")
    told = f"{value:.3g} {metric}"
    return told if system == "mm" else f"{value / POUND_FORCE / INCH**lengths:.3g} {inch} ({told})"
