"""`straighten tighten` at a terminal: asks round by round, keeps each at once, asks again where a line makes no sense."""

import shutil
from pathlib import Path

import pytest

from straighten.book import open_book
from straighten.cli import main, passes

EXAMPLE = Path(__file__).parents[2] / "worked_examples" / "irrigation-pump-four"


@pytest.fixture(scope="module")
def planned(tmp_path_factory):
    book = tmp_path_factory.mktemp("planned") / "b.book"
    assert main(["measure", str(EXAMPLE), "survey-1.toml", "--book", str(book)]) == 0
    assert main(["plan", str(EXAMPLE), "--book", str(book)]) == 0
    return book


@pytest.fixture
def seated(planned, tmp_path, monkeypatch, capsys):
    book = tmp_path / "b.book"
    shutil.copy(planned, book)
    capsys.readouterr()

    class Terminal:
        def isatty(self):
            return True

    rounds = []

    def typing(*lines, more=()):
        left = list(lines)
        with monkeypatch.context() as patched:
            patched.setattr(passes.sys, "stdin", Terminal())
            patched.setattr(passes.typer, "prompt", lambda *_, **__: left.pop(0))
            assert main(["tighten", str(EXAMPLE), "--book", str(book), *map(str, more)]) == 0
        assert not left, "nobody asked for it"
        with open_book(book) as opened:
            kept = [e for e in opened.entries(EXAMPLE.name, "tighten") if not e.struck_by]
        rounds.append(kept[-1].record["rounds"] if kept else None)
        return capsys.readouterr(), [r["torque_Nm"] for r in rounds[-1] or ()]

    typing.rounds = rounds
    return typing


@pytest.mark.slow
def test_each_round_is_kept_at_once_and_stop_says_how_to_go_on(seated):
    told, torques = seated("9 Nm; 0.20; 0.25", "14 Nm 0,10 0,12", " Stop ")
    assert torques == [9.0, 14.0]
    assert "Kept so far; go on with: straighten tighten" in told.err
    _, torques = seated("17 Nm, 0.09, 0.10", "stop")
    assert torques == [9.0, 14.0, 17.0]


def test_a_line_that_makes_no_sense_is_asked_again_and_not_kept(seated):
    told, torques = seated("9 bananas", "9 Nm, 0.3, 0.2", "9 Nm, 0.20, 0.25", "8 Nm, 0.20, 0.25", "stop")
    assert " ".join(told.err.split()).count("Ask again.") == 3
    assert torques == [9.0]


def test_it_ends_by_itself_once_the_gap_is_reached(seated, tmp_path):
    picture = tmp_path / "rounds.svg"
    told, torques = seated("12 Nm, 0.10, 0.12", "21 Nm, 0, 0.04", more=("--figure", picture))
    assert torques == [12.0, 21.0]
    assert "HOLD: GAP REACHED" in told.out
    assert picture.read_text().startswith("<?xml")


def test_starting_and_leaving_enters_nothing(seated):
    seated("stop")
    assert seated.rounds[-1] is None


def test_decimal_commas_are_understood_and_what_can_be_read_in_two_ways_is_asked_again(seated):
    told, _ = seated("10,5,6", "10 Nm; 0.1; 10", "10 Nm, 0,10, 0,12", "stop")
    assert " ".join(told.err.split()).count("Ask again.") == 2
    (kept,) = seated.rounds[-1]
    assert (kept["torque_Nm"], kept["goes_mm"], kept["stops_mm"]) == pytest.approx((10.0, 0.10, 0.12))
