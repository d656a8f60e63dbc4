"""`straighten measure` at a terminal: a person is walked through the stations; on a pipe nothing is asked."""

import io
import json
import os
import pty
import select
import subprocess
import sys
import time
from pathlib import Path

import pytest

from straighten.cli import main
from straighten.head import template_head

EXAMPLE = Path(__file__).parents[2] / "worked_examples" / "irrigation-pump-four"


def typed_at_a_terminal(words, answers, seconds=60):
    """Run the program on a pseudo-terminal, type an answer at every prompt, return all it printed and its exit code."""
    inner, outer = pty.openpty()
    running = subprocess.Popen(
        [sys.executable, "-m", "straighten", *words], stdin=outer, stdout=outer, stderr=outer, close_fds=True
    )
    os.close(outer)
    seen, left, until = "", list(answers), time.monotonic() + seconds
    asked = 0
    while time.monotonic() < until:
        ready, _, _ = select.select([inner], [], [], 0.2)
        if ready:
            try:
                seen += os.read(inner, 65536).decode(errors="replace")
            except OSError:
                break
        if seen.count("): ") > asked or (seen.rstrip(" ").endswith("):") and seen.count("):") > asked):
            asked = max(seen.count("):"), asked + 1)
            os.write(inner, ((left.pop(0) if left else "done") + "\n").encode())
        if running.poll() is not None and not ready:
            break
    running.wait(timeout=10)
    os.close(inner)
    return seen, running.returncode


def test_on_a_pipe_it_asks_nothing_and_says_so(tmp_path, capsys, monkeypatch):
    monkeypatch.setattr("sys.stdin", io.StringIO(""))
    assert main(["measure", str(EXAMPLE), "--book", str(tmp_path / "b.book")]) == 3
    assert "nobody sits at a terminal" in capsys.readouterr().err


def test_a_person_is_walked_through_and_the_survey_is_kept(tmp_path):
    book = tmp_path / "b.book"
    seen, code = typed_at_a_terminal(
        ["measure", str(EXAMPLE), "--book", str(book)],
        ["", "back", "", "nonsense", "", "", "", "", "b", "0.15", "done"],
    )
    assert code == 0, seen
    assert "Back one" in seen
    assert "left blank" in seen
    assert "Traceback" not in seen
    assert "Recorded as entry" in seen


def test_a_blank_survey_is_refused_and_nothing_is_kept(tmp_path, capsys, monkeypatch):
    monkeypatch.chdir(tmp_path)
    book = tmp_path / "b.book"
    assert main(["new", "my-head"]) == 0
    (tmp_path / "my-head" / "head.toml").write_text(template_head("my-head"))
    assert main(["measure", "my-head", "survey.toml", "--book", str(book)]) == 3
    told = " ".join(capsys.readouterr().err.split())
    assert "survey.toml: no reading and no finding" in told
    assert "Read one line of the deck" in told
    assert main(["history", "my-head", "--book", str(book)]) != 0
    seen, code = typed_at_a_terminal(["measure", "my-head", "--book", str(book)], ["done"])
    assert code == 3, seen
    assert "no reading and no finding" in seen


MODES = 'mode = "bridged"\nstations = [20, 210, 400]\n'
STRAIGHT_CAM = '[[cam]]\nmode = "balanced"\ngaps = [0, 0, 0, 0, 0]\n'


def _deck(gap):
    return "".join(
        f'[[deck]]\nline = "{n}"\ngaps = [0, "{gap}", 0]\n' for n in ("exhaust edge", "centre", "inlet edge")
    )


@pytest.mark.parametrize(
    ("survey", "verdict", "command"),
    [
        ((EXAMPLE / "survey-1.toml").read_text(), "straighten", "plan"),
        (MODES + _deck("0.10-0.12") + STRAIGHT_CAM, "sand only", "sand"),
        (
            (EXAMPLE.parent / "sand-only-sawmill-four" / "survey-2.toml").read_text(),
            "inside limits",
            "finish",
        ),
        ('[intake]\ncracks = "found"\n', "hand it on", "measure"),
        ('[[hardness]]\nside = "exhaust"\nvalue = 85\n', "measure again", "measure"),
    ],
)
def test_what_comes_next_is_a_command_that_the_verdict_allows(tmp_path, capsys, survey, verdict, command):
    (tmp_path / "s.toml").write_text(survey)
    kept = ["--book", str(tmp_path / "b.book")]
    assert main(["measure", str(EXAMPLE), str(tmp_path / "s.toml"), "--json", *kept]) == 0
    told = capsys.readouterr()
    assert json.loads(told.out)["verdict"] == verdict
    assert f"Next: straighten {command} " in " ".join(told.err.split())
    assert main(["check", str(EXAMPLE), *kept]) == 0
    assert f"Next: straighten {command} " in " ".join(capsys.readouterr().err.split())
    if command != "measure":
        assert main([command, str(EXAMPLE), *kept]) == 0
    capsys.readouterr()
    planned = main(["plan", str(EXAMPLE), *kept])
    assert (planned == 0 and "NEVER ABOVE" in capsys.readouterr().out) == (command == "plan")


def test_check_draws_deck_and_cam_line(tmp_path):
    book = tmp_path / "b.book"
    assert main(["measure", str(EXAMPLE), "survey-1.toml", "--book", str(book)]) == 0
    figure = tmp_path / "shape.svg"
    assert main(["check", str(EXAMPLE), "--figure", str(figure), "--book", str(book), "--json"]) == 0
    assert figure.read_text().startswith("<?xml")


@pytest.mark.parametrize("name", ["shape.gif", "nowhere/shape.svg"])
def test_a_figure_that_cannot_be_written_is_told(tmp_path, capsys, name):
    book = tmp_path / "b.book"
    assert main(["measure", str(EXAMPLE), "survey-1.toml", "--book", str(book)]) == 0
    assert main(["check", str(EXAMPLE), "--figure", str(tmp_path / name), "--book", str(book)]) == 3
    assert name.split("/")[-1] in capsys.readouterr().err


def test_a_name_with_a_blank_is_told_as_it_is_typed(tmp_path, capsys):
    folder = tmp_path / "my head"
    folder.mkdir()
    (folder / "head.toml").write_text(
        (EXAMPLE / "head.toml").read_text().replace('"irrigation-pump-four"', '"my head"')
    )
    survey, kept = str(EXAMPLE / "survey-1.toml"), ["--book", str(tmp_path / "b.book")]
    assert main(["measure", str(folder), survey, "--json", *kept]) == 0
    told = capsys.readouterr()
    assert "Next: straighten plan 'my head'" in " ".join(told.err.split())
    assert json.loads(told.out)["command"] == "straighten plan 'my head'"
