"""Whole jobs at a pseudo-terminal, prompts and keys counted: a first-time owner in inches, an overshoot, heads refused.

The oven is played in test_bench.py, sanding alone in test_bench_whole.py.
"""

import re

import pytest

from straighten.book import open_book
from straighten.cli import main
from tests.cli.bench_player import (
    question_of,
)
from tests.cli.seated import Seat
from tests.cli.test_odd_heads import _bare
from tests.cli.test_start import INCHES

LINE, WRONG, NONE = "b 0 5-6 8-10 5-6 0", "b 0 5-6 20 5-6 0", "b 0 0 0 0 0"
BOWED = {
    "Cracks": "n n n", "Hardness": "83 84 86", "exhaust edge": LINE, "centre": WRONG, "inlet edge": LINE,
    "front exhaust to": "s", "front inlet to": "s", "Cam line": "= 4-5 0 0 0 4-5",
}  # fmt: skip
STRAIGHT = {
    "Cracks": "n", "Hardness": "82 83 85", "exhaust edge": NONE, "centre": NONE, "inlet edge": NONE,
    "front exhaust to": "b 0", "front inlet to": "b 0", "Cam line": "= 0 0 0 0 0",
}  # fmt: skip
CROWNED = {line: typed.replace("b 0 0 0 0 0", "= 1.5-2 0 0 0 1.5-2") for line, typed in STRAIGHT.items()} | {
    "Cam line": "b 0 1.5-2 2-3 1.5-2 0", "front exhaust to": "s",
}  # fmt: skip
FAR_PAST = CROWNED | {"Cam line": "b 0 3-4 4-6 3-4 0"}
FIXED = {
    "nobody in the way?": "yes", "This is the card": "yes", "Flame on the spot?": "on", "in the middle?": "skip",
    "Close the head": "close", "Readings in mm": "", "All of this seen to?": "yes",
    "Why go on all the same?": "the bores were checked with a bar",
}  # fmt: skip


@pytest.fixture(scope="module", autouse=True)
def loaded_before_the_forks():
    import straighten.cli.app
    import straighten.desk.bench  # noqa: F401


class Owner:
    """Who stands at the bench for the first time, reads what is asked and types all of a part at once.

    `surveys` by the place asked for; `otherwise` is typed once where the first flame goes off.
    """

    def __init__(self, *surveys, otherwise=""):
        self.surveys, self.otherwise = list(surveys), otherwise
        self.keys, self.prompts, self.text = 0, 0, ""

    def play(self, words, first=(), most=120):
        """Play to the end of the program and return its code; `first` answers the questions before the session's own."""
        seat, lines = Seat(words), list(first)
        while True:
            shown = seat.to_prompt()
            self.text += shown
            if seat.code is not None:
                assert "Traceback" not in seat.seen
                return seat.code
            typed = lines.pop(0) if lines else self.answer(question_of(shown), " ".join(shown.split()))
            self.prompts, self.keys = self.prompts + 1, self.keys + len(typed) + 1
            assert self.prompts < most, self.text[-9000:]
            seat.type(typed)

    def answer(self, question, shown):
        """Return what is typed at a question; Enter where nothing else is to be said."""
        if "Go on to the plan?" in question:
            trial = "crayon 480 F 1.5 s" if "BEFORE THE CARD" in shown else ""
            return "again" if "DOES NOT FIT:" in shown else trial
        if "To reach:" in shown or "what does it read now?" in shown:
            return "y" if "To reach:" in shown else "8-10"
        if found := re.match(r"Round (\d+):", question):
            return self.round(int(found[1]), shown)
        if "Flame off" in question:
            typed, self.otherwise = self.otherwise, ""
            return typed
        if "Keep these" in question:
            self.surveys.pop(0)
        told = FIXED | (self.surveys[0] if self.surveys else {})
        return next((typed for part, typed in told.items() if part in question), "")

    def round(self, number, shown):
        """Return a torque with its blades: in the first round those of the card, in the second the gap is closed."""
        if number == 1:
            goes = re.search(r"in the middle ([\d.]+) thou", shown)
            stops = re.search(r", ([\d.]+) thou \([\d.]+ mm\) should not", shown)[1]
            torque = re.search(r"every nut to ([0-9]+)", shown)[1]
            return f"{torque} {goes[1] if goes else 0}-{stops}"
        torque = re.findall(r"reached between .*? and ([0-9]+) ft-lb", shown)[-1]
        return f"{torque} 0-1.5"


@pytest.fixture
def bench(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("STRAIGHTEN_BOOK", str(tmp_path / "b.book"))
    return tmp_path / "b.book"


def kinds(book, name):
    with open_book(book) as opened:
        return [e.kind for e in opened.entries(name) if e.kind not in ("bench", "head")]


BENCH = ["bench", "barn", "--no-wait"]


@pytest.mark.slow
def test_a_first_time_owner_in_inches_from_a_new_head_to_a_closed_one(bench, capsys):
    """A wrong reading, a flame trial, a spot held otherwise than on the card; every prompt and key of the whole job."""
    assert main([]) == 0
    assert "straighten bench my-head" in capsys.readouterr().out
    owner = Owner(BOWED, STRAIGHT, otherwise="18 s")
    assert owner.play(BENCH, INCHES) == 0
    assert kinds(bench, "barn") == [
        "survey",
        "survey",
        "plan",
        "tighten",
        "tighten",
        "pass",
        "decision",
        "finish",
    ]
    told = " ".join(owner.text.split())
    assert "The flame trial stands in the head file" in told
    assert "closed as entry" in told
    with open_book(bench) as opened:
        done = opened.latest("barn", "pass").record["done"]["spots"]
    assert [round(spot["dwell_s"], 3) for spot in done].count(18.0) == 1
    assert (
        owner.prompts - len(INCHES) < 80
    )  # of all after the head is described: two surveys, a pass, the list
    assert owner.keys < 600
    assert (
        _bare(owner.text.partition("> inch")[2]) == []
    )  # metric stands in brackets alone, from the first answer on


@pytest.mark.slow
@pytest.mark.parametrize(
    "past",
    [
        CROWNED,
        FAR_PAST,
    ],
    ids=["by about the limit", "by twice the limit"],
)
def test_an_overshoot_ends_with_what_it_reads_and_the_next_command(bench, past):
    owner = Owner(BOWED, past)
    assert owner.play(BENCH, INCHES) == 0
    end = " ".join(owner.text.rpartition("--- END")[2].split())
    assert "the deck is crowned" in end
    assert "Next: straighten decide barn" in end
    assert kinds(bench, "barn")[-2:] == ["pass", "decision"]
    assert owner.prompts - len(INCHES) < 60


@pytest.mark.parametrize(
    ("told", "why", "next_"),
    [
        ({"Cracks": "y", "magnesium": "done"}, "crack was found", "Next: straighten measure barn"),
        ({"Cracks": "n y n", "Hardness": "done"}, "Magnesium", "Next: straighten"),
        (BOWED | {"Hardness": "50 50 50", "centre": LINE}, "50 HB", "Next: straighten measure barn"),
    ],
    ids=["a crack", "magnesium", "too soft"],
)
def test_a_bad_head_is_refused_with_its_reason_and_the_next_command(bench, told, why, next_):
    owner = Owner(told)
    assert owner.play(BENCH, INCHES) == 0
    end = " ".join(owner.text.rpartition("--- END")[2].split())
    assert why in end
    assert next_ in end
    assert "plan" not in kinds(bench, "barn")
    assert owner.prompts - len(INCHES) <= 13
