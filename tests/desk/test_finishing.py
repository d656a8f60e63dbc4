"""Sanding and finishing through the book: wrong input is told and nothing recorded; a day later; what is learned."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from straighten.book import open_book
from straighten.cli import main
from straighten.desk.dossier import as_found, read_dossier
from straighten.desk.finishing import finish_report
from straighten.desk.job import Job
from straighten.desk.kept import record_survey
from straighten.desk.sanding import Asked, sand_report
from straighten.desk.sanding_files import check_from_plain, check_to_plain
from straighten.head import head_from_text, template_head
from straighten.head.records import metal_left
from straighten.readings import survey_from_text
from straighten.sanding.lap import read_grit
from straighten.sanding.rate import Check
from tests.simulated.surveys import survey_text

TEXT = template_head()
HEAD = head_from_text(TEXT, "template")


def survey(bow: float = 1.0e-4, cam: float = 0.2e-4, heights: str = ""):
    import numpy as np

    from straighten.shape.modes import INDEX, STATE

    state = np.zeros(len(STATE))
    state[INDEX["deck_bow"]], state[INDEX["cam_bow"]] = bow, cam
    text = survey_text(HEAD, state, 3)
    diagonals = "".join(
        f'[[deck]]\nline = "{line}"\nstations = [210]\ngaps = ["{1e3 * bow - 0.01:.2f}-{1e3 * bow + 0.01:.2f}"]\n'
        for line in ("front exhaust to rear inlet", "front inlet to rear exhaust")
        if bow > 2e-5
    )
    return survey_from_text(text + diagonals + heights, HEAD, "survey")


CORNERS = """
[heights]
front_exhaust = 92.00
front_inlet = 92.00
rear_exhaust = 92.00
rear_inlet = 92.00
"""


@pytest.fixture
def measured(tmp_path, monkeypatch):
    """The program's own head, measured once with heights, in a book of its own; the folder is the working one."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("STRAIGHTEN_BOOK", str(tmp_path / "shop.book"))
    (tmp_path / "pump-four").mkdir()
    (tmp_path / "pump-four" / "head.toml").write_text(TEXT)
    with open_book(tmp_path / "shop.book") as book:
        record_survey(book, read_dossier(book, "pump-four", TEXT, "file"), survey(heights=CORNERS))
    return tmp_path


def dossier_of(book):
    return read_dossier(book, "pump-four", TEXT, "file")


def entries(folder):
    with open_book(folder / "shop.book") as book:
        return len(book.entries("pump-four"))


GOOD = {"strokes": 600, "grit": '"P120"', "sheets": 4, "cleaned_percent": 30, "gap": '"0.06-0.08"'}

# key, its wrong text, words the message must hold
SLIPS = [
    ("strokes", "0", ("strokes",)),
    ("strokes", "-40", ("strokes",)),
    ("strokes", '"many"', ("strokes",)),
    ("strokes", "1e9", ("strokes",)),
    ("grit", '"P181"', ("P181", "Known numbers")),
    ("grit", '"rough"', ("grit", "P180")),
    ("grit", "180", ("grit",)),
    ("sheets", "0", ("sheets",)),
    ("sheets", "900", ("more sheets than strokes",)),
    ("cleaned_percent", "130", ("cleaned_percent",)),
    ("cleaned_percent", '"most"', ("cleaned_percent",)),
    ("gap", '"0.08-0.06"', ("upside down",)),
    ("gap", '"40"', ("gap",)),
    ("heights", "{ front_exhaust = 92.3 }", ("does not grow",)),
    ("heights", "{ front_exhaust = 90.0 }", ("sanded off by hand",)),
    ("heights", '{ front_exhaust = "tall" }', ("heights.front_exhaust", "length is due")),
    ("heights", "{ front_exaust = 91.9 }", ("did you mean 'front_exhaust'",)),
    ("stroks", "5", ("did you mean 'strokes'",)),
    ("units", '"furlong"', ("units",)),
]


@pytest.mark.parametrize(("key", "value", "words"), SLIPS)
def test_a_wrong_log_is_told_and_nothing_recorded(measured, capsys, key, value, words):
    lines = {**GOOD, key: value}
    (measured / "run.toml").write_text("\n".join(f"{k} = {v}" for k, v in lines.items()))
    before = entries(measured)
    assert main(["sand", "pump-four", "--log", "run.toml"]) == 3
    message = capsys.readouterr().err
    assert message.startswith("straighten: run.toml")
    for word in words:
        assert word.lower() in message.lower()
    assert entries(measured) == before


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (["sand", "nobody"], 3, "nobody"),
        (["sand", "pump-four", "--strokes", "100"], 3, "--grit is missing"),
        (["sand", "pump-four", "--cleaned", "50"], 3, "--strokes is missing"),
        (["sand", "pump-four", "--strokes", "100", "--grit", "P180"], 3, "nothing was looked at"),
        (["sand", "pump-four", "--log", "none.toml"], 3, "no such file"),
        (["sand", "pump-four", "--surface", "none.toml"], 3, "no such file"),
        (["sand", "pump-four", "--goal", "mirror"], 2, "mirror"),
        (
            ["sand", "pump-four", "--strokes", "9", "--grit", "P180", "--log", "pump-four/head.toml"],
            3,
            "at once",
        ),
        (["sand", "pump-four", "--figure", "no/such/folder.svg"], 3, "cannot be written"),
        (["finish", "pump-four", "--answers", "pump-four/head.toml"], 3, "a final list is due"),
        (["finish", "nobody"], 3, "nobody"),
    ],
)
def test_a_wrong_command_line_is_told_and_nothing_recorded(measured, capsys, words, code, said):
    before = entries(measured)
    assert main(words) == code
    assert said in capsys.readouterr().err
    assert entries(measured) == before


def test_typed_strokes_are_recorded_and_taught_from(measured, capsys):
    plan = json_of(capsys, "sand", "pump-four")
    logged = json_of(
        capsys,
        "sand",
        "pump-four",
        "--strokes",
        "600",
        "--grit",
        "P120",
        "--cleaned",
        "40",
        "--gap",
        "0.06-0.08",
    )
    spread = [p["strokes_to_target"]["high"] / p["strokes_to_target"]["low"] for p in (plan, logged)]
    assert spread[1] < 0.6 * spread[0]
    assert logged["entry"] is not None
    assert logged["runs"] == 1


def json_of(capsys, *words):
    assert main([*words, "--json"]) == 0
    return json.loads(capsys.readouterr().out)


def test_a_height_without_one_before_is_kept_but_said_to_teach_nothing(measured, capsys):
    told = json_of(
        capsys,
        "sand",
        "pump-four",
        "--strokes",
        "600",
        "--grit",
        "P120",
        "--cleaned",
        "40",
        "--height",
        "91.96",
    )
    assert any("not measured before sanding" in line for line in told["assumed"])


def test_faster_paper_gives_a_smaller_next_count(measured):
    with open_book(measured / "shop.book") as book:
        reports = [
            sand_report(
                book, Job(dossier_of(book)), Asked(typed={"strokes": n, "grit": "P120", "gap": "0.05-0.06"})
            )
            for n in (300,)
        ]
    with open_book(measured / "other.book") as book:
        record_survey(book, dossier_of(book), survey(heights=CORNERS))
        slow = sand_report(
            book, Job(dossier_of(book)), Asked(typed={"strokes": 3000, "grit": "P120", "gap": "0.05-0.06"})
        )
    assert reports[0].to_target[1] < 0.3 * slow.to_target[1]


def test_metal_left_counts_the_largest_removal_and_the_least_height():
    low = survey(heights=CORNERS.replace("front_exhaust = 92.00", "front_exhaust = 91.65"))
    assert metal_left(as_found(HEAD, (low,))) == pytest.approx(0.05e-3)
    assert metal_left(as_found(HEAD, (survey(),), (0.1e-3, 0.1e-3))) == pytest.approx(0.15e-3)
    assert metal_left(as_found(HEAD, (low,), (0.4e-3, 0.0))) == 0.0  # never less than nothing
    skimmed = replace(HEAD, limits=replace(HEAD.limits, removed_before=0.2e-3))
    assert metal_left(as_found(skimmed, (survey(),))) == pytest.approx(
        0.05e-3
    )  # what its file tells counts too


def test_a_check_comes_back_from_the_book_as_it_went_in():
    check = Check(
        strokes=120, grit=read_grit("P180"), sheets=2, cleaned=0.4, dropped=2e-5, corners=3, gap=(4e-5, 5e-5), deepest=3e-5
    )  # fmt: skip
    check = replace(
        check, falls=(2e-5, None, 3e-5, None, None, 0.0), gaps=(None, (4e-5, 5e-5), (0.0, 4e-5), None, None)
    )
    back = check_from_plain(json.loads(json.dumps(check_to_plain(check))))
    assert back.falls == pytest.approx(check.falls)
    assert back.gaps[1] == pytest.approx(check.gaps[1])
    back = replace(back, falls=check.falls, gaps=check.gaps)
    assert back.deepest == pytest.approx(check.deepest, rel=1e-12)
    assert replace(back, deepest=check.deepest) == check


def clocked(folder, hours):
    start = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)
    return open_book(folder / "shop.book", clock=lambda: start + timedelta(hours=hours))


@pytest.mark.parametrize(
    ("hours", "bow", "state"), [(24, 1.0e-4, "holds"), (24, 1.8e-4, "fails"), (3, 1.0e-4, "open")]
)
def test_the_look_after_a_day(tmp_path, hours, bow, state):
    for when, height in ((0, 1.0e-4), (hours, bow)):
        with clocked(tmp_path, when) as book:
            record_survey(book, dossier_of(book), survey(bow=height, cam=height))
    with clocked(tmp_path, hours) as book:
        report = finish_report(book, Job(dossier_of(book)), {})
    assert next(line for line in report.lines if line.key == "after_24_hours").state == state


def test_what_was_not_seen_or_assumed_is_listed(measured):
    with open_book(measured / "shop.book") as book:
        report = finish_report(book, Job(dossier_of(book)), {})
    assert any("pressure test" in line for line in report.skipped)
    assert any("deck thickness" in line or "assumed" in line for line in report.assumed)
    assert {line.state for line in report.lines} >= {"open", "fails"}


def test_both_forms_of_the_next_command_name_the_surface(tmp_path, monkeypatch, capsys):
    folder = Path(__file__).parents[2] / "worked_examples" / "sand-only-sawmill-four"
    monkeypatch.setenv("STRAIGHTEN_BOOK", str(tmp_path / "own.book"))
    head, surface = str(folder / "head.toml"), str(folder / "surface.toml")
    assert main(["measure", head, str(folder / "survey-1.toml")]) == 0
    capsys.readouterr()
    assert main(["sand", head, "--surface", surface]) == 0
    told = " ".join(capsys.readouterr().err.split())
    for form in ("--log FILE.toml", "--strokes N"):
        assert f"--surface {surface} {form}" in told
