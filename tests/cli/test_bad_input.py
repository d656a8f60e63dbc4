"""Every expected slip gets one clear message and its exit code; nothing is recorded, no traceback is shown."""

from pathlib import Path

import pytest

from straighten.book import open_book
from straighten.cli import main
from straighten.head import template_head

SURVEY = (Path(__file__).parents[2] / "straighten" / "desk" / "example_survey.toml").read_text(
    encoding="utf-8"
)
HEAD = template_head()


@pytest.fixture
def bench(tmp_path, monkeypatch):
    """A folder with the program's own head and survey, and a book of its own."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("STRAIGHTEN_BOOK", str(tmp_path / "shop.book"))
    (tmp_path / "pump-four").mkdir()
    (tmp_path / "pump-four" / "head.toml").write_text(HEAD)
    (tmp_path / "pump-four" / "survey.toml").write_text(SURVEY)
    return tmp_path


def entries(folder):
    path = folder / "shop.book"
    if not path.exists():
        return 0
    with open_book(path) as book:
        return sum(len(book.entries(line.name)) for line in book.heads())


# key to change, new text, words that the message must hold
HEAD_SLIPS = [
    ("length = 420", 'length = "long"', ("casting.length", "length is due")),
    ("length = 420", "length = 42", ("length", "42.0 mm")),
    ("length = 420", "length = 16.5", ("did you mean 419.1 mm", "inches")),
    ("length = 420", "length = 140", ("length", "150")),
    ("length = 420", "length = 0.42", ("did you mean 420.0 mm",)),
    ("length = 420", "lenght = 420", ("lenght", "did you mean 'length'")),
    ("length = 420", "length = -420", ("length",)),
    ("length = 420", "length = true", ("length is due",)),
    ("length = 420", 'length = "420 bananas"', ("is no unit of length",)),
    ("length = 420", 'length = "1,420 mm"', ("decimal comma",)),
    ("width = 150", "width = 300", ("1.5 times the width", "swapped")),
    ("height = 92 ", "height = 920 ", ("height", "920")),
    ('mass = "6.9 kg"', 'mass = "69 kg"', ("fills", "%")),
    ('mass = "6.9 kg"', 'mass = "6.9 mm"', ("is no unit of mass",)),
    ('alloy = "A356-T6"', 'alloy = "A357-T66x"', ("no alloy", "unknown")),
    ('alloy = "A356-T6"', "alloy = 356", ("casting.alloy", "a text in quotes is due")),
    ("compression_ratio = 9.2", 'compression_ratio = "nine"', ("engine.compression_ratio", "a number is due")),
    ('roof_thickness = "9 mm"', 'roof_thickness = "90 mm"', ("roof",)),
    ("{ station = 210, thickness = 9 },", "{ station = 2100, thickness = 9 },", ("webs", "2100.0 mm")),
    ('deck_overall = "0.08 mm"', 'deck_overall = "8 mm"', ("deck_overall", "did you mean 0.20 mm")),
    ('deck_overall = "0.08 mm"', 'deck_overal = "0.08 mm"', ("did you mean 'deck_overall'",)),
    ('cam_line = "0.05 mm"', 'cam_line = "2"', ("cam_line", "did you mean 0.05 mm")),
    ('least_height = "91.6 mm"', 'least_height = "916 mm"', ("least height",)),
    ("towers = [20, 111, 210, 309, 400]", "towers = [20, 111, 210, 309, 4000]", ("cam.towers", "station 5")),
    ("towers = [20, 111, 210, 309, 400]", "towers = [20]", ("cam.towers",)),
    ("towers = [20, 111, 210, 309, 400]", "towers = [20, 20, 400]", ("twice",)),
    ("lines = 1 ", "lines = 3 ", ("cam.lines",)),
    ('side = "both"\nthread', 'side = "left"\nthread', ("bolts", "left")),
    ("stations = [18, 111, 210, 309, 402]", "stations = []", ("bolts",)),
    ('kind = "plate"', 'kind = "table"', ("base.kind", "allowed: 'rigid', 'plate' or 'block'")),
    ("thickness = 60", "thickness = 6", ("base.thickness", "6.0 mm")),
    ("front_station = 10", "front_station = 200", ("end quarters",)),
    ("{ thickness = 0.05, count = 4 },", "{ thickness = 50, count = 4 },", ("blade 1", "did you mean")),
    ("{ thickness = 0.05, count = 4 },", "{ thickness = 0.05, count = -1 },", ("count",)),
    ("[0.04, 0.05, 0.06,", "[4, 0.05, 0.06,", ("gauge", "")),
    ('flame_radius = "12 mm"', 'flame_radius = "12"', ("",)),
    ('flame_radius = "12 mm"', 'flame_radius = "120 mm"', ("flame_radius",)),
    ('peak = "500 C"', 'peak = "930 C"', ("peak", "Fahrenheit")),
    ('dwell = "5 s"', 'dwell = "5 h"', ("dwell", "allowed is 0.5 to 60 s")),
    ("rows = 32", "rows = 90", ("rows",)),
    ('units = "mm"', 'units = "furlong"', ("units", '"mm" or "inch"')),
    ("compression_ratio = 9.2", "compression_ratio = 92", ("compression_ratio",)),
    ("[cam]\n", "[camm]\n", ("camm",)),
    ("[limits]", "[limits", ("not readable as TOML",)),
    ('name = "pump-four"', 'name = ""', ("name",)),
]  # fmt: skip
OK_AFTER_ALL = {'flame_radius = "12"', "[4, 0.05, 0.06,"}


@pytest.mark.parametrize(
    ("old", "new", "words"), HEAD_SLIPS, ids=[f"{n}-{s[1][:24]}" for n, s in enumerate(HEAD_SLIPS)]
)
def test_a_slip_in_the_head_file(bench, capsys, old, new, words):
    assert old in HEAD
    path = bench / "pump-four" / "head.toml"
    path.write_text(HEAD.replace(old, new, 1))
    code = main(["measure", "pump-four", "survey.toml"])
    told = capsys.readouterr().err
    if new in OK_AFTER_ALL:  # a bare number takes the file's unit: no slip
        assert code == 0
        return
    assert code == 3, told
    assert "Traceback" not in told
    assert "head.toml" in told
    assert told.count("\n") == 1
    for word in words:
        assert word.lower() in told.lower()
    assert entries(bench) == 0


SURVEY_SLIPS = [
    ('mode = "bridged"', 'mode = "floating"', ("mode",)),
    ('line = "centre"', 'line = "diagonal"', ("diagonal",)),
    ('line = "centre"', "lime = 3", ("lime",)),
    ('"0.15-0.18"', '"0.18-0.15"', ("0.18",)),
    ('"0.15-0.18"', '"15-18"', ("did you mean",)),
    ('"0.15-0.18"', '"150-180"', ("",)),
    ('"0.15-0.18"', '"about a hair"', ("about a hair",)),
    ('"0.15-0.18"', '"-0.15"', ("",)),
    ("stations = [70, 140", "stations = [70, 1400", ("1400",)),
    ("stations = [70, 140,", "stations = [", ("",)),
    ('units = "mm"', 'units = "cubit"', ("units",)),
    ("values = [83, 84]", "values = [830, 84]", ("830",)),
    ("values = [83, 84]", 'values = ["soft"]', ("hardness",)),
    ('cracks = "none found"', 'cracks = "perhaps"', ("cracks",)),
    ("[intake]", "[[intake]]", ("intake",)),
]  # fmt: skip


@pytest.mark.parametrize(
    ("old", "new", "words"), SURVEY_SLIPS, ids=[f"{n}-{s[1][:24]}" for n, s in enumerate(SURVEY_SLIPS)]
)
def test_a_slip_in_the_survey(bench, capsys, old, new, words):
    assert old in SURVEY
    (bench / "pump-four" / "survey.toml").write_text(SURVEY.replace(old, new, 1))
    code = main(["measure", "pump-four", "survey.toml"])
    told = capsys.readouterr().err
    assert code == 3, told
    assert "Traceback" not in told
    assert "survey.toml" in told
    for word in words:
        assert word.lower() in told.lower()
    assert entries(bench) == 0


@pytest.mark.parametrize(
    ("words", "code", "told"),
    [
        (["plan", "nobody"], 3, "straighten new nobody"),
        (["plan", "pump-four"], 3, "has not been measured"),
        (["decide", "pump-four"], 3, "has not been measured"),
        (["log", "pump-four", "survey.toml"], 3, "no card was printed"),
        (["measure", "pump-four", "absent.toml"], 3, "no such file"),
        (["measure", "absent/head.toml", "survey.toml"], 3, "no such file"),
        (["measure", "", "survey.toml"], 3, "a head needs a name"),
        (["try", "absent.toml"], 3, "no such file"),
        (["new", "../elsewhere"], 3, "no name for a head"),
        (["plan", "pump-four", "--colour", "red"], 2, "No such option"),
        (["straightne"], 2, "No such command"),
    ],
)
def test_a_slip_on_the_command_line(bench, capsys, words, code, told):
    assert main(words) == code
    seen = capsys.readouterr()
    assert told in seen.err
    assert "Traceback" not in seen.err
    assert entries(bench) == 0


def test_faults_are_json_where_json_was_asked_for(bench, capsys):
    import json

    assert main(["plan", "nobody", "--json"]) == 3
    fault = json.loads(capsys.readouterr().err)
    assert fault["schema"] == "straighten/error/1"
    assert fault["error"] == "BadInput"
    assert set(fault) == {"schema", "error", "where", "problem", "fix"}
