"""The boundary: every fault becomes one message and a code; one of the program itself says so."""

import errno
import io
import json
import os
import sys

import pytest

from straighten import cli
from straighten.cli import app, main
from straighten.errors import BadInput, BookError, NoPlan, OutsideModel, StraightenError


@pytest.fixture
def breaking(monkeypatch):
    """Make the application end in a given way."""

    def with_(fault):
        def end(**_):
            raise fault

        monkeypatch.setattr("straighten.cli.app.app", end)

    return with_


@pytest.mark.parametrize(
    ("fault", "code"),
    [(BadInput("no", where="x"), 3), (OutsideModel("no"), 4), (NoPlan("no", fix="Do."), 5), (BookError("no"), 6), (StraightenError("no"), 1)],
)  # fmt: skip
def test_each_expected_fault_has_its_code_and_is_told_in_its_own_words(breaking, capsys, fault, code):
    breaking(fault)
    assert main(["plan"]) == code
    told = capsys.readouterr().err
    assert told.startswith(f"straighten: {fault}")
    assert told.count("\n") == 1
    assert main(["plan", "--json"]) == code
    assert json.loads(capsys.readouterr().err)["problem"] == "no"


@pytest.mark.parametrize(("fault", "next_"), [
    (BadInput("no", where="x"), "mend it, then again straighten plan barn-four"),
    (NoPlan("no"), "straighten check barn-four"),
    (OutsideModel("no"), "straighten check barn-four"),
    (BookError("no"), "straighten where"),
    (NoPlan("no", fix="Next: straighten sand barn-four"), None),
])  # fmt: skip
def test_a_refusal_names_the_next_command_once(breaking, capsys, fault, next_):
    breaking(fault)
    main(["plan", "barn-four"])
    told = capsys.readouterr().err
    assert told.startswith(f"straighten: {fault}")
    assert told.count("\n") == 1
    assert told.count("Next:") == 1
    assert next_ is None or f"Next: {next_}" in told


def test_a_fault_of_the_program_says_so_and_is_shown_with_debug(breaking, capsys):
    breaking(KeyError("x\x1b[2J"))
    assert main(["plan"]) == 1
    told = capsys.readouterr().err
    assert "unexpected KeyError" in told
    assert app.BUG_ADVICE in told
    assert "\x1b" not in told
    with pytest.raises(KeyError):
        main(["plan", "--debug"])


@pytest.mark.parametrize("number", app.NO_WAY)
def test_a_way_that_is_closed_is_no_fault_of_the_program(breaking, capsys, number):
    breaking(OSError(number, os.strerror(number), "/some/where"))
    assert main(["plan"]) == 3
    assert capsys.readouterr().err.startswith("straighten: /some/where: cannot be used: ")


@pytest.mark.parametrize(("number", "told"), [(errno.EPIPE, False), (errno.ENOSPC, True), (errno.EIO, True)])
def test_an_answer_that_cannot_be_written(breaking, capsys, monkeypatch, number, told):
    monkeypatch.setattr(app, "_close_quietly", lambda: None)
    breaking(OSError(number, os.strerror(number)))
    assert main(["plan"]) == 1
    assert ("cannot be written" in capsys.readouterr().err) is told


def test_stopping_is_130_wherever_it_comes(breaking, capsys, monkeypatch):
    breaking(KeyboardInterrupt())
    assert main(["plan"]) == 130
    stopped = SystemExit(1)
    stopped.__context__ = RuntimeError("left")
    stopped.__context__.__context__ = KeyboardInterrupt()
    breaking(stopped)
    assert main(["plan"]) == 130
    assert "stays in the book" in capsys.readouterr().err


@pytest.mark.parametrize(("code", "left"), [(0, 0), (2, 2), (None, 1), ("words", 1)])
def test_the_code_that_the_application_leaves_with(breaking, code, left):
    breaking(SystemExit(code))
    assert main(["plan"]) == left


@pytest.mark.parametrize(("answer", "code"), [(5, 5), (None, 0)])
def test_what_the_application_returns(monkeypatch, answer, code):
    monkeypatch.setattr("straighten.cli.app.app", lambda **_: answer)
    assert main(["plan"]) == code


def test_the_version_is_told_and_a_pipe_that_nobody_reads_is_borne(capsys, monkeypatch):
    assert main(["--version"]) == 0
    assert capsys.readouterr().out.startswith("straighten ")

    class Closed(io.StringIO):
        def flush(self):
            raise BrokenPipeError

    monkeypatch.setattr(sys, "stdout", Closed())
    assert main(["--version"]) == 1
    assert sys.stdout is None


def test_the_words_come_from_the_command_line_where_none_are_given(capsys, monkeypatch):
    monkeypatch.setattr(sys, "argv", ["straighten", "--version"])
    assert cli.main() == 0
    assert capsys.readouterr().out.startswith("straighten ")


def test_without_a_stderr_nothing_is_said(breaking, monkeypatch):
    breaking(BadInput("no"))
    monkeypatch.setattr(sys, "stderr", None)
    assert main(["plan"]) == 3
