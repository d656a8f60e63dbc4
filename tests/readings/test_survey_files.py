"""Survey files: TOML and CSV say the same, and whatever makes no sense gets one clear sentence."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import pytest

from straighten.errors import BadInput
from straighten.head import head_from_text, template_head
from straighten.readings import (
    from_plain,
    read_survey,
    said_back,
    survey_from_text,
    template_survey,
    to_plain,
)
from straighten.readings.records import Readings

HEAD = head_from_text(template_head(), "template")
TWIN = replace(HEAD, cam_lines=2)
LINE = '[[deck]]\nline = "centre"\nmode = "bridged"\n'

SURVEY = """
units = "mm"
date = 2031-05-04
who = "the night shift"
room = "66 F"
mode = "bridged"
stations = [20, 115, 210, 305, 400]
[intake]
cracks = "none found"
magnesium = false
skimmed = "yes"
removed = "2 thou"
[gauges]
straightedge_middle_proud = "0.01 mm"
straightedge_uncertainty = "0.002 mm"
[[deck]]
line = "Exhaust edge"
gaps = [0, 0.15, "0.20-0.25", "", "stops 0.06"]
[[deck]]
line = "center"
goes = [0, .18, .25, .15, 0]
stops = ["", .20, "", .18, .05]
[[deck]]
line = "diagonal front-exhaust to rear-inlet"
gaps = [0.25]
[[deck]]
line = "across"
at = 210
readings = [{station = 75, goes = 0.05}, {station = 110, gap = "stops .05"}]
[[cam]]
mode = "balanced"
gaps = [.20, .05, 0, .05, .20]
[[hardness]]
side = "exhaust"
values = [82, 84]
[heights]
front_exhaust = 92.02
"""

TABLE = """kind,line,mode,station_mm,goes_mm,stops_mm,at_mm,value,place,side
survey,,,,,,,2031-05-04,date,
survey,,,,,,,the night shift,who,
survey,,,,,,,66 F,room,
intake,,,,,,,none found,cracks,
intake,,,,,,,no,magnesium,
intake,,,,,,,yes,skimmed,
intake,,,,,,,2 thou,removed,
gauges,,,,,,,0.01 mm,straightedge_middle_proud,
gauges,,,,,,,0.002 mm,straightedge_uncertainty,
deck,exhaust edge,bridged,20,0,,,,,
deck,exhaust edge,bridged,115,0.15,,,,,
deck,exhaust edge,bridged,210,0.20,0.25,,,,
deck,exhaust edge,bridged,305,,,,,,
deck,exhaust edge,bridged,400,,0.06,,,,
deck,centre,bridged,20,0,,,,,
deck,centre,bridged,115,0.18,0.20,,,,
deck,centre,bridged,210,0.25,,,,,
deck,centre,bridged,305,0.15,0.18,,,,
deck,centre,bridged,400,0,0.05,,,,
deck,front exhaust to rear inlet,bridged,210,0.25,,,,,
deck,across,bridged,75,0.05,,210,,,
deck,across,bridged,110,,0.05,210,,,
cam,single,balanced,20,0.20,,,,,
cam,single,balanced,111,0.05,,,,,
cam,single,balanced,210,0,,,,,
cam,single,balanced,309,0.05,,,,,
cam,single,balanced,400,0.20,,,,,
hardness,,,,,,,82,,exhaust
hardness,,,,,,,84,,exhaust
height,,,,,,,92.02 mm,front exhaust,
"""


def found(text: str, head: object = HEAD, *, csv: bool = False) -> Readings:
    return survey_from_text(text, head, "survey", csv=csv)


def test_a_survey_is_read_as_it_was_written() -> None:
    readings = found(SURVEY)
    exhaust, centre, diagonal, across, cam = readings.lines
    assert (readings.date, readings.who, readings.intake.cracks, readings.intake.magnesium) == (
        "2031-05-04", "the night shift", "none found", "no",
    )  # fmt: skip
    assert readings.room == pytest.approx(18.89, abs=0.01)
    assert readings.intake.removed == pytest.approx(50.8e-6)
    assert [b.low for b in exhaust.brackets if not b.blank] == pytest.approx([0, 15e-5, 20e-5, 5e-5])
    assert [b.high for b in exhaust.brackets if not b.blank] == pytest.approx([4e-5, 18e-5, 25e-5, 6e-5])
    assert exhaust.brackets[3].blank
    assert [b.high for b in centre.brackets] == pytest.approx([4e-5, 20e-5, 30e-5, 18e-5, 5e-5])
    assert [b.stated_high for b in centre.brackets] == [False, True, False, True, True]
    assert (diagonal.name, diagonal.brackets[0].station) == ("front exhaust to rear inlet", 0.21)
    assert (across.across_at, len(across.brackets)) == (0.21, 2)
    assert (cam.mode, [b.station for b in cam.brackets]) == ("balanced", list(HEAD.towers))
    assert [h.value for h in readings.hardness] == [82, 84]
    assert readings.heights[0].value == pytest.approx(92.02e-3)
    assert readings.count == 4 + 5 + 1 + 2 + 5


def test_the_same_survey_as_a_table_is_the_same_survey() -> None:
    assert to_plain(found(TABLE, csv=True)) == to_plain(found(SURVEY))


@pytest.mark.parametrize("separator", [";", "\t"])
def test_a_table_may_use_other_separators(separator: str) -> None:
    assert to_plain(found(TABLE.replace(",", separator), csv=True)) == to_plain(found(SURVEY))


def test_a_table_in_thou_and_inches() -> None:
    text = (
        "kind,line,mode,station_in,goes_thou,stops_thou\ndeck,centre,bridged,8,7,8\ncam,single,bridged,,0,\n"
        + 4 * "cam,single,bridged,,1.6,2\n"
    )
    centre, cam = found(text, csv=True).lines
    assert (centre.brackets[0].station, centre.brackets[0].low) == pytest.approx((0.2032, 177.8e-6))
    assert cam.brackets[1].high == pytest.approx(50.8e-6)


def test_dial_height_bar_and_plate_in_a_table() -> None:
    text = (
        "kind,line,mode,station_mm,goes_mm,stops_mm,value,place,over\n"
        + "".join(f"deck,centre,dial,{s},,,{v},,\n" for s, v in ((20, 0.0), (210, -0.21), (400, 0.01)))
        + "".join(
            f"cam,single,height,{s},,,{v},,plate\n"
            for s, v in zip((20, 111, 210, 309, 400), (92, 92.1, 92.15, 92.1, 92), strict=True)
        )
        + "cam,single,bar,,0.04,0.08,,,\n"
        + "".join(
            f"plate,,feeler,,{g},,,{p},\n"
            for p, g in (("front exhaust", 0), ("front inlet", 0), ("rear exhaust", 0), ("rear inlet", 0.1))
        )
    )
    readings = found(text, csv=True)
    modes = {line.mode: line for line in readings.lines}
    assert modes["dial"].brackets[1].middle == pytest.approx(-0.21e-3)
    assert modes["height"].over == "plate"
    assert (modes["bar"].brackets[0].low, modes["bar"].brackets[0].high) == pytest.approx((4e-5, 8e-5))
    assert readings.plate is not None
    assert set(readings.plate.stands_on) == {"front exhaust", "front inlet", "rear exhaust"}


def test_a_file_is_taken_for_a_table_by_its_name(tmp_path: Path) -> None:
    for name, text in (("a.toml", SURVEY), ("a.csv", TABLE)):
        (tmp_path / name).write_text(text, encoding="utf-8")
        assert read_survey(tmp_path / name, HEAD).count == 17
    with pytest.raises(BadInput, match="no such file"):
        read_survey(tmp_path / "none.toml", HEAD)


def with_one_gap(head: object) -> str:
    """Return the template with a single reading in it, on the first cell of the exhaust edge."""
    return template_survey(head).replace('gaps = [""', "gaps = [0", 1)


@pytest.mark.parametrize("head", [HEAD, TWIN, replace(HEAD, system="inch")])
def test_the_template_as_it_is_given_is_no_survey(head: object) -> None:
    with pytest.raises(BadInput, match=r"only blanks\. Read one line of the deck"):
        found(template_survey(head), head)


@pytest.mark.parametrize(
    "asked", ['skimmed = "yes"', 'history = "ran dry"', 'removed = "2 thou"', 'cracks = "not checked"']
)
def test_what_was_only_asked_is_no_survey(asked: str) -> None:
    with pytest.raises(BadInput, match="no reading and no finding"):
        found(f"[intake]\n{asked}\n")


@pytest.mark.parametrize(
    "blank",
    [
        LINE + 'gaps = [""]\n',
        "[[hardness]]\nvalues = []\n",
        '[plate]\nfront_exhaust = ""\n',
        '[[cam]]\nmode = "bar"\n',
    ],
)
def test_a_line_of_blanks_is_no_reading(blank: str) -> None:
    with pytest.raises(BadInput, match="no reading and no finding"):
        found(blank)


@pytest.mark.parametrize(
    "enough",
    [
        '[intake]\ncracks = "found"\n',
        "[intake]\nmagnesium = true\n",
        "[[hardness]]\nvalue = 60\n",
        "[heights]\nanywhere = 92\n",
        LINE + "gaps = [0]\n",
    ],
)  # common practice, no source: a cracked or soft head is handed on without a straightedge laid on it
def test_one_reading_or_a_finding_that_decides_is_a_survey(enough: str) -> None:
    assert found(enough).tells_something


@pytest.mark.parametrize("head", [HEAD, TWIN, replace(HEAD, system="inch")])
def test_the_template_asks_every_line_of_the_head(head: object) -> None:
    readings = found(with_one_gap(head), head)
    assert readings.count == 1
    assert {line.name for line in readings.lines if line.part == "deck"} == {
        "exhaust edge", "centre", "inlet edge", "front exhaust to rear inlet", "front inlet to rear exhaust",
    }  # fmt: skip
    assert sum(line.part == "cam" for line in readings.lines) == head.cam_lines
    assert readings.lines[0].brackets[2].station == pytest.approx(0.210, abs=0.4e-3)


def test_filling_in_the_template_is_enough() -> None:
    text = template_survey(HEAD).replace(
        'gaps = ["", "", "", "", ""]', 'gaps = [.04, "0.15-0.20", "8 thou", 0, ""]', 1
    )
    line = found(text).lines[0]
    assert [b.low for b in line.brackets[:4]] == pytest.approx([4e-5, 15e-5, 203.2e-6, 0])


def test_plain_tables_come_back_as_the_same_readings() -> None:
    for readings in (found(SURVEY), found(with_one_gap(TWIN), TWIN), Readings()):
        plain = to_plain(readings)
        assert to_plain(from_plain(plain)) == plain
    wide = found('[[deck]]\nline = "centre"\nmode = "bridged"\ngaps = [1.0]\n')
    assert math.isinf(from_plain(to_plain(wide)).lines[0].brackets[0].high)


@pytest.mark.parametrize(
    "damage", [{"schema": 99}, {"lines": [{"part": "deck"}]}, {"intake": None}, {"gauges": {"lens_mm": 1}}]
)
def test_damaged_plain_tables_are_refused(damage: dict[str, object]) -> None:
    with pytest.raises(BadInput):
        from_plain(to_plain(Readings()) | damage)


CAM = '[[cam]]\nmode = "balanced"\n'

BAD = [
    ("[[dek]]\n", ["dek", "'deck'"]),
    ('[[deck]]\nlien = "centre"\n', ["lien", "'line'"]),
    (LINE + "gapes = [1]\n", ["gapes", "'gaps'"]),
    ('[[deck]]\nline = "center line"\ngaps = [0.1]\n', ["how did the straightedge sit", "bridged"]),
    ('[[deck]]\nline = "exaust edge"\nmode = "bridged"\ngaps = [0.1]\n', ["exaust", "exhaust edge"]),
    ('[[deck]]\nline = "centre"\nmode = "briged"\ngaps = [0.1]\n', ["briged", "bridged"]),
    (LINE + "gaps = [10]\n", ["deck.1 (centre)", "10 mm", "Did you mean 10 thou"]),
    (LINE + "gaps = [0.004]\n", ["thinner than any blade", "0.004 in"]),
    (LINE + 'gaps = ["0.15-0.10"]\n', ["upside down"]),
    (LINE + "goes = [0.2]\nstops = [0.1]\n", ["upside down"]),
    (LINE + 'gaps = ["lots"]\n', ["lots", "a gap is due"]),
    (LINE + "gaps = [-0.1]\n", ["less than nothing"]),
    (LINE + "gaps = [true]\n", ["deck.1.gaps"]),
    (LINE + "gaps = [nan]\n", ["finite"]),
    (LINE + "stations = [20, 210]\ngaps = [0.1]\n", ["1 readings for 2 places"]),
    (LINE + "gaps = [0.1, 0.2]\n", ["2 readings without stations"]),
    (LINE + "stations = [500]\ngaps = [0.1]\n", ["500.0 mm", "off the head", "420.0 mm"]),
    (LINE + "stations = [-5]\ngaps = [0.1]\n", ["off the head"]),
    (LINE + "stations = [20, 20]\ngaps = [0.1, 0.2]\n", ["twice"]),
    (LINE + "gaps = [0.1]\ngoes = [0.1]\n", ["gaps and goes"]),
    (LINE + "values = [0.1]\n", ["belong to a dial"]),
    (LINE + "at = 200\ngaps = [0.1]\n", ["across"]),
    (LINE + "gaps = [0.1]\n" + LINE + "gaps = [0.2]\n", ["there twice"]),
    (LINE + 'touching = "inlet"\ngaps = [0.1]\n', ["inlet", "front"]),
    ('[[deck]]\nline = "across"\nmode = "bridged"\ngaps = [0.1]\n', ["needs its station"]),
    ('[[deck]]\nline = "across"\nat = 900\nmode = "bridged"\ngaps = [0.1]\n', ["900.0 mm", "0.0 mm"]),
    ('[[deck]]\nline = "centre"\nmode = "dial"\ngaps = [0.1]\n', ["values"]),
    (
        '[[deck]]\nline = "centre"\nmode = "dial"\nstations = [0, 210]\nvalues = [0, 21]\n',
        ["dial reading", "21"],
    ),
    (CAM + "gaps = [0.1]\n", ["1 readings for 5 places"]),
    (CAM + 'line = "inlet"\ngaps = [0, 0, 0, 0, 0]\n', ["inlet", "single"]),
    (CAM + "readings = [{station = 60, goes = 0.1}]\n", ["no cam tower stands at 60.0 mm", "111.0 mm"]),
    ('[[cam]]\nmode = "bar"\npasses = 0.02\nsticks = 0.05\n', ["passes", "thinner"]),
    ('[[cam]]\nmode = "height"\nvalues = [92, 92, 92, 92, 920]\n', ["height"]),
    ("[[hardness]]\nvalue = 350\n", ["350", "another scale"]),
    ("[[hardness]]\nvalue = 80\nstation = 900\n", ["off the head"]),
    ("[heights]\nfront_exhaust = 29\n", ["29.0 mm", "92.0 mm", "head file"]),
    ("[intake]\ncracks = true\n", ["intake.cracks", "none found"]),
    ('room = "190 C"\n', ["room", "Is it in F"]),
    ('units = "cubits"\n', ["units", "inch"]),
    ('[gauges]\nblade_tolerance = "0.5 mm"\n', ["gauges.blade_tolerance"]),
    ("[plate]\nfront_exhaust = 0\nrear_inlet = 0.1\n", ["three corners", "stands_on"]),
    ('[plate]\nfront_exhaust = 0\nstands_on = ["front exhaust", "front inlet"]\n', ["cannot stand"]),
    ('[plate]\nfront_exhaust = 0\nstands_on = ["font exhaust"]\n', ["font exhaust", "front exhaust"]),
    ("[[deck]\n", ["not readable as TOML"]),
]


@pytest.mark.parametrize(("text", "told"), BAD)
def test_what_makes_no_sense_gets_one_clear_sentence(text: str, told: list[str]) -> None:
    with pytest.raises(BadInput) as fault:
        found(text)
    sentence = str(fault.value)
    assert sentence.startswith("survey")
    for part in told:
        assert part in sentence


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", ["empty"]),
        ("line,mode\n", ["kind"]),
        ("kind,lien\n", ["lien", "line"]),
        ("kind,line\ndekc,centre\n", ["row 2", "deck"]),
        ("kind,line\ndeck,centre,1,2,3\n", ["row 2", "5 cells"]),
        ("kind,side,value\nhardness,exhaust,soft\n", ["row 2", "soft"]),
        (
            "kind,line,mode,station_mm,goes_mm\ndeck,centre,bridged,20,0.1\ndeck,centre,bridged,,0.1\n",
            ["row 3", "others have none"],
        ),
        ("kind,value\nheight,92\n", ["row 2", "place"]),
    ],
)
def test_a_table_that_makes_no_sense_names_its_row(text: str, told: list[str]) -> None:
    with pytest.raises(BadInput) as fault:
        found(text, csv=True)
    for part in told:
        assert part in str(fault.value)


def test_a_survey_is_said_back_line_by_line() -> None:
    said = said_back(
        found(
            SURVEY
            + '[plate]\nfront_exhaust = 0\nfront_inlet = 0\nrear_exhaust = 0\nrear_inlet = "0.1-0.12"\n'
        )
    )
    assert len(said) == 6
    assert said[0].startswith(
        "deck, exhaust edge, bridged: 20 mm: nothing goes, 0.04 mm (1.5 thou) does not; 115 mm: 0.15 mm"
    )
    assert "305 mm: blank" in said[0]
    assert said[4].startswith("cam line, balanced: 20 mm: 0.20 mm (8 thou) goes")
    assert "rear inlet: 0.10 mm (4 thou) goes, 0.12 mm (4.5 thou) does not" in said[5]
    rocked = '[[deck]]\nline = "centre"\nmode = "rocked"\ntouching = "rear"\ngaps = [0.4]\n'
    bar = '[[cam]]\nmode = "bar"\npasses = 0.08\nsticks = 0.04\n'
    said = said_back(found(rocked + bar))
    assert "rocked, rear end touching" in said[0]
    assert (
        said[1] == "cam line, bar: 0.04 mm (1.5 thou) under size sticks, 0.08 mm (3 thou) under size passes"
    )


def test_a_gap_that_no_blade_can_have_shown_is_remarked_on() -> None:
    text = LINE + 'stations = [20, 115, 210, 305]\ngaps = [0.03, 0.1, "8 thou", 0.45]\n'
    (remark,) = found(text).caveats
    assert "0.03 mm" in remark
    assert "20.0 mm" in remark


@pytest.mark.parametrize("line", ["single", "cam"])
def test_a_head_with_two_cam_lines_offers_both(line):
    text = CAM + f'line = "{line}"\ngaps = [0, 0, 0, 0, 0]\n'
    with pytest.raises(BadInput) as fault:
        survey_from_text(text, TWIN, "survey.toml")
    assert "two cam lines" in str(fault.value)
    assert "exhaust, inlet" in str(fault.value)
