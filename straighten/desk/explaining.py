"""Explain a head's plan: the derived formulas with its numbers in, held against what the code computes."""

from __future__ import annotations

import numpy as np

from straighten.belief.priors import priors_for
from straighten.clamp import ClampSetup, clamp_head, section_of
from straighten.desk.dossier import Dossier
from straighten.head.records import Head
from straighten.heat import HeatSpot, nominal, relax_spots
from straighten.plan.candidates import middle_bolts
from straighten.shape import fit_shape
from straighten.shape.modes import INDEX
from straighten.sheet.learned import Explanation, Step
from straighten.theory.beam import derive_influence, derive_pulled_beam, derive_release
from straighten.units import INCH, POUND_FORCE, THOU, System, own_first, show, turned


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
