"""What a survey says: each thing found has its kind, its number with its threshold, and whether the work waits for it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from straighten.head.records import Head
from straighten.readings.records import Bracket, Hardness, Intake, Line, Readings
from straighten.shape import Assessment, Finding, assess, fit_shape
from straighten.sources import Cited
from tests.shape.builders import blank_line, head, read, state, survey

SOUND = Intake(cracks="none found", magnesium="no")


def hardness(**sides: float) -> tuple[Hardness, ...]:
    return tuple(
        Hardness(place="deck", side=None if side == "centre" else side, station=None, value=value)
        for side, value in sides.items()
    )


HARD = hardness(exhaust=88.0, centre=90.0, inlet=90.0)


def judged(
    shape: np.ndarray, on: Head | None = None, history: tuple[Readings, ...] = (), **more: object
) -> Assessment:
    on = on or head()
    readings = replace(survey(shape, on), **{"intake": SOUND, "hardness": HARD, **more})
    return assess(on, readings, fit_shape(readings, on), history)


BENT = state(deck_bow=0.3, cam_bow=0.28)


def one(found: Assessment, kind: str) -> Finding:
    (finding,) = (f for f in found.findings if f.kind == kind)
    return finding


def waits(found: Assessment) -> set[str]:
    """Return the kinds that the work waits for."""
    return {f.kind for f in found.findings if f.holds}


def test_the_usual_bow_waits_for_nothing_and_its_direction_is_told_in_words() -> None:
    found = judged(BENT)
    assert (found.pattern, found.direction) == ("whole-body bow", "middle down")
    assert "shims under the ENDS" in found.direction_words
    assert not waits(found)
    assert one(found, "bow").threshold == head().thresholds.straighten_from


def test_a_reverse_bow_is_bent_the_other_way() -> None:
    found = judged(-BENT)
    assert (found.pattern, found.direction) == ("reverse bow", "ends down")
    assert "shims under the MIDDLE" in found.direction_words
    assert not waits(found)


@pytest.mark.parametrize(
    ("more", "kind", "word"),
    [
        ({"intake": replace(SOUND, cracks="found")}, "crack", "crack"),
        ({"intake": replace(SOUND, magnesium="yes")}, "magnesium", "burns"),
        ({"hardness": hardness(exhaust=60.0, inlet=85.0)}, "hardness level", "60 HB"),
    ],
)
def test_what_ruins_the_head_or_hurts_someone_is_forbidden(
    more: dict[str, object], kind: str, word: str
) -> None:
    found = one(judged(BENT, **more), kind)
    assert (found.weight, found.holds) == ("forbidden", True)
    assert word in found.told
    assert found.do


def test_a_magnesium_casting_in_the_head_file_is_forbidden_too() -> None:
    assert one(judged(BENT, replace(head(), magnesium=True)), "magnesium").weight == "forbidden"


def test_a_crack_counts_until_a_repair_and_a_passed_leak_test_are_told() -> None:
    cracked = Readings(intake=replace(SOUND, cracks="found"))
    again, sealed = (
        judged(BENT, history=(cracked,), intake=replace(SOUND, cracks=told))
        for told in ("none found", "repaired, leak test passed")
    )
    assert one(again, "crack").weight == "forbidden"  # a second look that missed it mends nothing
    assert not [f for f in sealed.findings if f.kind == "crack"]


def test_magnesium_told_once_stays_whatever_is_told_after_it() -> None:
    told = Readings(intake=replace(SOUND, magnesium="yes"))
    assert one(judged(BENT, history=(told,)), "magnesium").weight == "forbidden"


def test_a_side_that_has_lost_its_temper_is_advised_against() -> None:
    found = one(judged(BENT, hardness=hardness(exhaust=70.0, inlet=92.0)), "hardness side to side")
    assert (found.weight, found.holds) == ("advised against", True)
    assert "exhaust side" in found.sentence


def test_hardness_lost_since_the_first_survey_is_advised_against() -> None:
    first = Readings(hardness=hardness(exhaust=99.0, inlet=90.0))
    lost = one(judged(BENT, history=(first, Readings())), "hardness change")
    assert (lost.weight, lost.holds) == ("advised against", True)
    assert "11 HB" in lost.sentence
    kept = one(judged(BENT, history=(Readings(hardness=hardness(exhaust=95.0)),)), "hardness change")
    assert (kept.weight, kept.holds) == ("fine", False)


def test_a_soft_mean_is_advised_against_and_a_missing_test_asked_for_but_neither_stops_the_work() -> None:
    soft, none = judged(BENT, hardness=hardness(exhaust=70.0, inlet=72.0)), judged(BENT, hardness=())
    assert one(soft, "hardness low").weight == "advised against"
    assert one(none, "hardness unknown").weight == "unknown"
    assert not waits(soft)
    assert not waits(none)


def test_what_nobody_has_told_is_asked_for_with_a_test_that_a_garage_has() -> None:
    found = judged(BENT, intake=Intake(), hardness=())
    for kind in ("magnesium unknown", "crack check", "hardness unknown"):
        assert one(found, kind).weight == "unknown"
        assert one(found, kind).do.startswith("Test: ")
        assert "common practice" in one(found, kind).do or "from memory" in one(found, kind).do


@pytest.mark.parametrize(
    ("twist", "weight", "holds"),
    [
        (0.02, "fine", False),
        (0.09, "advised against", True),
    ],
)
def test_twist_is_judged_as_a_plate_shows_it_twice_the_lift_of_a_corner(
    twist: float, weight: str, holds: bool
) -> None:
    # more than 0.10 mm (4 thou): common practice, no source
    found = one(judged(BENT + state(twist=twist)), "twist")
    assert (found.weight, found.holds) == (weight, holds)
    if weight == "advised against":
        assert found.value == pytest.approx(2 * twist * 1e-3, abs=0.03e-3)


def test_a_twist_that_may_be_over_the_limit_is_asked_for_and_holds_nothing() -> None:
    whole = survey(BENT)
    middle = tuple(line for line in whole.lines if line.part == "cam" or line.name == "centre")
    readings = replace(whole, lines=middle, intake=SOUND, hardness=HARD)
    found = one(assess(head(), readings, fit_shape(readings, head())), "twist unknown")
    assert (found.weight, found.holds) == ("unknown", False)
    assert "flat plate" in found.do
    assert "diagonals" in found.do


def test_a_bow_over_a_millimetre_is_advised_against() -> None:
    # above about 1 mm (40 thou) at home: common practice, no source
    found = one(judged(state(deck_bow=1.3, cam_bow=1.2)), "bow too large")
    assert (found.weight, found.holds) == ("advised against", True)


def test_a_small_bow_is_told_with_what_the_trade_does_and_holds_nothing() -> None:
    # from 0.08 mm (3 thou) up straighten first: a machine shop's page
    found = judged(state(deck_bow=0.06, cam_bow=0.07))
    small = one(found, "bow")
    assert small.value < head().thresholds.straighten_from.value
    assert (small.weight, small.holds) == ("fine", False)
    assert "faces less than that" in small.sentence
    assert (
        found.pattern == "whole-body bow"
    )  # the cam line is over its limit: the trade's figure does not hide it


def test_what_is_inside_both_limits_is_straight() -> None:
    found = judged(state(deck_bow=0.02, cam_bow=0.01))
    assert (found.pattern, found.direction) == ("straight", "none")


def test_a_deck_skimmed_while_bent_is_known_by_its_cam_line() -> None:
    found = judged(state(deck_bow=0.02, cam_bow=0.22))
    assert (found.pattern, found.direction) == ("skimmed while bent", "middle down")
    assert "already cut flat" in found.direction_words


def test_a_hollow_deck_under_a_straight_cam_line_is_not_bent() -> None:
    found = judged(state(deck_bow=0.15, cam_bow=0.01))
    assert (found.pattern, found.direction) == ("local collapse", "none")


def test_deck_and_cam_line_of_opposite_sign_are_asked_about_then_advised_against() -> None:
    shape = state(deck_bow=0.2, cam_bow=-0.2)
    found = judged(shape)
    asked = one(found, "opposite bows")
    assert (asked.weight, asked.holds, found.direction) == ("unknown", True, "none")
    assert "Did the straightedge rock" in asked.sentence
    agreed = one(judged(shape, agreed=True), "opposite bows")
    assert (agreed.weight, agreed.holds) == ("advised against", True)


def test_without_a_cam_line_or_a_deck_the_shape_is_not_known() -> None:
    for part, kind in (("deck", "cam line not measured"), ("cam", "deck not measured")):
        whole = survey(BENT)
        readings = replace(
            whole, lines=tuple(x for x in whole.lines if x.part == part), intake=SOUND, hardness=HARD
        )
        found = assess(head(), readings, fit_shape(readings, head()))
        assert (one(found, kind).weight, one(found, kind).holds) == ("unknown", True)
        assert (found.pattern, found.direction) == ("not known", "none")


def test_a_bow_known_too_badly_is_read_at_more_places() -> None:
    diagonal = read(blank_line("deck", "front exhaust to rear inlet", "bridged", (0.210,)), BENT, head())
    cam = next(line for line in survey(BENT).lines if line.part == "cam")
    readings = Readings(lines=(diagonal, cam), intake=SOUND, hardness=HARD)
    found = assess(head(), readings, fit_shape(readings, head()))
    assert "bow too vague" in waits(found)
    assert all(f.weight == "unknown" for f in found.findings if f.kind == "bow too vague")


def test_a_named_slip_is_waited_for_unless_the_person_is_sure() -> None:
    whole = survey(-BENT)
    rocked = read(blank_line("deck", "centre", "rocked", (0.02, 0.115, 0.210, 0.305, 0.4)), -BENT, head())
    waited = []
    for sure in (False, True):
        wrong = replace(rocked, mode="balanced", sure=sure)
        readings = replace(
            whole,
            lines=tuple(wrong if x.name == "centre" else x for x in whole.lines),
            intake=SOUND,
            hardness=HARD,
        )
        waited.append("suspect reading" in waits(assess(head(), readings, fit_shape(readings, head()))))
    assert waited == [True, False]


def test_the_casting_comes_before_the_measuring_and_the_measuring_before_the_bend() -> None:
    shape = state(deck_bow=0.2, cam_bow=-0.2, twist=0.09)
    cracked = judged(shape, intake=replace(SOUND, cracks="found"))
    kinds = [f.kind for f in cracked.findings if f.holds]
    assert kinds[0] == "crack"
    assert kinds.index("opposite bows") < kinds.index("twist")


def test_thresholds_are_the_head_s_own() -> None:
    lenient = replace(
        head(), thresholds=replace(head().thresholds, hardness_reject=Cited(55.0, "HB", "the test", "given"))
    )
    found = judged(BENT, lenient, hardness=hardness(exhaust=78.0, centre=60.0, inlet=80.0))
    assert not waits(found)


def test_every_finding_with_a_threshold_names_its_source() -> None:
    for bent in (BENT, state(deck_bow=0.02, cam_bow=0.22), state(deck_bow=1.3, cam_bow=1.2)):
        for finding in judged(bent).findings:
            if finding.threshold is not None:
                assert finding.threshold.source
        assert {c.name for c in fit_shape(survey(bent), head()).limits} == {
            "deck overall",
            "deck per length",
            "cam line overall",
            "cam line tower to tower",
        }


@pytest.mark.parametrize(
    ("bow", "direction", "holds"),
    [(0.3, "middle down", False), (-0.3, "ends down", False), (0.0, "none", True)],
)
def test_a_bar_alone_takes_its_sign_from_the_deck_or_is_measured_again(
    bow: float, direction: str, holds: bool
) -> None:
    deck = tuple(line for line in survey(state(deck_bow=bow)).lines if line.part == "deck")
    bar = Line(
        part="cam", name="single", mode="bar", brackets=(Bracket(station=0.0, low=0.18e-3, high=0.22e-3),)
    )
    readings = Readings(lines=(*deck, bar), intake=SOUND, hardness=HARD)
    shape = fit_shape(readings, head())
    found = assess(head(), readings, shape)
    told = one(found, "cam line without a sign")
    assert (told.weight, told.holds) == ("unknown", holds)
    if direction != "none":
        assert found.direction == direction
        assert np.sign(shape.value("cam_bow")) == np.sign(bow)


def test_a_side_that_has_begun_to_soften_and_a_weld_are_kept_in_mind() -> None:
    found = judged(BENT, hardness=hardness(exhaust=78.0, inlet=92.0), intake=replace(SOUND, welded="yes"))
    assert {"hardness side to side", "weld"} <= {
        f.kind for f in found.findings if f.weight == "advised against"
    }
    assert not waits(found)
    told = one(found, "hardness side to side").sentence
    assert "begun to soften" in told
    assert "lost its temper" not in told  # which is told where the work waits for it
