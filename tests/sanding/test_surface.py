"""The surface that is sanded on: tolerances of the standards, its own survey, what comes off on the head.

Sources: DIN 876 and ISO 8512-2 flatness tolerances as printed in public tables (seen; ISO grades 1 to 3 from memory).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from straighten.desk.sanding_files import surface_from_text
from straighten.errors import BadInput
from straighten.head import head_from_text, template_head
from straighten.sanding.lap import din_876, graded_surface, iso_8512, unknown_surface
from straighten.sanding.plan import expected_flatness

HEAD = head_from_text(template_head(), "template")
LINES = """
length = 840
width = 300
mode = "bridged"
stations = [140, 280, 420, 560, 700]
[[deck]]
line = "exhaust edge"
gaps = [{g}]
[[deck]]
line = "centre"
gaps = [{g}]
[[deck]]
line = "inlet edge"
gaps = [{g}]
[[deck]]
line = "front exhaust to rear inlet"
gaps = [{g}]
[[deck]]
line = "front inlet to rear exhaust"
gaps = [{g}]
"""
HOLLOW = '"0.10-0.12", "0.15-0.18", "0.18-0.20", "0.15-0.18", "0.10-0.12"'


@pytest.mark.parametrize(
    ("length", "microns"), [(0.5, (6, 15, 30, 60)), (0.8, (7.2, 18, 36, 72)), (1.0, (8, 20, 40, 80))]
)
def test_din_876_table(length, microns):
    assert [din_876(length, g) * 1e6 for g in range(4)] == pytest.approx(microns)


@pytest.mark.parametrize(("diagonal", "microns"), [(0.5, 4.0), (0.7, 4.6), (1.1, 5.8), (4.1, 14.8)])
def test_iso_8512_grade_0_table(diagonal, microns):
    assert iso_8512(0.6 * diagonal, 0.8 * diagonal, 0) * 1e6 == pytest.approx(microns)
    assert iso_8512(0.6 * diagonal, 0.8 * diagonal, 2) * 1e6 == pytest.approx(4 * microns)


def test_a_graded_plate_lies_anywhere_within_its_tolerance():
    plate = graded_surface("DIN 876/1", 0.6, 0.4)
    assert plate.error.max() <= din_876(0.6, 1)
    assert plate.middle == pytest.approx(din_876(0.6, 1) / 2, rel=0.01)


def test_a_hollow_surface_counts_over_the_heads_own_length_only():
    """A bow over twice the head's length is a quarter of itself over the head (a parabola, derived)."""
    found = surface_from_text(LINES.format(g=HOLLOW), HEAD, "glass.toml")
    assert found.bow == pytest.approx(0.19e-3 / 4, abs=8e-6)
    assert found.measured
    assert found.middle == pytest.approx(0.19e-3 / 4, rel=0.6)


def test_glass_that_nobody_measured_may_be_a_hundredth_out_or_half_a_tenth():
    # 15 um, a factor of three either way for eight in ten (assumed); glass of 10 mm on rests 0.35 m apart sags by
    # 5 q L^4 / (384 EI) between them: Roark, from memory
    low, middle, high = np.quantile(unknown_surface().error, (0.1, 0.5, 0.9))
    sag = 5 * 2500 * 9.81 * 0.35**4 / (32 * 70e9 * 0.01**2)
    assert (low, middle, high) == pytest.approx((5e-6, 15e-6, 45e-6), rel=0.05)
    assert low < sag < high


def test_a_worse_surface_gives_a_worse_face():
    left = np.full(256, 20e-6)
    good = unknown_surface()
    bad = replace(good, error=3 * good.error)
    assert np.median(expected_flatness(left, bad)) > np.median(expected_flatness(left, good)) > 20e-6


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("width = 300", ("length", "missing")),
        ("length = 840\nwidth = 300", ("neither a grade nor readings",)),
        ('length = 840\nwidth = 300\ngrade = "fine"', ("grade", "DIN 876/1")),
        ('length = 84000\nwidth = 300\ngrade = "DIN 876/1"', ("length",)),
        ('length = 840\nwidth = 300\ngrade = "DIN 876/1"\n[[deck]]\nline = "centre"\n', ("both", "grade")),
        ('length = 840\nwidth = 300\n[[deck]]\nline = "centr"\ngaps = [0]\n', ("deck.1",)),
        ("length = ", ("TOML",)),
    ],
)
def test_a_wrong_surface_file_is_told(text, words):
    with pytest.raises(BadInput) as told:
        surface_from_text(text, HEAD, "glass.toml")
    message = str(told.value)
    assert message.startswith("glass.toml")
    assert any(word in message for word in words)
