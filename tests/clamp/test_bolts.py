"""Reading threads and grades as people write them."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from straighten.clamp.bolts import (
    FRICTION,
    FRICTION_SPREAD,
    LEAST_FRICTION,
    grade_of,
    tension_from,
    thread_of,
    torque_for,
)
from straighten.errors import BadInput


@pytest.mark.parametrize(
    ("one", "other"),
    [("M10", "M10x1.5"), ("m10X1.5", "M10x1.5"), ("M 10 x 1.5", "M10x1.5"), ("7/16", "7/16-14"), ("1/2 UNF", "1/2-20"),
     ("3/8-16 UNC", "3/8-16"), ("M11", "M11x1.5")],
)  # fmt: skip
def test_ways_to_write_a_thread(one, other):
    assert thread_of(one).area == pytest.approx(thread_of(other).area)


@pytest.mark.parametrize(
    "name", ["", "10", "M", "M3", "M10x0.1", "99/16-14", "1/0-20", "7/16-900", "M10x1.5; drop"]
)
def test_what_is_not_a_thread_is_refused(name):
    with pytest.raises(BadInput) as fault:
        thread_of(name)
    assert fault.value.where == "bolts.thread"


@pytest.mark.parametrize("name", ["8.8", "class 8.8", "8,8", " 8.8 "])
def test_ways_to_write_a_grade(name):
    assert grade_of(name, thread_of("M10")).proof == pytest.approx(580e6)


def test_eight_eight_is_a_little_stronger_over_m16():
    assert grade_of("8.8", thread_of("M18")).proof > grade_of("8.8", thread_of("M16")).proof


def test_inch_eight_is_not_metric_eight_eight():
    thread = thread_of("7/16")
    assert grade_of("8", thread).proof > 1.3 * grade_of("8.8", thread).proof


@given(torque=st.floats(1, 200), friction=st.floats(0.08, 0.24))
def test_torque_to_tension_and_back(torque, friction):
    thread = thread_of("M10x1.5")
    assert torque_for(tension_from(torque, thread, friction), thread, friction) == pytest.approx(torque)


def test_friction_holds_classes_b_and_c_as_its_1_and_99_per_cent_ends():
    """VDI 2230 part 1, table of friction classes: B 0.08 to 0.16, C 0.14 to 0.24 (from memory)."""
    middle, spread = FRICTION.value, FRICTION_SPREAD.value
    assert middle * 2.718281828 ** (-2.326 * spread) == pytest.approx(0.08, rel=0.01)
    assert middle * 2.718281828 ** (2.326 * spread) == pytest.approx(0.24, rel=0.01)
    assert LEAST_FRICTION.value == 0.08


@pytest.mark.parametrize(
    ("size", "face", "hole"),
    [(6, 8.88, 6.6), (8, 11.63, 9.0), (10, 14.63, 11.0), (12, 16.63, 13.5), (14, 19.64, 15.5), (16, 22.49, 17.5)],
)  # fmt: skip
def test_friction_under_the_nut_acts_between_its_face_and_the_hole(size, face, hole):
    """ISO 4032, least washer face of the nut; ISO 273, medium hole (both from memory)."""
    assert thread_of(f"M{size}").bearing == pytest.approx((face + hole) / 2 * 1e-3, abs=0.05e-3)


@pytest.mark.parametrize(
    ("size", "unc", "unf"),
    [("1/4", 0.0318, 0.0364), ("5/16", 0.0524, 0.0580), ("3/8", 0.0775, 0.0878), ("7/16", 0.1063, 0.1187),
     ("1/2", 0.1419, 0.1599), ("9/16", 0.182, 0.203), ("5/8", 0.226, 0.256), ("3/4", 0.334, 0.373)],
)  # fmt: skip
def test_inch_threads_without_a_count_have_that_of_their_series(size, unc, unf):
    """Tensile stress areas of ASME B1.1 [in2], as bolt tables print them (from memory)."""
    for series, area in (("UNC", unc), ("UNF", unf)):
        assert thread_of(f"{size} {series}").area / 0.0254**2 == pytest.approx(area, rel=4e-3)


@pytest.mark.parametrize(
    ("size", "area"),
    [(5, 14.2), (6, 20.1), (7, 28.9), (8, 36.6), (10, 58.0), (12, 84.3), (14, 115), (16, 157), (18, 192), (20, 245),
     (22, 303), (24, 353), (27, 459), (30, 561), (33, 694), (36, 817)],
)  # fmt: skip
def test_metric_threads_without_a_pitch_are_coarse(size, area):
    """Stress areas of ISO 898-1, coarse threads [mm2] (from memory)."""
    assert thread_of(f"M{size}").area * 1e6 == pytest.approx(area, rel=4e-3)
