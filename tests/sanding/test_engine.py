"""The engine's figures where they are not all given, and cuts that cannot be."""

import math
from dataclasses import replace

import numpy as np
import pytest

from straighten.errors import BadInput
from straighten.head import head_from_text, template_head
from straighten.head.records import Engine
from straighten.sanding.engine import (
    Cylinder,
    Run,
    cam_retard,
    cuts_per_cylinder,
    cylinder_of,
    ratio_after,
    run_of,
)
from straighten.sanding.face import face_of
from straighten.shape.modes import INDEX


def test_a_chamber_volume_stands_for_the_clearance_where_no_ratio_is_known():
    engine = Engine(bore=0.08, stroke=0.08, chamber=45e-6)
    swept = math.pi / 4 * 0.08**3
    assert cylinder_of(engine).ratio == pytest.approx(1 + swept / 45e-6)
    assert cylinder_of(replace(engine, ratio=9.0)).clearance == pytest.approx(swept / 8)
    assert cylinder_of(replace(engine, chamber=None)) is None
    assert cylinder_of(replace(engine, bore=None)) is None


def test_a_cut_through_the_chamber_is_refused():
    with pytest.raises(BadInput, match="larger than the chamber"):
        ratio_after(Cylinder(swept=4e-4, clearance=5e-5), 5e-5)


def test_gears_have_no_run_and_an_unknown_one_is_parallel_to_the_bore():
    engine = Engine(cam_pitch_radius=0.05)
    assert run_of(replace(engine, drive="gears")) is None
    assert run_of(Engine()) is None
    run = run_of(engine)
    assert float(cam_retard(run, 1e-3)) == pytest.approx(1e-3 / 0.05, rel=1e-9)


def test_wheels_that_would_overlap_are_refused():
    with pytest.raises(BadInput, match="overlap"):
        cam_retard(Run(cam=0.08, crank=0.04, distance=0.041), 2e-3)


def test_an_untold_bore_is_four_fifths_of_the_pitch_of_its_cylinders():
    # bridges of a fifth between bores: common practice, no source; a hollow deck is cut more over a wide bore's ends
    head = head_from_text(template_head(), "template")
    face = face_of(np.where(np.arange(11) == INDEX["deck_bow"], 2e-4, 0.0), 1e-14 * np.eye(11))
    depth = np.full(face.height.size, 0.1e-3)
    told, untold = (
        cuts_per_cylinder(replace(head, engine=replace(head.engine, cylinders=4, bore=bore)), face, depth)
        for bore in (0.8 * head.casting.length / 4, None)
    )
    assert untold == pytest.approx(told, rel=1e-9)
    wide = cuts_per_cylinder(replace(head, engine=replace(head.engine, cylinders=4, bore=0.3)), face, depth)
    assert wide[:, 1] != pytest.approx(told[:, 1], rel=0.02)
