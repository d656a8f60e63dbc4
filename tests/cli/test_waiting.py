"""Waiting and asking at the bench, with a clock and a keyboard of the test's own."""

import io
from datetime import UTC, datetime, timedelta

import pytest
import typer

from straighten.cli import terminal
from straighten.desk.bench_words import Ask

START = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)


def due_in(seconds, *, strict=False):
    return Ask(
        key="cool/1/ready", part="COOL", prompt="Cold?", since=START.isoformat(), seconds=seconds,
        waiting="cooling", strict=strict,
    )  # fmt: skip


class Bench:
    """A clock that goes `step` seconds a look, and lines that are typed after so many looks at the keyboard."""

    def __init__(self, monkeypatch, typed=(), step=10.0):
        self.gone, self.step, self.looks, self.typed, self.asked = 0.0, step, 0, dict(typed), []
        monkeypatch.setattr(terminal.select, "select", self.keyboard)
        monkeypatch.setattr(terminal.sys, "stdin", self)
        monkeypatch.setattr(terminal, "typed_at", self.prompted)

    def clock(self):
        return START + timedelta(seconds=self.gone)

    def keyboard(self, streams, _, __, patience):
        assert 0 < patience <= terminal.TICK
        self.looks += 1
        self.gone += self.step
        return (streams if self.looks in self.typed else [], [], [])

    def readline(self):
        return self.typed[self.looks]

    def prompted(self, prompt):
        self.asked.append((prompt, self.gone))
        return "at the prompt"


def test_the_question_comes_when_the_time_is_up_and_not_before(monkeypatch, capsys):
    bench = Bench(monkeypatch)
    assert terminal.waited(due_in(60.0), "Cold?", bench.clock) == "at the prompt"
    assert bench.asked == [("Cold?", 60.0)]
    assert "time is up" in capsys.readouterr().out


def test_a_line_typed_before_is_the_answer(monkeypatch):
    bench = Bench(monkeypatch, {2: "21 C\n"})
    assert terminal.waited(due_in(60.0), "Cold?", bench.clock) == "21 C"
    assert not bench.asked


def test_enter_before_the_time_is_an_answer_only_where_nothing_can_be_spoilt(monkeypatch, capsys):
    loose = Bench(monkeypatch, {1: "\n"})
    assert terminal.waited(due_in(60.0), "Cold?", loose.clock) == ""
    strict = Bench(monkeypatch, {1: "\n"})
    assert terminal.waited(due_in(4000.0, strict=True), "Cold?", strict.clock) == "at the prompt"
    assert "not yet: 1:06:30 to go; skip asks why." in capsys.readouterr().out
    assert strict.asked == [("Cold?", 4000.0)]


def test_a_keyboard_that_went_away_is_taken_for_leaving(monkeypatch):
    bench = Bench(monkeypatch, {1: ""})
    assert terminal.waited(due_in(60.0, strict=True), "Cold?", bench.clock) == "stop"


@pytest.mark.parametrize(("gone", "left"), [(0, 60), (45, 15), (60, 0), (9000, 0), (-3600, 60)], ids=str)
def test_the_wait_is_counted_from_the_answer_and_never_longer_than_whole(gone, left):
    assert terminal.left_to_wait(due_in(60.0), lambda: START + timedelta(seconds=gone)) == left


def test_nothing_to_wait_for_is_asked_at_once(monkeypatch):
    bench = Bench(monkeypatch)
    plain = Ask(key="x", part="COOL", prompt="Cold?")
    assert terminal.left_to_wait(plain, bench.clock) == 0
    assert terminal.waited(plain, "Cold?", bench.clock) == "at the prompt"
    assert bench.looks == 0


def test_a_computation_says_nothing_where_no_terminal_listens(capsys):
    with terminal.busy("working it out"):
        pass
    assert capsys.readouterr() == ("", "")


def test_the_end_of_input_leaves_the_bench(monkeypatch, capsys):
    monkeypatch.setattr("sys.stdin", io.StringIO(""))
    assert terminal.typed_at("Cold?") == "stop"
    assert "Cold?" in capsys.readouterr().out


def test_what_is_typed_comes_back_as_it_is(monkeypatch, capsys):
    monkeypatch.setattr("sys.stdin", io.StringIO("0.20-0.25\n"))
    assert terminal.typed_at("Deck, exhaust edge") == "0.20-0.25"
    assert capsys.readouterr().out.endswith("Deck, exhaust edge > ")


def test_control_c_at_a_prompt_ends_the_program(monkeypatch):
    def interrupted(*_, **__):
        left = typer.Abort()
        left.__context__ = KeyboardInterrupt()  # as the prompt itself does it
        raise left

    monkeypatch.setattr(terminal.typer, "prompt", interrupted)
    with pytest.raises(typer.Abort):
        terminal.typed_at("Cold?")


def test_long_questions_are_folded_and_lines_after_a_bullet_indented():
    lines = terminal.folded("one word after the other " * 8, " * ").split("\n")
    assert len(lines) > 1
    assert max(map(len, lines)) <= 80
    assert lines[0].startswith(" * one")
    assert all(line.startswith("   ") for line in lines[1:])
