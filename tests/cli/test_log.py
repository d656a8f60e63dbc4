"""`straighten log`: one card, one pass; readings from before the pass teach nothing of it."""

import json
import shutil
from pathlib import Path

import pytest

from straighten.book import open_book
from straighten.cli import main

EXAMPLE = Path(__file__).parents[2] / "worked_examples" / "irrigation-pump-four"
ROUND = ("--torque", "9 Nm", "--goes", "0.20", "--stops", "0.25")


def answered(capsys, book, *words, code=0):
    found = main([*map(str, words), "--book", str(book), "--json"])
    out = capsys.readouterr()
    assert found == code, out.err
    return json.loads(out.out if code == 0 else out.err)


@pytest.fixture(scope="module")
def carded(tmp_path_factory):
    """A book with the intake and the first card."""
    book = tmp_path_factory.mktemp("carded") / "b.book"
    assert main(["measure", str(EXAMPLE), "survey-1.toml", "--book", str(book)]) == 0
    assert main(["plan", str(EXAMPLE), "--book", str(book)]) == 0
    return book


@pytest.fixture(scope="module")
def logged(carded, tmp_path_factory):
    """The same after the first pass, done as the card says."""
    book = tmp_path_factory.mktemp("logged") / "b.book"
    shutil.copy(carded, book)
    assert main(["log", str(EXAMPLE), "survey-2.toml", "--book", str(book)]) == 0
    return book


@pytest.fixture
def ask(tmp_path, capsys):
    book = tmp_path / "b.book"
    capsys.readouterr()

    def run(start, *words, code=0):
        if not book.exists():
            shutil.copy(start, book)
        return answered(capsys, book, *words, code=code)

    run.book = book
    return run


def kinds(book):
    with open_book(book) as opened:
        return [entry.kind for entry in opened.entries(EXAMPLE.name)]


def test_a_card_stands_for_one_pass_only(ask, logged):
    """Common practice, no source: shims and spots are booked once, or the next plan learns from a pass nobody made."""
    before = kinds(logged)
    told = ask(logged, "log", EXAMPLE, "survey-3.toml", code=3)
    assert "since the last pass" in told["problem"]
    assert "straighten plan irrigation-pump-four" in told["fix"]
    assert "--done" in told["fix"]
    assert ask(logged, "tighten", EXAMPLE, *ROUND, code=3)["fix"].startswith("Plan first")
    assert kinds(ask.book) == before


def test_with_a_new_card_or_what_was_done_the_second_pass_is_booked(ask, logged):
    found = ask(logged, "log", EXAMPLE, "survey-3.toml", "--done", "pass-2.toml")
    assert found["pass_number"] == 2


def test_a_struck_pass_gives_its_card_back(ask, logged):
    with open_book(logged) as opened:
        number = opened.latest(EXAMPLE.name, "pass").number
    ask(logged, "strike", number, "--reason", "wrong survey")
    assert ask(logged, "log", EXAMPLE, "survey-2.toml")["pass_number"] == 1


def test_the_survey_before_the_pass_is_not_taken_for_the_one_after_it(ask, carded):
    before = kinds(carded)
    told = ask(carded, "log", EXAMPLE, "survey-1.toml", code=3)
    assert "every reading equals" in told["problem"]
    assert "--read-again" in told["fix"]
    assert kinds(ask.book) == before
    assert ask(carded, "log", EXAMPLE, "survey-1.toml", "--read-again")["pass_number"] == 1


def test_a_survey_dated_before_the_card_is_asked_about(ask, carded, tmp_path):
    text = (EXAMPLE / "survey-2.toml").read_text()
    (tmp_path / "old.toml").write_text("date = 2020-01-31\n" + text)
    told = ask(carded, "log", EXAMPLE, tmp_path / "old.toml", code=3)
    assert "dated 2020-01-31, before the card" in told["problem"]
    (tmp_path / "new.toml").write_text('date = "some day"\n' + text)  # what is no date is not compared
    assert ask(carded, "log", EXAMPLE, tmp_path / "new.toml")["measured"]


def test_what_was_expected_is_what_the_card_said(ask, carded):
    """The same draws and the same noise: card and log of an untouched set-up must not contradict each other."""
    with open_book(carded) as opened:
        card = opened.latest(EXAMPLE.name, "plan").record["card"]
    lines = {line["line"]: line for line in ask(carded, "log", EXAMPLE, "survey-2.toml")["lines"]}
    for line, key in (("deck", "deck_after_mm"), ("cam line", "cam_after_mm")):
        wanted = [card[key][name] for name in ("low", "middle", "high")]
        assert lines[line]["expected_mm"] == pytest.approx(wanted, abs=1e-6)
