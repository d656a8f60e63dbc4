"""A person who plays a worked example at the terminal, with the power cut as often as one likes."""

import re
import time
import tomllib
from pathlib import Path

from straighten.book import open_book
from tests.cli.seated import Seat
from tests.remembered import AFRESH

EXAMPLES = Path(__file__).parents[2] / "worked_examples"
PUMP, OVEN = EXAMPLES / "irrigation-pump-four", EXAMPLES / "oven-greenhouse-four"
TIMES = {"made_at", "ready_at", "unclamp_at"}
BLADES = (
    0.04, 0.05, 0.06, 0.08, 0.10, 0.12, 0.15, 0.18, 0.20, 0.25, 0.30, 0.35, 0.40, 0.45, 0.50, 0.60, 0.80,
)  # fmt: skip
FIXED = (("nobody in the way?", "yes"), ("gap in the middle?", "skip"), ("Type on", "on"))
BEFORE_WORK = ("Keep these", "Go on to the plan?", "Smallest blade")


def survey_answers(file):
    """Return answers by place from a survey file of the pump; at the ends of the deck the straightedge rests."""
    survey = tomllib.loads((PUMP / file).read_text())
    given = {
        "Readings in mm": "mm",
        "Cracks found": "n",
        "Is the casting magnesium": "n",
        "Faced before": "n",
    }
    for line in survey["deck"]:
        title = f"Deck, {line['line']}"
        given[f"{title}: how"] = "b"
        gaps = line["gaps"]
        for station, gap in zip((20, 115, 210, 305, 400), ("0-0.04", *gaps[1:4], "0-0.04"), strict=True):
            given[f"{title}, at {station}.0 mm"] = gap
    given["Cam line: how"] = "="
    for station, gap in zip((20, 111, 210, 309, 400), survey["cam"][0]["gaps"], strict=True):
        given[f"Cam line, at {station}.0 mm"] = gap
    for side in survey["hardness"]:
        given[f"Hardness of the deck, {side['side']}"] = str(side["values"][0])
    for line in ("front exhaust to rear inlet", "front inlet to rear exhaust"):
        given[f"Deck, {line}: how"] = "s"
    return given


PUMP_SURVEYS = {n: survey_answers(f"survey-{n + 1}.toml") for n in (0, 1, 2)}
# The oven's head after its pass, one edge of it and no more: a person in a hurry.
OVEN_SURVEYS = {
    1: {
        "Readings in mm": "mm",
        "Cracks found": "n",
        "Is the casting magnesium": "n",
        "Faced before": "n",
        "Deck, exhaust edge: how": "b",
        "Deck, exhaust edge, at 20.0 mm": "0-0.04",
        "Deck, exhaust edge, at 115.0 mm": "0.15-0.18",
        "Deck, exhaust edge, at 210.0 mm": "0.20-0.25",
        "Deck, exhaust edge, at 305.0 mm": "0.15-0.18",
        "Deck, exhaust edge, at 400.0 mm": "done",
    }
}


class Person:
    """Who stands at the bench: reads the screen, finds the blades foretold, in round two turns to where the gap closes.

    `surveys` answers for each survey by its number; leaves after so many `passes`, with 0 before measuring the first.
    """

    def __init__(self, surveys, passes):
        self.surveys, self.leaving = surveys, passes
        self.passes, self.gap = 0, 0.0

    def answer(self, shown):
        """Return what is typed at a prompt; Enter where the session's own figure is right."""
        asked = " ".join(shown.split())
        question = question_of(shown)
        if "Head free?" in question:
            self.passes += 1
        if self.passes > self.leaving and "Cracks found" in question:
            return "stop"
        if self.passes and ("Go on to" in question or "No pass is advised" in question):
            return "" if self.passes < self.leaving else "stop"
        if fixed := next((typed for part, typed in FIXED if part in question), ""):
            return fixed
        if found := re.match(r"Round (\d+):", question):
            return self.turned(int(found[1]), asked)
        if "Blades under the middle" in question or "est blade" in question:
            return self.blade(largest="largest" in question)
        survey = self.surveys.get(self.passes, {})
        return next((typed for place, typed in survey.items() if place in question), "")

    def blade(self, *, largest):
        return str(
            max((b for b in BLADES if b <= self.gap), default=0)
            if largest
            else min(b for b in BLADES if b > self.gap)
        )

    def turned(self, number, asked):
        if number == 1:
            goes = re.search(r"in the middle ([\d.]+) mm \([\d.]+ thou\) should go", asked)
            stops = re.search(r"go, ([\d.]+) mm \([\d.]+ thou\) should not", asked)
            self.gap = (float(goes[1]) + float(stops[1])) / 2
            return ""
        self.gap = 0.0
        high = re.search(r"reached between \d+ Nm \(\d+ ft-lb\) and (\d+) Nm", asked)[1]
        return f"{high} Nm" if number == 2 else ""


def played(example, book, person, *, cutting=False, watch=None):
    """Play an example to its end; return how many prompts were met, and all that was shown.

    Args:
        example: its folder.
        book: the book to play into.
        person: who answers.
        cutting: whether the power goes at every prompt before it is answered, and again in every computation.
        watch: called with each question before it is answered.
    """
    words = ["bench", str(example), "--book", str(book), "--no-wait"]
    environment = AFRESH if cutting else {}  # or there were no computation to cut
    seat, prompts, text = Seat(words, environment), 0, []
    while True:
        shown = seat.to_prompt()
        if seat.code is not None:
            return prompts, "".join(text) + shown
        if cutting:
            seat, shown = resumed(seat, words, shown, environment)
        if watch is not None:
            watch(question_of(shown))
        text.append(shown)
        prompts += 1
        assert prompts < 300, shown
        typed = person.answer(shown)
        seat.type(typed)
        if cutting and typed != "stop" and any(place in question_of(shown) for place in BEFORE_WORK):
            time.sleep(0.2)
            seat.cut_power()
            seat = Seat(words, environment)


def resumed(seat, words, shown, environment):
    """Cut the power, begin again, and return the new run with what it shows: the same question."""
    seat.cut_power()
    assert seat.code == -9
    seat = Seat(words, environment)
    again = seat.to_prompt()
    assert question_of(again) == question_of(shown)
    return seat, shown


def question_of(shown):
    """Return the question at the end of what was shown, without what may be typed and the echo of what was."""
    lines = shown.removesuffix("> ").rstrip().split("\n")
    start = max(
        (n for n, line in enumerate(lines) if line.startswith((" ", "---")) or line in ("", "on")), default=-1
    )
    return " ".join(lines[start + 1 :]).split(" (", 1)[0]


def entries_of(book):
    """Return number, kind, inputs and record of every entry of a book with one head, without the hours of the day."""
    with open_book(book) as opened:
        (head,) = opened.heads()
        return [
            (e.number, e.kind, e.inputs, timeless(e.record)) for e in opened.entries(head.name, struck=True)
        ]


def timeless(plain):
    if isinstance(plain, dict):
        return {key: timeless(value) for key, value in plain.items() if key not in TIMES}
    return [timeless(item) for item in plain] if isinstance(plain, list) else plain
