"""What the removed metal does to the engine, and what another gasket gives back."""

import math
from dataclasses import replace

import numpy as np
import pytest

from straighten.head import head_from_text, template_head
from straighten.sanding.consequences import consequences
from straighten.sanding.engine import cylinder_of, ratio_after
from straighten.sanding.face import face_of_states
from straighten.shape.modes import INDEX, STATE

HEAD = head_from_text(template_head(), "template")
BOWED = np.zeros((1, len(STATE)))
BOWED[0, INDEX["deck_bow"]] = 1e-4


def after(opening):
    engine = replace(HEAD.engine, opening=opening, gasket_options=(1.2e-3, 1.5e-3))
    face = face_of_states(BOWED)
    return replace(HEAD, engine=engine), consequences(
        replace(HEAD, engine=engine), face, face.height + 5e-5, {}
    )


def test_a_thicker_gasket_gives_back_what_it_is_thicker_by():
    # chamber as wide as the bore: the ratio is that of the cut less 0.3 mm; derived
    head, found = after(1.0)
    cut, area = head.cam_height - found.cam_root[1][1], math.pi / 4 * head.engine.bore**2
    now, thicker = found.gaskets
    cylinder = cylinder_of(head.engine)
    assert now.ratio == pytest.approx(float(ratio_after(cylinder, area * cut)))
    assert thicker.ratio == pytest.approx(float(ratio_after(cylinder, area * (cut - 0.3e-3))))
    assert thicker.ratio < found.ratio_before < now.ratio
    assert thicker.left == pytest.approx(cut - 0.3e-3)


def test_a_gasket_is_as_wide_as_the_bore_where_the_chamber_is_narrower():
    # swept volume s over clearance c: 1 + s / (c - 0.8 A cut + A 0.3 mm); by hand
    head, found = after(0.8)
    cut, area = head.cam_height - found.cam_root[1][1], math.pi / 4 * head.engine.bore**2
    swept = area * head.engine.stroke
    clearance = swept / (head.engine.ratio - 1) - 0.8 * area * cut + area * 0.3e-3
    assert found.gaskets[1].ratio == pytest.approx(1 + swept / clearance)


def valves(clearances, cuts):
    """Return inlet and exhaust valve of an engine with upright valves after so many cuts alike over the deck [m]."""
    engine = replace(HEAD.engine, valve_angles=(0.0, 0.0), valve_clearances=clearances)
    face = face_of_states(np.zeros((len(cuts), len(STATE))))
    depth = face.height + np.asarray(cuts)
    return consequences(replace(HEAD, engine=engine), face, depth, {}).valves


def test_the_inlet_stands_first_and_the_exhaust_needs_more_room():
    # 80 thou for the inlet, 100 for the exhaust, which the piston chases: trade figures, seen
    inlet, exhaust = valves((2.3e-3, 2.3e-3), [0.1e-3])
    assert (inlet.name, exhaust.name) == ("inlet", "exhaust")
    assert inlet.least.value == pytest.approx(0.080 * 25.4e-3, rel=0.02)
    assert exhaust.least.value == pytest.approx(0.100 * 25.4e-3, rel=0.02)
    assert inlet.holds is True
    assert exhaust.holds is False
    told = valves((2.3e-3, 2.9e-3), [0.1e-3])
    assert [v.after[1] for v in told] == pytest.approx([2.2e-3, 2.8e-3])


def test_a_valve_holds_only_where_the_deepest_cut_believed_leaves_it_room():
    # a valve that meets a piston breaks both: the unlucky end decides; derived
    cuts = np.linspace(0.0, 0.4e-3, 101)
    inlet, exhaust = valves((2.2e-3, 2.9e-3 + 1e-6), cuts)
    assert inlet.after[1] == pytest.approx(2.0e-3)
    assert inlet.after[0] == pytest.approx(1.84e-3)
    assert inlet.holds is False
    assert exhaust.holds is True
