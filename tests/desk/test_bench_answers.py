"""What was done otherwise than on the card, typed at the bench, is what a set-up file of `log --done` tells."""

from dataclasses import replace
from functools import partial

import pytest

from straighten.desk.bench_end import _Looked, after_the_heat
from straighten.desk.bench_words import Answer, Facts
from straighten.desk.logging import read_done
from straighten.desk.typed import (
    blade_that_goes,
    blade_that_stops,
    laid_otherwise,
    left_otherwise,
    round_at_once,
    soak_as_held,
    spot_as_heated,
    trial_told,
)
from straighten.errors import BadInput
from straighten.heat import Soak
from tests.desk.test_bench import OWN, PLANNED, clamped, session  # noqa: F401

HEAD, CARD = OWN.head, PLANNED.setup


def typed(text, system="mm"):
    return Answer(key="x", typed=text, at="", system=system)


def filed(tmp_path, text):
    path = tmp_path / "done.toml"
    path.write_text(text)
    return read_done(path, HEAD, CARD)[0]


@pytest.mark.parametrize(
    ("line", "system", "table"),
    [
        ("shims 0.15", "mm", "shims = 0.15"),
        ("corners 0.1 0.1 0.2 0.2 mm", "mm", "corners = [0.1, 0.1, 0.2, 0.2]"),
        ("front 0.1, rear 0.2", "mm", "front_shims = 0.1\nrear_shims = 0.2"),
        ("shims 6 thou; pull 111 309", "mm", 'shims = "6 thou"\npull_at = [111, 309]'),
        ("shims 6", "inch", 'shims = "6 thou"'),
    ],
)
def test_the_clamp_as_it_was_laid(tmp_path, line, system, table):
    found = laid_otherwise(HEAD, CARD, typed(line, system))
    wanted = filed(tmp_path, f"[clamp]\n{table}").clamp
    assert found.shims == pytest.approx(wanted.shims)
    assert replace(found, shims=wanted.shims) == wanted


def test_one_end_alone_leaves_the_other_as_on_the_card():
    found = laid_otherwise(HEAD, CARD, typed("front 0.3"))
    assert found.shims == pytest.approx((3e-4, 3e-4, *CARD.clamp.shims[2:]))
    assert found.bolts == CARD.clamp.bolts


@pytest.mark.parametrize(
    "line", ["0.15", "shims", "shims 0.1 0.2", "corners 0.1", "pull 50", "shims 8", "on"]
)
def test_a_clamp_that_cannot_be_read_is_asked_for_again(line):
    with pytest.raises(BadInput):
        laid_otherwise(HEAD, CARD, typed(line))


def test_the_gap_or_the_torque_that_was_left(tmp_path):
    gap = left_otherwise(HEAD, CARD, typed("0.10-0.12"))
    assert gap.gap == pytest.approx(1.1e-4)
    torque = left_otherwise(HEAD, CARD, typed("12 ft-lb", "inch"))
    assert torque == filed(tmp_path, '[clamp]\ntorque = "12 ft-lb"').clamp


@pytest.mark.parametrize(
    ("line", "system", "told"),
    [
        ("6 s", "mm", {"dwell": 6.0}),
        ("6", "mm", {"dwell": 6.0}),
        ("at 165", "mm", {"station": 0.165}),
        ("7 s at 6.5 in 900 F", "inch", {"dwell": 7.0, "station": 0.1651, "peak": (900 - 32) / 1.8}),
        ("6 s at 480 C", "mm", {"dwell": 6.0, "peak": 480.0}),
        ("480 C, 5 s", "mm", {"dwell": 5.0, "peak": 480.0}),
    ],
)
def test_a_spot_as_it_was_heated(line, system, told):
    spot = CARD.spots[0]
    (found,), _ = spot_as_heated(HEAD, spot, typed(line, system))
    for key in ("station", "dwell", "peak", "start", "side"):
        assert getattr(found, key) == pytest.approx(told.get(key, getattr(spot, key)))


@pytest.mark.parametrize("line", ["at 900 mm", "long", "6 s at", "6 h 480 C 5"])
def test_a_spot_that_cannot_be_is_asked_for_again(line):
    with pytest.raises(BadInput):
        spot_as_heated(HEAD, CARD.spots[0], typed(line))


def test_a_soak_as_it_was():
    planned = Soak(temperature=200.0, hold=7200.0, heat_up=600.0)
    longer, _ = soak_as_held(HEAD, planned, typed("2.5 h 190 C"))
    assert longer == replace(planned, temperature=190.0, hold=9000.0)
    assert soak_as_held(HEAD, planned, typed("90 min"))[0] == replace(planned, hold=5400.0)
    with pytest.raises(BadInput, match="60 to 420"):
        soak_as_held(HEAD, planned, typed("2 h 20 C"))


def test_a_stage_that_broke_a_limit_heats_no_further(clamped):  # noqa: F811
    clamped.type("yes", "on", "600 C")
    while not clamped.step.key.startswith("cool/"):
        clamped.type("on" if clamped.step.key.endswith("/light") else "")
    work = clamped.type("", "n", "", "b", "0", "0.1", "0.12", "0.1", "0", "done", "")
    assert work.deed == "pass"
    assert work.setup.spots[0].peak == 600.0
    assert len(work.setup.spots) == PLANNED.stages.ends[0]


def test_at_the_shims_what_differs_goes_with_the_rounds(session):  # noqa: F811
    from straighten.desk.bench import perform
    from straighten.desk.kept import record_card, record_survey, reread
    from tests.desk.test_bench import START

    record_survey(session.book, session.dossier, OWN.survey)
    record_card(session.book, reread(session.book, session.dossier), PLANNED)
    session.type("", "yes")
    assert "Like shims 0.15" in session.type("thicker").echo
    asked = session.type("shims 0.2")
    assert "Laid otherwise: front exhaust 0.20 mm" in asked.echo
    assert not any("should go" in line for line in asked.shown)  # the card's blades are for the card's shims
    work = session.type("", "0.10", "0.12")
    assert (work.deed, work.setup.clamp.shims) == ("tighten", pytest.approx((2e-4,) * 4))
    perform(session.book, session.dossier, work, (START, "mm"))
    assert session.book.latest(OWN.name, "tighten").record["setup"]["clamp"]["shims_mm"] == pytest.approx(
        [0.2] * 4
    )
    assert session.type("back").setup.clamp.shims == pytest.approx((2e-4,) * 4)


# ---- slips of the hand, a flame trial, the surface sanded on


@pytest.mark.parametrize("line", ["0.004 in", '0.004"', "4 thou", "0.1016 mm"])
def test_a_gap_with_its_unit_is_understood_whatever_is_shown_first(line):
    for system in ("mm", "inch"):
        goes, stops = blade_that_goes(OWN.head, typed(line, system))
        assert goes == pytest.approx(0.1016e-3)
        assert stops is None


def test_a_blade_in_the_clamp_may_be_as_thick_as_in_a_tightening_file():
    # 3 mm is the thickest blade of a gauge: JIS B 7524, from memory
    assert blade_that_goes(OWN.head, typed("2.8", "mm"))[0] == pytest.approx(2.8e-3)
    assert blade_that_stops(OWN.head, 2.8e-3, typed("3 mm", "mm")) == pytest.approx(3e-3)
    with pytest.raises(BadInput, match=r"3\.00 mm"):
        blade_that_goes(OWN.head, typed("3.1", "mm"))


@pytest.mark.parametrize(("line", "meant"), [("5", "5 thou"), ("120", "120 um"), ("120 mm", "0.01 mm")])
def test_what_is_no_gap_is_answered_with_what_is_allowed_or_meant(line, meant):
    looked = _Looked(dossier=OWN, run={"strokes": 200, "grit": "P120"})
    for read in (partial(blade_that_goes, OWN.head), partial(blade_that_stops, OWN.head, 0.0), looked.gaps):
        with pytest.raises(BadInput, match="allowed: 0, or") as fault:
            read(typed(line, "mm"))
        assert meant in str(fault.value)


@pytest.mark.parametrize(
    ("line", "lines"),
    [
        ("crayon 250 C 1.2 s", ('crayon = "250 C"', 'crayon_after = "1.2 s"')),
        (
            "crayon 150 C 18 mm 4 s, 300 C 10 mm 4 s",
            (
                'rings = [{ crayon = "150 C", radius = "18 mm", after = "4 s" }, '
                '{ crayon = "300 C", radius = "10 mm", after = "4 s" }]',
            ),
        ),
    ],
)
def test_a_flame_trial_is_told_as_the_lines_of_the_head_file(line, lines):
    told, text = trial_told(OWN, typed(line, "mm"))
    assert told == lines
    assert [one for one in text.split("\n") if one not in OWN.text.split("\n")] == list(lines)
    assert len(text.split("\n")) == len(OWN.text.split("\n")) + len(lines)


@pytest.mark.parametrize("line", ["crayon", "crayon 250 C", "crayon 10 C 1 s", "crayon 250 C 1 s, 300 C 2 s"])
def test_a_flame_trial_that_tells_no_heat_is_refused(line):
    with pytest.raises(BadInput):
        trial_told(OWN, typed(line, "mm"))


def test_the_surface_sanded_on_is_told_with_the_cautions():
    plan = {
        "state": "go on", "sentence": "", "runs": 0, "next_strokes": 100, "next_grit": "P120", "do": (), "cautions": (),
        "method": ("Wash.",), "surface_text": "",
    }  # fmt: skip
    script = after_the_heat(Facts(sand=plan), OWN)
    next(script)
    for line, said in (
        ("", "type yes"),
        ("surface glass", "Like surface DIN 876/1"),
        ("surface DIN 876/9 1 x 1", "Like"),
    ):
        assert said in script.send(typed(line, "mm")).echo
    plate = typed("surface DIN 876/1 600 x 400 mm", "mm")
    assert "for that surface" in script.send(plate).echo
    with pytest.raises(StopIteration) as end:
        script.send(typed("yes", "mm"))
    work = end.value.value
    assert (work.deed, work.key) == ("strokes", "sand/plan")
    assert 'grade = "DIN 876/1"' in work.typed
    again = after_the_heat(Facts(sand=plan | {"surface_text": work.typed}), OWN)
    next(again)
    again.send(typed("surface ISO 8512-2 grade 0, 800 500", "mm"))  # thought better of
    again.send(plate)
    assert again.send(typed("yes", "mm")).key == "sand/1/strokes"


@pytest.mark.parametrize(
    ("line", "system", "torque", "goes", "stops"),
    [
        ("18 Nm 0.10-0.12", "mm", 18.0, 1e-4, 1.2e-4),
        ("18 0.10 0.12", "mm", 18.0, 1e-4, 1.2e-4),
        ("13 ft lbs 4-5", "inch", 13 * 1.3558179483314, 101.6e-6, 127e-6),  # NIST SP 811, exact
        ("13 0", "inch", 13 * 1.3558179483314, 0.0, None),
    ],
)
def test_torque_and_blades_of_a_round_at_once(line, system, torque, goes, stops):
    told, blades = round_at_once(OWN.head, (), 17.0, typed(line, system))
    assert told == pytest.approx(torque)
    assert blades == (pytest.approx(goes), None if stops is None else pytest.approx(stops))


@pytest.mark.parametrize(
    ("line", "torque"), [("", 17.0), ("18 Nm", 18.0), ("18 ft lb", 18 * 1.3558179483314), ("skip", None)]
)
def test_a_torque_alone_leaves_the_blades_to_be_asked_for(line, torque):
    told, blades = round_at_once(OWN.head, (), 17.0, typed(line, "mm"))
    assert told == (None if torque is None else pytest.approx(torque))
    assert blades is None


def test_two_blades_behind_each_other_are_both_taken():
    assert blade_that_goes(OWN.head, typed("4 5 thou", "mm")) == (
        pytest.approx(101.6e-6),
        pytest.approx(127e-6),
    )
