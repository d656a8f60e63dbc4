"""What the commands print for every worked example, in both unit systems: 80 columns, plain, readable on any pipe."""

import dataclasses
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

import straighten.desk.dossier
from straighten.cli import main
from tests.slow import slow_after

EXAMPLES = Path(__file__).parents[2] / "worked_examples"
PUMP, OVEN, TWIST = "irrigation-pump-four", "oven-greenhouse-four", "twist-orchard-six"
SAND, FERRY = "sand-only-sawmill-four", "hand-it-on-ferry-six"
ROUND = ["--torque", "17 Nm", "--goes", "0.05 mm", "--stops", "0.12 mm"]
JOBS = {
    PUMP: [
        ["measure", PUMP, "survey-1.toml"],
        ["check", PUMP],
        ["plan", PUMP],
        ["tighten", PUMP, *ROUND],
        ["log", PUMP, "survey-2.toml", "--done", "pass-1.toml"],
        ["decide", PUMP],
        ["explain", PUMP],
        ["sand", PUMP, "--because", "a licensed shop hones the cam line"],
        ["finish", PUMP],
        ["history"],
        ["heads"],
        ["sheet", PUMP, "--pass", "1"],
    ],
    OVEN: [["measure", OVEN, "survey.toml"], ["plan", OVEN]],
    TWIST: [["measure", TWIST, "survey.toml"], ["plan", TWIST]],
    SAND: [
        ["measure", SAND, "survey-1.toml"],
        ["plan", SAND],
        ["decide", SAND],
        ["sand", SAND, "--surface", "surface.toml", "--log", "sand-1.toml"],
        ["sand", SAND, "--log", "sand-2.toml"],
        ["measure", SAND, "survey-2.toml"],
        ["finish", SAND, "--answers", "final.toml", "--close"],
    ],
    FERRY: [
        ["measure", FERRY, "survey-1.toml"],
        ["check", FERRY],
        ["plan", FERRY],
        ["decide", FERRY],
        ["finish", FERRY],
    ],
}
REFUSED = {"sand": (4, 5)}
TWO_STOPS = re.compile(r"(?<!\.)\.\.(?!\.)|\.\)\.")
MINUS_NOUGHT = re.compile(r"(?<![\w.])-0(?:\.0+)?(?![\w.])")


@pytest.fixture
def shop(tmp_path, monkeypatch):
    """The worked examples in a folder of their own, with a book that nobody else uses."""
    shutil.copytree(EXAMPLES, tmp_path, dirs_exist_ok=True)
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("STRAIGHTEN_BOOK", str(tmp_path / "shop.book"))
    return tmp_path


def shown_first(system, monkeypatch):
    """Have every head read as one whose owner thinks in a unit system; the files keep the units written in them."""
    read = straighten.desk.dossier.head_from_text
    monkeypatch.setattr(
        straighten.desk.dossier,
        "head_from_text",
        lambda text, where: dataclasses.replace(read(text, where), system=system),
    )


def test_a_refusal_ends_each_of_its_sentences_once(shop, capsys):
    assert main(["measure", FERRY, "survey-1.toml"]) == 0
    capsys.readouterr()
    assert main(["sand", FERRY]) == 5
    told = capsys.readouterr().err
    assert "58 HB" in told
    assert not TWO_STOPS.search(told)


@pytest.mark.parametrize("system", slow_after(1, ["mm", "inch"]))
@pytest.mark.parametrize("name", slow_after(4, [PUMP, OVEN, SAND, FERRY, TWIST]))
def test_every_text_keeps_to_eighty_plain_columns(name, system, shop, monkeypatch, capsys):
    shown_first(system, monkeypatch)
    for words in JOBS[name]:
        code = main(words)
        told = capsys.readouterr()
        assert code == 0 or code in REFUSED.get(words[0], ()), told.err
        wide = [line for line in (told.out + told.err).splitlines() if len(line) > 80]
        assert wide == [], words
        assert (told.out + told.err).isascii(), words
        assert "\x1b" not in told.out + told.err, words
        running = " ".join((told.out + told.err).split())
        for odd in (TWO_STOPS, MINUS_NOUGHT):
            assert [running[m.start() - 60 : m.end()] for m in odd.finditer(running)] == [], words


def run(words, folder, **environment):
    return subprocess.run(
        [sys.executable, "-m", "straighten", *words],
        capture_output=True,
        check=False,
        cwd=folder,
        stdin=subprocess.DEVNULL,
        env=os.environ | environment | {"PYTHONPATH": str(Path(__file__).parents[2])},
    )


HELPS = [[], ["--help"], ["plan", "--help"], ["book", "--help"], ["export", "--help"], ["sand", "--help"]]


@pytest.mark.parametrize("words", HELPS, ids=" ".join)
def test_help_keeps_to_eighty_plain_columns(words, capsys):
    main(words)
    told = capsys.readouterr()
    assert max(map(len, (told.out + told.err).splitlines())) <= 80
    assert (told.out + told.err).isascii()


@pytest.mark.slow
def test_a_name_that_the_pipe_cannot_spell_does_not_stop_the_answer(shop):
    head = shop / PUMP / "head.toml"
    head.write_text(head.read_text().replace(f'name = "{PUMP}"', 'name = "pömp-четыре"'))
    for words in (["measure", PUMP, "survey-1.toml"], ["heads"], ["export", PUMP, "--csv"], ["where"]):
        done = run(words, shop, PYTHONIOENCODING="ascii", PYTHONUTF8="0", LC_ALL="C")
        assert done.returncode == 0, done.stderr
        assert done.stdout.isascii()
        assert b"Traceback" not in done.stderr


def test_colour_is_neither_on_a_pipe_nor_where_it_is_not_wanted(shop):
    for environment in ({"FORCE_COLOR": ""}, {"NO_COLOR": "1"}, {"NO_COLOR": "1", "TERM": "xterm-256color"}):
        for words in (["--help"], ["plan", "nobody"], ["plan", "--nonsense"], ["where"]):
            done = run(words, shop, **environment)
            assert b"\x1b" not in done.stdout + done.stderr, (environment, words)


def test_a_command_to_type_next_stands_whole_on_its_line(capsys):
    from straighten.cli.terminal import note

    note("Next: straighten plan a-head-with-a-rather-long-name-of-its-own, or straighten decide a-head")
    assert capsys.readouterr().err.splitlines() == [
        "Next: straighten plan a-head-with-a-rather-long-name-of-its-own, or",
        "straighten decide a-head",
    ]


@pytest.mark.parametrize(("columns", "longest"), [(40, 60), (60, 60), (100, 100), (200, 120), (None, 80)])
def test_an_answer_is_folded_to_the_screen_within_what_can_be_read(
    tmp_path, monkeypatch, capsys, columns, longest
):
    monkeypatch.chdir(EXAMPLES)
    monkeypatch.setattr("straighten.cli.app.screen", lambda: columns)
    assert main(["measure", PUMP, "survey-1.toml", "--book", str(tmp_path / "b.book")]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert longest - 12 < max(map(len, lines)) <= longest


def test_a_pipe_is_no_screen(monkeypatch):
    from straighten.cli.app import screen

    monkeypatch.setattr("sys.stdout", None)
    assert screen() is None
