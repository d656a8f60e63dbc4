"""Go or no-go: each reason to stop is found, says its number and its threshold, and comes in the order of the bench."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from straighten.head.records import Head
from straighten.readings.records import Bracket, Hardness, Height, Intake, Line, Readings
from straighten.shape import Assessment, assess, fit_shape
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


def with_limits(**limits: object) -> Head:
    return replace(head(), limits=replace(head().limits, **limits))


def given(value: float) -> Cited[float]:
    return Cited(value, "m", "the test's own sheet", "given")


def test_the_usual_bow_is_straightened_with_the_direction_in_words() -> None:
    found = judged(BENT)
    assert (found.verdict, found.pattern, found.direction) == ("straighten", "whole-body bow", "middle down")
    assert "shims under the ENDS" in found.direction_words
    assert "\n" not in found.reason
    assert "0.3" in found.reason
    assert found.decided.threshold == head().thresholds.straighten_from


def test_a_reverse_bow_is_straightened_the_other_way() -> None:
    found = judged(-BENT)
    assert (found.verdict, found.pattern, found.direction) == ("straighten", "reverse bow", "ends down")
    assert "shims under the MIDDLE" in found.direction_words


@pytest.mark.parametrize(
    ("more", "kind", "word"),
    [
        ({"intake": replace(SOUND, cracks="found")}, "crack", "crack"),
        ({"intake": replace(SOUND, magnesium="yes")}, "magnesium", "burns"),
        ({"hardness": hardness(exhaust=60.0, inlet=85.0)}, "hardness level", "60 HB"),
        ({"hardness": hardness(exhaust=70.0, inlet=92.0)}, "hardness side to side", "exhaust side"),
        ({"intake": replace(SOUND, removed=0.3e-3)}, "height", "No height left"),
        ({"heights": (Height(place="front inlet", value=91.5e-3),)}, "height", "No height left"),
    ],
)
def test_what_ends_the_job_before_any_bow_is_looked_at(more: dict[str, object], kind: str, word: str) -> None:
    found = judged(BENT, **more)
    assert found.verdict == "hand it on"
    assert found.decided.kind == kind
    assert word in found.reason


def test_a_magnesium_casting_in_the_head_file_ends_the_job_too() -> None:
    assert judged(BENT, replace(head(), magnesium=True)).decided.kind == "magnesium"


def test_hardness_lost_since_the_first_survey_stops_the_heat() -> None:
    first = Readings(hardness=hardness(exhaust=99.0, inlet=90.0))
    found = judged(BENT, history=(first, Readings()))
    assert (found.verdict, found.decided.kind) == ("hand it on", "hardness change")
    assert "11 HB" in found.reason
    assert judged(BENT, history=(Readings(hardness=hardness(exhaust=95.0)),)).verdict == "straighten"


def test_a_soft_mean_or_a_missing_test_is_a_doubt_not_a_stop() -> None:
    soft = judged(BENT, hardness=hardness(exhaust=70.0, inlet=72.0))
    none = judged(BENT, hardness=())
    assert soft.verdict == none.verdict == "straighten"
    for found in (soft, none):
        assert any(f.kind == "hardness level" and f.weight == "doubt" for f in found.findings)


@pytest.mark.parametrize(("twist", "verdict"), [(0.02, "straighten"), (0.09, "hand it on")])
def test_twist_is_judged_as_a_plate_shows_it_twice_the_lift_of_a_corner(twist: float, verdict: str) -> None:
    # more than 0.10 mm (4 thou): common practice, no source
    found = judged(BENT + state(twist=twist))
    assert found.verdict == verdict
    if verdict == "hand it on":
        assert found.decided.kind == "twist"
        assert found.decided.value == pytest.approx(2 * twist * 1e-3, abs=0.03e-3)


def test_a_bow_over_a_millimetre_is_handed_on() -> None:
    # above about 1 mm (40 thou) at home: common practice, no source
    found = judged(state(deck_bow=1.3, cam_bow=1.2))
    assert (found.verdict, found.decided.kind) == ("hand it on", "bow too large")


def test_a_small_bow_is_faced_without_bending() -> None:
    # from 0.08 mm (3 thou) up straighten first: a machine shop's page
    found = judged(state(deck_bow=0.06, cam_bow=0.03))
    assert (found.verdict, found.pattern, found.direction) == ("sand only", "straight", "none")
    assert found.decided.value < head().thresholds.straighten_from.value


def test_a_head_inside_every_limit_is_left_alone() -> None:
    """Common practice, no source: what is inside is neither bent nor cut; a few hundredths over and it is faced."""
    found = judged(state(deck_bow=0.02, cam_bow=0.01))
    assert (found.verdict, found.direction) == ("inside limits", "none")
    assert "nothing to sand" in found.reason
    # a step of a thou between towers cannot be told with blades of two: it is named, not failed
    assert "cam line tower to tower" in found.reason
    assert "finer blades" in found.reason
    assert judged(state(deck_bow=0.06, cam_bow=0.03)).verdict == "sand only"


def test_facing_a_small_bow_says_that_the_cam_line_stays_bent() -> None:
    found = judged(state(deck_bow=0.065, cam_bow=0.072))
    assert found.verdict == "sand only"
    assert any(f.kind == "cam line stays bent" for f in found.findings)


def test_no_height_to_face_even_a_small_bow_is_handed_on() -> None:
    found = judged(
        state(deck_bow=0.07, cam_bow=0.03), with_limits(largest_removal=given(0.03e-3), least_height=None)
    )
    assert (found.verdict, found.decided.kind) == ("hand it on", "height for facing")


def test_skimmed_while_bent_says_how_far_the_deck_will_crown_and_whether_height_allows() -> None:
    shape = state(deck_bow=0.02, cam_bow=0.22)
    able = judged(shape)
    assert (able.verdict, able.pattern, able.direction) == ("straighten", "skimmed while bent", "middle down")
    assert able.crown == pytest.approx(0.2e-3, abs=0.04e-3)
    told = next(f for f in able.findings if f.kind == "crown after straightening")
    assert "crowned by about" in told.sentence
    assert "second cut" in told.sentence
    assert "already cut flat" in able.direction_words
    unable = judged(shape, with_limits(largest_removal=given(0.12e-3)))
    assert (unable.verdict, unable.decided.kind) == ("hand it on", "crown after straightening")
    assert "line boring" in unable.reason


def test_a_hollow_deck_under_a_straight_cam_line_is_faced_not_bent() -> None:
    shape = state(deck_bow=0.15, cam_bow=0.01)
    assert (judged(shape).verdict, judged(shape).pattern) == ("sand only", "local collapse")
    assert judged(shape, with_limits(largest_removal=given(0.08e-3))).verdict == "hand it on"


def test_deck_and_cam_line_of_opposite_sign_are_asked_about_then_handed_on() -> None:
    shape = state(deck_bow=0.2, cam_bow=-0.2)
    asked = judged(shape)
    assert (asked.verdict, asked.decided.kind, asked.direction) == ("measure again", "opposite bows", "none")
    assert "Did the straightedge rock" in asked.reason
    agreed = judged(shape, agreed=True)
    assert (agreed.verdict, agreed.decided.kind) == ("hand it on", "opposite bows")


def test_without_a_cam_line_or_a_deck_there_is_no_verdict() -> None:
    for part, kind in (("deck", "cam line not measured"), ("cam", "deck not measured")):
        whole = survey(BENT)
        readings = replace(
            whole, lines=tuple(x for x in whole.lines if x.part == part), intake=SOUND, hardness=HARD
        )
        found = assess(head(), readings, fit_shape(readings, head()))
        assert (found.verdict, found.decided.kind, found.pattern) == ("measure again", kind, "not known")


def test_a_bow_known_too_badly_is_measured_again() -> None:
    diagonal = read(blank_line("deck", "front exhaust to rear inlet", "bridged", (0.210,)), BENT, head())
    cam = next(line for line in survey(BENT).lines if line.part == "cam")
    readings = Readings(lines=(diagonal, cam), intake=SOUND, hardness=HARD)
    found = assess(head(), readings, fit_shape(readings, head()))
    assert (found.verdict, found.decided.kind) == ("measure again", "bow too vague")


def test_a_named_slip_is_measured_again_unless_the_person_is_sure() -> None:
    whole = survey(-BENT)
    rocked = read(blank_line("deck", "centre", "rocked", (0.02, 0.115, 0.210, 0.305, 0.4)), -BENT, head())
    verdicts = []
    for sure in (False, True):
        wrong = replace(rocked, mode="balanced", sure=sure)
        readings = replace(
            whole,
            lines=tuple(wrong if x.name == "centre" else x for x in whole.lines),
            intake=SOUND,
            hardness=HARD,
        )
        verdicts.append(assess(head(), readings, fit_shape(readings, head())))
    assert verdicts[0].decided.kind == "suspect reading"
    assert verdicts[0].verdict == "measure again"
    assert verdicts[1].decided.kind != "suspect reading"


def test_intake_comes_before_measuring_and_measuring_before_the_bend() -> None:
    cracked = judged(state(deck_bow=0.2, cam_bow=-0.2, twist=0.09), intake=replace(SOUND, cracks="found"))
    unclear = judged(state(deck_bow=0.2, cam_bow=-0.2, twist=0.09))
    assert cracked.decided.kind == "crack"
    assert unclear.decided.kind == "opposite bows"


def test_thresholds_are_the_head_s_own() -> None:
    lenient = replace(
        head(), thresholds=replace(head().thresholds, hardness_reject=Cited(55.0, "HB", "the test", "given"))
    )
    found = judged(BENT, lenient, hardness=hardness(exhaust=78.0, centre=60.0, inlet=80.0))
    assert found.verdict == "straighten"


def test_every_finding_with_a_threshold_names_its_source() -> None:
    for found in (
        judged(BENT),
        judged(state(deck_bow=0.02, cam_bow=0.22)),
        judged(state(deck_bow=1.3, cam_bow=1.2)),
    ):
        for finding in found.findings:
            if finding.threshold is not None:
                assert finding.threshold.source
        assert {c.name for c in found.limits} == {
            "deck overall",
            "deck per length",
            "cam line overall",
            "cam line tower to tower",
        }


@pytest.mark.parametrize(
    ("bow", "direction", "weight"),
    [(0.3, "middle down", "doubt"), (-0.3, "ends down", "doubt"), (0.0, "none", "measure again")],
)
def test_a_bar_alone_takes_its_sign_from_the_deck_or_is_measured_again(
    bow: float, direction: str, weight: str
) -> None:
    deck = tuple(line for line in survey(state(deck_bow=bow)).lines if line.part == "deck")
    bar = Line(
        part="cam", name="single", mode="bar", brackets=(Bracket(station=0.0, low=0.18e-3, high=0.22e-3),)
    )
    readings = Readings(lines=(*deck, bar), intake=SOUND, hardness=HARD)
    shape = fit_shape(readings, head())
    found = assess(head(), readings, shape)
    told = next(f for f in found.findings if f.kind == "cam line without a sign")
    assert told.weight == weight
    if direction != "none":
        assert found.direction == direction
        assert np.sign(shape.value("cam_bow")) == np.sign(bow)
    else:
        assert found.verdict == "measure again"


def test_a_side_that_has_begun_to_soften_and_a_weld_are_kept_in_mind() -> None:
    found = judged(BENT, hardness=hardness(exhaust=78.0, inlet=92.0), intake=replace(SOUND, welded="yes"))
    assert found.verdict == "straighten"
    doubts = {f.kind for f in found.findings if f.weight == "doubt"}
    assert {"hardness side to side", "weld"} <= doubts


def test_cracks_not_yet_looked_for_are_remarked_on() -> None:
    found = judged(BENT, intake=Intake())
    assert any(f.kind == "crack" and f.weight == "doubt" for f in found.findings)
