"""The guided session at a pseudo-terminal: played as it is meant, cut off at every prompt, talked back to.

The one command plays the pump's first pass. Slow are its whole example and the oven's pass, each twice, once with every
prompt cut off.
"""

import json
import math
import re
import shutil

import pytest

from straighten.book import open_book
from straighten.cli import main
from tests.cli import bench_player as player
from tests.cli.bench_player import OVEN, PUMP, Person, entries_of, played, question_of
from tests.cli.seated import Seat
from tests.remembered import AFRESH


@pytest.fixture(scope="module", autouse=True)
def loaded_before_the_forks():
    import straighten.cli.app
    import straighten.desk.bench  # noqa: F401


@pytest.fixture(scope="module", params=[1, pytest.param(2, marks=pytest.mark.slow)])
def passes(request):
    return request.param


@pytest.fixture(scope="module")
def undisturbed(passes, tmp_path_factory):
    book = tmp_path_factory.mktemp("whole") / "b.book"

    def watch(question):
        hot = book.with_name("hot.book")
        if "Head free?" in question and not hot.exists():
            shutil.copy(book, hot)

    return book, *played(PUMP, book, Person(player.PUMP_SURVEYS, passes=passes), watch=watch)


def test_the_whole_example_is_led_through(undisturbed, passes):
    book, _, text = undisturbed
    kinds = [kind for _, kind, _, _ in entries_of(book) if kind != "bench"]
    kinds = [kind for kind, following in zip(kinds, [*kinds[1:], ""], strict=True) if kind != following]
    assert kinds == ["head", "survey", *passes * ["plan", "tighten", "pass", "decision"]]
    for part in ("MEASURE", "CHECK", "PLAN", "TIGHTEN", "HEAT", "COOL", "MEASURE after pass 1", "DECIDE"):
        assert f"--- {part}" in text
    assert "NEVER ABOVE" in text
    assert "Traceback" not in text


MISSED = {
    (2, 80): "two passes take 139 prompts: the second survey asks no more what is known, steps ask in one",
}


@pytest.mark.parametrize(("least", "below"), [(80, math.inf), (60, 93)])
def test_prompts_of_a_pass(undisturbed, passes, least, below, request):
    if known := MISSED.get((passes, least)):
        request.applymarker(pytest.mark.xfail(strict=True, reason=known))
    assert least * passes < undisturbed[1] < below * passes


@pytest.mark.slow
def test_cut_off_at_every_prompt_the_book_is_the_same(undisturbed, passes, tmp_path):
    whole, prompts, _ = undisturbed
    book = tmp_path / "b.book"
    person = Person(player.PUMP_SURVEYS, passes=2 if passes == 2 else 0)
    met, _ = played(PUMP, book, person, cutting=True)
    kept = entries_of(book)
    if passes == 2:
        assert met >= prompts
        assert kept == entries_of(whole)
    else:
        assert kept[-1][3]["step"] == "cool/1/release"
        assert kept == entries_of(whole)[: len(kept)]
    assert main(["book", "check", "--book", str(book)]) == 0
    if passes != 2 and met <= 60:
        pytest.xfail(f"one pass of the example has {met} prompts, more than 60 were asked for")


# ---- the oven


@pytest.fixture(scope="module")
def surveyed(tmp_path_factory):
    """A book with the oven's head measured."""
    book = tmp_path_factory.mktemp("oven") / "b.book"
    assert main(["measure", str(OVEN), "survey.toml", "--book", str(book)]) == 0
    return book


@pytest.fixture(scope="module")
def baked(surveyed, tmp_path_factory):
    """The oven's pass played through; with a copy of the book at the first question of every kind."""
    book = tmp_path_factory.mktemp("baked") / "b.book"
    shutil.copy(surveyed, book)
    copies = {}

    def watch(question):
        kind = re.sub(r"\d[\d./]*", "N", question)
        if kind not in copies:
            copies[kind] = book.with_name(f"{len(copies)}.book")
            shutil.copy(book, copies[kind])

    _, text = played(OVEN, book, Person(player.OVEN_SURVEYS, passes=1), watch=watch)
    return book, text, copies


def copy_at(baked, part):
    (found,) = (book for question, book in baked[2].items() if part in question)
    return found


@pytest.mark.slow
def test_an_oven_pass_is_led_through_to_its_decision(baked):
    book, text, _ = baked
    kinds = [kind for _, kind, _, _ in entries_of(book) if kind != "bench"]
    assert [k for k, after in zip(kinds, [*kinds[1:], ""], strict=True) if k != after] == [
        "head", "survey", "plan", "tighten", "pass", "decision",
    ]  # fmt: skip
    for said in ("the METAL at", "NEVER ABOVE", "Metal at temperature so long", "no water, no fan"):
        assert said in " ".join(text.split())
    done = next(record for _, kind, _, record in entries_of(book) if kind == "pass")
    assert done["done"]["soak"]["hold_h"] >= 1


@pytest.mark.slow
def test_an_oven_pass_cut_off_at_every_prompt_ends_in_the_same_book(baked, surveyed, tmp_path):
    book = tmp_path / "b.book"
    shutil.copy(surveyed, book)
    played(OVEN, book, Person(player.OVEN_SURVEYS, passes=1), cutting=True)
    assert entries_of(book) == entries_of(baked[0])
    assert main(["book", "check", "--book", str(book)]) == 0


@pytest.mark.slow
def test_why_units_back_and_skip_are_understood_at_every_kind_of_prompt(baked, tmp_path):
    assert len(baked[2]) > 15
    for question, copied in baked[2].items():
        book = tmp_path / copied.name
        shutil.copy(copied, book)
        seat = Seat(["bench", str(OVEN), "--book", str(book), "--no-wait"])
        first = question_of(seat.to_prompt())
        seat.type("why")
        assert "To type:" in " ".join(seat.to_prompt().split()), question
        for shown in ("inches and thou", "mm"):
            seat.type("units")
            said = " ".join(seat.to_prompt().split())
            assert f"Shown first from now on: {shown}" in said, question
        assert first in said
        seat.type("skip")
        seat.to_prompt()
        assert seat.code is None, question
        seat.type("back")
        seat.to_prompt()
        assert seat.code is None, question
        seat.cut_power()
        assert "Traceback" not in seat.seen
        assert main(["book", "check", "--book", str(book)]) == 0


def clock_going_on(book):
    """Take back the last answer of a copy and give it anew, so that its hour is now."""
    with open_book(book) as opened:
        (head,) = opened.heads()
        last = opened.entries(head.name)[-1].record
        opened.append(head.name, "bench", {"step": "what follows it", "typed": "back", "system": "mm"})
        opened.append(head.name, "bench", last)


@pytest.mark.slow
def test_the_soak_counts_down_and_control_c_leaves_it_counting(baked, tmp_path):
    book = tmp_path / "b.book"
    shutil.copy(copy_at(baked, "Oven off. Metal"), book)
    clock_going_on(book)
    words = ["bench", str(OVEN), "--book", str(book)]
    seat = Seat(words)
    first = left(seat.to_text("soak, oven off at 0: "))
    seat.control_c()
    assert "what was recorded before stays in the book" in seat.to_end()
    assert seat.code == 130
    assert "Traceback" not in seat.seen
    seat = Seat(words)
    again = left(seat.to_text("soak, oven off at 0: "))
    assert 0 <= first - again < 60  # the clock of the soak did not stand still, nor begin anew
    seat.type("why")
    assert "both what stays straight and how soft" in " ".join(seat.to_text("how soft").split())
    seat.type("2 h")
    assert "Cool to the hand?" not in seat.to_text("cools, unclamp at 0")
    seat.type("stop")
    seat.to_end()
    kept = [r["typed"] for _, kind, _, r in entries_of(book) if str(r.get("step")) == "heat/1/out"]
    assert kept == ["2 h"]


def left(shown):
    """Return the seconds that the countdown on the screen shows."""
    hours, minutes, seconds = re.search(r"oven off at 0: (\d+):(\d+):(\d+)", shown).groups()
    return 3600 * int(hours) + 60 * int(minutes) + int(seconds)


@pytest.mark.slow
def test_control_c_at_a_prompt_and_in_a_computation_leaves_what_was_kept(baked, tmp_path):
    for part in ("This is the card of pass", "Go on to the plan?"):
        book = tmp_path / f"{len(part)}.book"
        shutil.copy(copy_at(baked, part), book)
        before = entries_of(book)
        seat = Seat(["bench", str(OVEN), "--book", str(book)], AFRESH)
        seat.to_prompt()
        if part == "Go on to the plan?":
            seat.type("")
            seat.to_text("weighing the passes")
        seat.control_c()
        assert "what was recorded before stays in the book" in seat.to_end()
        assert seat.code == 130
        assert "Traceback" not in seat.seen
        assert [e for e in entries_of(book) if e[1] != "bench"] == [e for e in before if e[1] != "bench"]


@pytest.mark.slow
def test_the_oven_is_cool_before_the_clamp_comes_off_or_a_reason_is_kept(baked, tmp_path):
    book = tmp_path / "b.book"
    shutil.copy(copy_at(baked, "Head free?"), book)
    clock_going_on(book)
    seat = Seat(["bench", str(OVEN), "--book", str(book)])
    seat.to_text("cools, unclamp at 0")
    seat.type("")
    assert "not yet" in seat.to_text("not yet")
    seat.type("skip")
    assert "STOP RULE" in seat.to_prompt()
    seat.type("the shop closes at six")
    seat.to_text("evens out, measure at 0")
    seat.cut_power()
    reasons = [r["typed"] for _, _, _, r in entries_of(book) if str(r.get("step", "")).endswith("/early")]
    assert reasons == ["the shop closes at six"]


# ---- against the commands


@pytest.mark.slow
def test_what_is_entered_is_what_the_commands_enter(undisturbed, tmp_path):
    wanted = [(kind, r) for _, kind, _, r in entries_of(undisturbed[0]) if kind != "bench"]
    wanted = wanted[: [kind for kind, _ in wanted].index("pass")]
    book = tmp_path / "b.book"
    with open_book(book) as fresh:
        for kind, record in wanted[:2]:
            fresh.append("irrigation-pump-four", kind, record)
    assert main(["plan", str(PUMP), "--book", str(book)]) == 0
    for one in wanted[-1][1]["rounds"]:
        words = ["--torque", f"{one['torque_Nm']!r} Nm", "--goes", f"{one['goes_mm']!r} mm"]
        words += ["--stops", f"{one['stops_mm']!r} mm"]
        assert main(["tighten", str(PUMP), *words, "--book", str(book)]) == 0
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
    assert main(["bench", str(PUMP), "--book", str(book)]) == 3
    assert "nothing is asked" in capsys.readouterr().err
    assert not book.exists()
    assert main(["bench", str(PUMP), "--book", str(book), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["step"] == "survey/0/units"


def talked(book, lines, words=("--no-wait",), environment=None):
    """Type the lines one by one and leave; return what was printed after each."""
    seat = Seat(["bench", str(PUMP), "--book", str(book), *words], environment)
    said = [seat.to_prompt()]
    for line in (*lines, "stop"):
        seat.type(line)
        said.append(seat.to_prompt())
    assert seat.code == 0, said[-1]
    return said


def test_back_skip_why_units_are_understood_at_a_prompt(tmp_path):
    said = talked(
        tmp_path / "b.book",
        ["why", "back", "thou", "units", "n", "back", "skip", "", "", "", "nonsense", "b"],
    )
    assert "A bare number means nothing" in said[1]
    assert "This is the first question." in said[2]
    assert "bare gaps are thou" in said[3]
    assert "Shown first from now on: inches and thou" in said[4]
    assert "Is the casting magnesium?" in said[5]
    assert "Cracks found" in said[6]
    assert "not checked" in said[7]
    assert "Faced before?" in said[8]
    assert "Hardness of the deck" in said[9]
    assert "found 'nonsense'" in " ".join(said[11].split())
    assert "bridged" in said[12]


def test_a_question_mark_explains_and_is_no_answer(tmp_path):
    """At the crack question it would otherwise be booked as: not checked."""
    said = [
        " ".join(text.split()) for text in talked(tmp_path / "b.book", ["mm", "?", "n n n", "", "b", "?"])
    ]
    assert "neither clamped nor heated" in said[2]
    assert "Cracks found" in said[2]
    assert "drawn through these brackets" in said[6]
    typed = [r["typed"] for _, kind, _, r in entries_of(tmp_path / "b.book") if kind == "bench"]
    assert typed == ["mm", "n n n", "", "b"]


def test_it_is_plain_text_in_eighty_columns_where_colour_is_not_wanted(tmp_path):
    seat = Seat(["bench", str(PUMP), "--book", str(tmp_path / "b.book")], {"NO_COLOR": "1", "TERM": "dumb"})
    for line in ("mm", "n n n", "", "b", "0.1", "stop"):
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
            {"step": last.record["step"].replace("held", "light"), "typed": "on", "system": "mm"},
        )
        opened.append(head.name, "bench", last.record)
    seat = Seat(["bench", str(PUMP), "--book", str(book)])
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
    text = (PUMP / "survey-1.toml").read_text()
    for old, new in given.values():
        assert old in text
        text = text.replace(old, new)
    survey = tmp_path / "survey.toml"
    survey.write_text(text)
    book = tmp_path / "b.book"
    assert main(["measure", str(PUMP), str(survey), "--book", str(book)]) == 0
    return book


@pytest.mark.slow
def test_past_advice_only_with_a_reason_which_is_kept_and_printed(tmp_path):
    book = with_intake(tmp_path, soft=("values = [83, 84]", "values = [70, 70]"))
    said = talked(book, ["on", "because", "the owner knows it may stay soft"])
    assert "No pass is advised now." in said[0]
    assert "lost its temper" in " ".join(said[0].split())
    assert "STOP RULE" in said[1]
    assert "without one it does not go on" in " ".join(said[2].split())
    assert "the owner knows it may stay soft" in " ".join(said[3].split())
    kinds = [kind for _, kind, _, _ in entries_of(book)]
    assert kinds.count("plan") == 1
    reasons = [r["typed"] for _, kind, _, r in entries_of(book) if str(r.get("step", "")).endswith("/reason")]
    assert reasons == ["because", "the owner knows it may stay soft"]


def test_a_crack_ends_it_whatever_the_reason(tmp_path):
    book = with_intake(tmp_path, crack=('cracks = "none found"', 'cracks = "found"'))
    said = talked(book, [])
    assert all("A crack was found" in " ".join(text.split()) for text in said[:1])
    assert "The session ends here" in said[0]
    assert "on;" not in said[0]
    assert "plan" not in [kind for _, kind, _, _ in entries_of(book)]
