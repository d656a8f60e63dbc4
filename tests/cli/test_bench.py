"""`straighten bench` at a pseudo-terminal: the worked example played through, cut off at every prompt, and led astray."""

import json
import re
import shutil
import time
import tomllib
from pathlib import Path

import pytest

from straighten.book import open_book
from straighten.cli import main
from tests.cli.seated import Seat

EXAMPLE = Path(__file__).parents[2] / "worked_examples" / "irrigation-pump-four"
TIMES = {"made_at", "ready_at", "unclamp_at"}


def survey_answers(file):
    """Return answers by place from a survey file of the example; at the ends of the deck the straightedge rests."""
    survey = tomllib.loads((EXAMPLE / file).read_text())
    given = {"Readings in mm": "mm", "Cracks found": "n", "Faced before": "n"}
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


SURVEYS = [survey_answers(f"survey-{n}.toml") for n in (1, 2, 3)]
BLADES = (
    0.04,
    0.05,
    0.06,
    0.08,
    0.10,
    0.12,
    0.15,
    0.18,
    0.20,
    0.25,
    0.30,
    0.35,
    0.40,
    0.45,
    0.50,
    0.60,
    0.80,
)


class Person:
    """Who stands at the bench: reads the screen, finds the blades foretold, in round two turns to where the gap closes."""

    def __init__(self):
        self.passes, self.gap = 0, 0.0

    def answer(self, shown):
        """Return what is typed at a prompt; Enter where the session's own figure is right."""
        asked = " ".join(shown.split())
        question = question_of(shown)
        self.passes += "Ready to measure?" in question
        if "Plan the next pass?" in question or "heat no more" in question:
            return "" if self.passes == 1 else "stop"
        if "nobody in the way?" in question:
            return "yes"
        if found := re.match(r"Round (\d+):", question):
            return self.turned(int(found[1]), asked)
        if "Largest blade" in question:
            return str(max((b for b in BLADES if b <= self.gap), default=0))
        if "Smallest blade" in question:
            return str(min(b for b in BLADES if b > self.gap))
        return next((typed for place, typed in SURVEYS[self.passes].items() if place in question), "")

    def turned(self, number, asked):
        if number == 1:
            goes = re.search(r"in the middle ([\d.]+) mm \([\d.]+ thou\) should go", asked)
            stops = re.search(r"go, ([\d.]+) mm \([\d.]+ thou\) should not", asked)
            self.gap = (float(goes[1]) + float(stops[1])) / 2
            return ""
        self.gap = 0.0
        high = re.search(r"reached between \d+ Nm \(\d+ ft-lb\) and (\d+) Nm", asked)[1]
        return f"{high} Nm" if number == 2 else ""


BEFORE_WORK = ("Keep these", "Go on to the plan?", "Smallest blade")


def played(book, *, cutting):
    """Play the example; return how many prompts were met, and all that was shown.

    With `cutting` the power goes at every prompt before it is answered, and again in the middle of every computation.
    Where the session is first to count down to the release, a copy of the book is laid beside it.
    """
    words = ["bench", str(EXAMPLE), "--book", str(book), "--no-wait"]
    seat, person, prompts, text = Seat(words), Person(), 0, []
    while True:
        shown = seat.to_prompt()
        if seat.code is not None:
            return prompts, "".join(text) + shown
        if cutting:
            seat.cut_power()
            assert seat.code == -9
            seat = Seat(words)
            again = seat.to_prompt()
            assert question_of(again) == question_of(shown)
        if "Head free?" in question_of(shown) and not book.with_name("hot.book").exists():
            shutil.copy(book, book.with_name("hot.book"))
        text.append(shown)
        prompts += 1
        assert prompts < 300, shown
        seat.type(person.answer(shown))
        if cutting and any(place in question_of(shown) for place in BEFORE_WORK):
            time.sleep(0.2)
            seat.cut_power()
            seat = Seat(words)


def question_of(shown):
    """Return the question at the end of what was shown, without what may be typed."""
    lines = shown.removesuffix("> ").rstrip().split("\n")
    start = max((n for n, line in enumerate(lines) if line.startswith((" ", "---")) or not line), default=-1)
    return " ".join(lines[start + 1 :]).split(" (", 1)[0]


def entries_of(book):
    with open_book(book) as opened:
        (head,) = opened.heads()
        return [
            (e.number, e.kind, e.inputs, timeless(e.record)) for e in opened.entries(head.name, struck=True)
        ]


def timeless(plain):
    if isinstance(plain, dict):
        return {key: timeless(value) for key, value in plain.items() if key not in TIMES}
    return [timeless(item) for item in plain] if isinstance(plain, list) else plain


@pytest.fixture(scope="module")
def undisturbed(tmp_path_factory):
    import straighten.cli.app
    import straighten.desk.bench_work  # noqa: F401  loaded once, before the forks

    book = tmp_path_factory.mktemp("whole") / "b.book"
    prompts, text = played(book, cutting=False)
    return book, prompts, text


def test_the_whole_example_is_led_through(undisturbed):
    book, prompts, text = undisturbed
    kinds = [kind for _, kind, _, _ in entries_of(book) if kind != "bench"]
    kinds = [kind for kind, following in zip(kinds, [*kinds[1:], ""], strict=True) if kind != following]
    one_pass = ["plan", "tighten", "pass", "decision"]
    assert kinds == ["head", "survey", *one_pass, *one_pass]
    assert prompts > 150
    for part in ("MEASURE", "CHECK", "PLAN", "TIGHTEN", "HEAT", "COOL", "MEASURE after pass 1", "DECIDE"):
        assert f"--- {part}" in text
    assert "NEVER ABOVE" in text
    assert "Traceback" not in text


def test_cut_off_at_every_prompt_the_book_is_the_same(undisturbed, tmp_path):
    whole, prompts, _ = undisturbed
    book = tmp_path / "b.book"
    assert played(book, cutting=True)[0] >= prompts
    assert entries_of(book) == entries_of(whole)
    assert main(["book", "check", "--book", str(book)]) == 0


def test_what_is_entered_is_what_the_commands_enter(undisturbed, tmp_path):
    wanted = [(kind, r) for _, kind, _, r in entries_of(undisturbed[0]) if kind != "bench"]
    wanted = wanted[: [kind for kind, _ in wanted].index("pass")]
    book = tmp_path / "b.book"
    with open_book(book) as fresh:
        for kind, record in wanted[:2]:
            fresh.append("irrigation-pump-four", kind, record)
    assert main(["plan", str(EXAMPLE), "--book", str(book)]) == 0
    for one in wanted[-1][1]["rounds"]:
        words = ["--torque", f"{one['torque_Nm']!r} Nm", "--goes", f"{one['goes_mm']!r} mm"]
        words += ["--stops", f"{one['stops_mm']!r} mm"]
        assert main(["tighten", str(EXAMPLE), *words, "--book", str(book)]) == 0
    found = [(kind, rounded(record)) for _, kind, _, record in entries_of(book)]
    assert found == [(kind, rounded(record)) for kind, record in wanted]


def rounded(plain):
    """Return a record with its numbers to nine digits: a torque written out and read again keeps no more."""
    if isinstance(plain, dict):
        return {key: rounded(value) for key, value in plain.items()}
    if isinstance(plain, list):
        return [rounded(item) for item in plain]
    return float(f"{plain:.9g}") if isinstance(plain, float) else plain


def test_on_a_pipe_nothing_is_asked_and_nothing_recorded(tmp_path, capsys):
    book = tmp_path / "b.book"
    assert main(["bench", str(EXAMPLE), "--book", str(book)]) == 3
    assert "nothing is asked" in capsys.readouterr().err
    assert not book.exists()
    assert main(["bench", str(EXAMPLE), "--book", str(book), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["step"] == "survey/0/units"


def talked(book, lines, words=("--no-wait",), environment=None):
    """Type the lines one by one and leave; return what was printed after each."""
    seat = Seat(["bench", str(EXAMPLE), "--book", str(book), *words], environment)
    said = [seat.to_prompt()]
    for line in (*lines, "stop"):
        seat.type(line)
        said.append(seat.to_prompt())
    assert seat.code == 0, said[-1]
    return said


def test_back_skip_why_units_are_understood_at_a_prompt(tmp_path):
    said = talked(
        tmp_path / "b.book", ["why", "back", "thou", "units", "n", "back", "skip", "", "nonsense", "b"]
    )
    assert "A bare number means nothing" in said[1]
    assert "This is the first question." in said[2]
    assert "bare gaps are thou" in said[3]
    assert "Shown first from now on: inches and thou" in said[4]
    assert "Faced before?" in said[5]
    assert "Cracks found" in said[6]
    assert "not checked" in said[7]
    assert "found 'nonsense'" in " ".join(said[9].split())
    assert "bridged" in said[10]


def test_it_is_plain_text_in_eighty_columns_where_colour_is_not_wanted(tmp_path):
    seat = Seat(
        ["bench", str(EXAMPLE), "--book", str(tmp_path / "b.book")], {"NO_COLOR": "1", "TERM": "dumb"}
    )
    for line in ("mm", "n", "n", "b", "0.1", "stop"):
        seat.to_prompt()
        seat.type(line)
    seat.to_prompt()
    assert "\x1b" not in seat.seen
    assert max(len(line) for line in re.sub("> .*", ">", seat.seen.replace("\r", "")).split("\n")) <= 80


def test_the_release_counts_down_and_going_before_it_takes_a_reason(undisturbed):
    book = undisturbed[0].with_name("hot.book")
    with open_book(book) as opened:
        (head,) = opened.heads()
        last = opened.entries(head.name)[-1]
        # The clock goes on as if the flame went out just now, whatever the time of this test.
        opened.append(head.name, "bench", {"step": last.record["step"], "typed": "back", "system": "mm"})
        opened.append(
            head.name,
            "bench",
            {"step": last.record["step"].replace("held", "light"), "typed": "", "system": "mm"},
        )
        opened.append(head.name, "bench", last.record)
    seat = Seat(["bench", str(EXAMPLE), "--book", str(book)])
    assert "cools, unclamp at 0" in seat.to_text("unclamp at 0")
    seat.type("")
    assert "not yet" in seat.to_text("not yet")
    seat.type("skip")
    assert "STOP RULE" in seat.to_prompt()
    seat.type("no time")
    assert "A reason in a few words" in seat.to_prompt()
    seat.type("the boss waits outside")
    assert "unclamp" not in seat.to_text("evens out, measure at 0")
    seat.cut_power()
    with open_book(book) as opened:
        kept = [e.record for e in opened.entries(head.name, "bench") if "the boss" in str(e.record)]
    assert [r["step"] for r in kept] == ["cool/1/release/early"]


def with_intake(tmp_path, **given):
    text = (EXAMPLE / "survey-1.toml").read_text()
    for old, new in given.values():
        assert old in text
        text = text.replace(old, new)
    survey = tmp_path / "survey.toml"
    survey.write_text(text)
    book = tmp_path / "b.book"
    assert main(["measure", str(EXAMPLE), str(survey), "--book", str(book)]) == 0
    return book


def test_past_a_no_go_only_with_a_reason_which_is_kept(tmp_path):
    book = with_intake(tmp_path, soft=("values = [83, 84]", "values = [58, 58]"))
    said = talked(book, ["on", "because", "the owner knows it may stay soft"])
    assert "The verdict is against a pass." in said[0]
    assert "STOP RULE" in said[1]
    assert "without one it does not go on" in " ".join(said[2].split())
    assert "AGAINST THE VERDICT" in said[3]
    kinds = [kind for _, kind, _, _ in entries_of(book)]
    assert kinds.count("plan") == 1
    reasons = [r["typed"] for _, kind, _, r in entries_of(book) if str(r.get("step", "")).endswith("/reason")]
    assert reasons == ["because", "the owner knows it may stay soft"]


def test_a_crack_ends_it_whatever_the_reason(tmp_path):
    book = with_intake(tmp_path, crack=('cracks = "none found"', 'cracks = "found"'))
    said = talked(book, ["on", "a good reason in many words"])
    assert all("a crack was found" in text for text in said[:3])
    assert "plan" not in [kind for _, kind, _, _ in entries_of(book)]
