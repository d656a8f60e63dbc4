"""The guided session all the way: a new head in inches, a place read again, a pass done otherwise, sanding, the final list."""

import os
import shutil

import pytest

from straighten.book import open_book
from straighten.cli import main
from tests.cli.bench_player import EXAMPLES, PUMP
from tests.cli.seated import PATIENCE, Seat
from tests.cli.test_start import INCHES

SAWMILL, FERRY = EXAMPLES / "sand-only-sawmill-four", EXAMPLES / "hand-it-on-ferry-six"
FLAT = "b 0.02-0.03 0.02-0.03 0.02-0.03 0.02-0.03 0.02-0.03"
RUNS = (
    ("1350 P120 9 sheets", "34 %", "0.06-0.08", "91.952 91.955 91.948 91.956"),
    ("", "60", "skip", "skip"),
)
SANDED = ("n", "86 86 90", FLAT, FLAT, FLAT, "b 0.02-0.03", "b 0.02-0.03", "= 0-0.01 0-0.01 0-0.01 0-0.01 0-0.01",
          "91.910 91.915 91.908 91.913", "")  # fmt: skip


@pytest.fixture(scope="module", autouse=True)
def loaded_before_the_forks():
    import straighten.cli.app
    import straighten.desk.bench  # noqa: F401


def talked(head, book, lines, *, seconds=PATIENCE):
    """Type the lines one by one; return what was printed before each and after the last, and the exit code."""
    seat = Seat(["bench", str(head), "--book", str(book), "--no-wait"])
    said = [seat.to_prompt(seconds)]
    for line in lines:
        assert seat.code is None, (line, said[-1])
        seat.type(line)
        said.append(seat.to_prompt(seconds))
    if seat.code is None:
        seat.cut_power()
    assert "Traceback" not in seat.seen
    return [" ".join(text.split()) for text in said], seat.code


def entries(book, head, *kinds):
    with open_book(book) as opened:
        return [e for e in opened.entries(head) if not kinds or e.kind in kinds]


def kinds_of(book, head):
    return [e.kind for e in entries(book, head) if e.kind != "bench"]


# ---- sanding and the final list


@pytest.fixture(scope="module")
def sanded(tmp_path_factory):
    """The sawmill's deck sanded in two stretches, measured, at the check; with what was said."""
    book = tmp_path_factory.mktemp("sawmill") / "b.book"
    assert main(["measure", str(SAWMILL), "survey-1.toml", "--book", str(book)]) == 0
    strokes, _ = talked(SAWMILL, book, ["", "yes", *RUNS[0]])
    more, _ = talked(SAWMILL, book, [*RUNS[1], "", *SANDED])  # the power was cut between the stretches
    return book, strokes, more


def test_the_judgement_leads_from_the_check_to_the_strokes_and_on_to_the_final_list(sanded):
    book, strokes, more = sanded
    assert kinds_of(book, "sand-only-sawmill-four") == ["head", "survey", "sand", "sand", "survey"]
    assert "Go on to the sanding?" in strokes[0]
    assert "Aluminium dust" in strokes[1]
    assert "Strokes done" in more[0]
    assert "After 2 logged runs" in more[4]
    assert "Washed" in more[4]
    assert "VERDICT INSIDE LIMITS" in more[-1]
    assert "Go on to the final list?" in more[-1]


def test_a_stretch_is_entered_as_sand_enters_it(sanded, tmp_path):
    book = tmp_path / "b.book"
    assert main(["measure", str(SAWMILL), "survey-1.toml", "--book", str(book)]) == 0
    assert main(["sand", str(SAWMILL), "--log", "sand-1.toml", "--book", str(book)]) == 0
    (wanted,) = entries(book, "sand-only-sawmill-four", "sand")
    found, _ = entries(sanded[0], "sand-only-sawmill-four", "sand")
    told = ("date", "who", "note")
    assert {k: v for k, v in found.record["run"].items() if k not in told} == {
        k: v for k, v in wanted.record["run"].items() if k not in told
    }
    assert found.record["removed_mm"] == wanted.record["removed_mm"]


def test_a_whole_survey_and_a_stretch_take_few_prompts(sanded):
    """The survey after the first asks neither units nor what stays so: ten prompts with hardness, heights and all lines."""
    assert len(SANDED) == 10
    assert all(len(run) == 4 for run in RUNS)
    assert "Cracks found" in sanded[2][5]
    assert "Bare gaps are mm, as in the survey before." in sanded[2][5]


def test_what_cannot_be_is_asked_again_at_its_own_question(tmp_path, sanded):
    book = tmp_path / "b.book"
    assert main(["measure", str(SAWMILL), "survey-1.toml", "--book", str(book)]) == 0
    said, _ = talked(
        SAWMILL,
        book,
        ["", "yes", "many", "200 P77", "200", "", "130", "40", "", "2 2 2", "5 thou", "91", "skip"],
    )
    assert "Like 200, or 200 P120" in said[3]
    assert "no paper P77" in said[4]
    assert "a share from 0 to 100 %" in said[6]
    assert "a share from 0 to 100 %" in said[7]
    assert "a gap is due" in said[9] or "Enter says nothing" in said[9]
    assert "3 gaps were typed" in said[10]
    assert "1 heights were typed, 4 are due" in said[12]
    assert "SAND" in said[13]
    assert kinds_of(book, "sand-only-sawmill-four")[-1] == "sand"


def test_nothing_looked_at_is_no_stretch(tmp_path):
    book = tmp_path / "b.book"
    assert main(["measure", str(SAWMILL), "survey-1.toml", "--book", str(book)]) == 0
    said, _ = talked(SAWMILL, book, ["", "yes", "200", "skip", "skip", "skip"])
    assert "nothing was looked at after the strokes" in said[-1]
    assert kinds_of(book, "sand-only-sawmill-four") == ["head", "survey"]


def test_back_from_the_strokes_leads_to_the_check(tmp_path):
    book = tmp_path / "b.book"
    assert main(["measure", str(SAWMILL), "survey-1.toml", "--book", str(book)]) == 0
    said, _ = talked(SAWMILL, book, ["", "back"])
    assert "All of this seen to?" in said[1]
    assert "Go on to the sanding?" in said[2]


def test_the_list_is_asked_line_by_line_and_the_session_ends_with_how_the_head_was_closed(sanded, tmp_path):
    book = tmp_path / "b.book"
    shutil.copy(sanded[0], book)
    said, _ = talked(SAWMILL, book, ["", "y", "", "skip no cam here", "n", "back", "y", "done", "", "close"])
    assert "Finish of the deck" in said[1]
    assert "Guides and seats" in said[4]
    assert "Guides and seats" in said[6]  # taken back, asked again
    assert "Close the head in the book?" in said[8]
    assert "Nothing is closed yet" in said[9]
    assert "closed as entry" in said[10]
    assert "2900 strokes in 2 runs" in said[10]
    assert "skip no cam here" in said[10]
    assert "Next: straighten sheet sand-only-sawmill-four --report" in said[10]
    (final,) = entries(book, "sand-only-sawmill-four", "finish")
    state = {line["key"]: line["state"] for line in final.record["final"]["lines"]}
    assert (state["surface_finish"], state["cracks"], state["cam_free"]) == ("done", "open", "skipped")
    again, _ = talked(SAWMILL, book, [])
    assert "closed as entry" in again[0]


def test_a_line_that_fails_is_closed_only_with_a_reason(sanded, tmp_path):
    book = tmp_path / "b.book"
    shutil.copy(sanded[0], book)
    said, _ = talked(SAWMILL, book, ["", "y", "n", "done", "close", "so", "the owner takes it as it is"])
    assert "these fail: crack test" in said[4]
    assert "STOP RULE" in said[5]
    assert "A reason in a few words" in said[6]
    assert 'because: "the owner takes it as it is"' in said[7]
    (final,) = entries(book, "sand-only-sawmill-four", "finish")
    assert final.record["because"] == "the owner takes it as it is"


def test_a_head_that_is_refused_ends_with_its_reason_and_the_next_command(tmp_path):
    book = tmp_path / "b.book"
    assert main(["measure", str(FERRY), "survey-1.toml", "--book", str(book)]) == 0
    said, code = talked(FERRY, book, [""])
    end = said[0].rpartition("--- END")[2]
    assert "58 HB, below 65" in end
    assert ".." not in end
    assert "Next: straighten measure hand-it-on-ferry-six survey.toml, once it is hardened anew" in " ".join(
        end.split()
    )
    assert code == 0


def test_a_flame_trial_told_at_the_check_is_kept_in_the_head_file(tmp_path):
    head, book = tmp_path / "pump" / "head.toml", tmp_path / "b.book"
    shutil.copytree(PUMP, head.parent)
    before = head.read_text().split("\n")
    assert main(["measure", str(head), "survey-1.toml", "--book", str(book)]) == 0
    said, _ = talked(head.parent, book, ["crayon 250 C", "crayon 250 C 1.2 s", "crayon 250 C 1.4 s"])
    assert "BEFORE THE CARD: Flame tried" in said[0]
    assert "a crayon and its seconds are due" in said[1]
    assert "The flame trial stands in the head file" in said[2]
    assert "BEFORE THE CARD" not in said[2].rpartition("stands in the head file")[2]
    assert "The head file tells the flame trial" in said[3]
    after = head.read_text().split("\n")
    assert [line for line in after if line not in before] == ['crayon = "250 C"', 'crayon_after = "1.2 s"']
    assert [line for line in after if line in before] == before
    again, _ = talked(head.parent, book, [])  # what is kept is neither asked for again nor taken for a change
    assert "BEFORE THE CARD" not in again[0]
    assert kinds_of(book, "irrigation-pump-four")[-1] == "head"


def test_a_head_file_changed_meanwhile_is_left_alone(tmp_path):
    head, book = tmp_path / "pump" / "head.toml", tmp_path / "b.book"
    shutil.copytree(PUMP, head.parent)
    assert main(["measure", str(head), "survey-1.toml", "--book", str(book)]) == 0
    seat = Seat(["bench", str(head.parent), "--book", str(book), "--no-wait"])
    seat.to_prompt()
    changed = head.read_text() + "# my own note\n"
    head.write_text(changed)
    seat.type("crayon 250 C 1.2 s")
    assert "changed since the session began" in " ".join(seat.to_prompt().split())
    seat.cut_power()
    assert head.read_text() == changed


# ---- a new head in inches


LINE = "b 0 4-6 8 4-6 0"
INTAKE = ("", "n n n", "83 84 86", LINE, "b 0 4-6 20 4-6 0", LINE, "s", "s", "= 4-6 0 0 0 4-6", "", "")
BEFORE = ("again", "", "sure", "", "", "yes")
CLAMPED = (
    "shims 3 mm 4",
    "shims 5, pull 4.47 8.25 12.03",
    "",
    "4-6",
    "skip",
    "the thread felt dry",
    "4-5",
    "yes",
)


@pytest.fixture(scope="module")
def clamped(tmp_path_factory):
    """A new head described, measured, planned and clamped otherwise than on its card, up to the first flame."""
    folder = tmp_path_factory.mktemp("barn")
    here = os.getcwd()  # noqa: PTH109 - the program looks for the head where it is begun
    os.chdir(folder)
    try:
        said, _ = talked("barn", folder / "b.book", [*INCHES, *INTAKE, *BEFORE, *CLAMPED])
    finally:
        os.chdir(here)
    return folder, said


@pytest.mark.slow
def test_a_head_that_nobody_knows_is_described_first(clamped):
    folder, said = clamped
    assert "Nobody knows 'barn' yet" in said[0]
    assert (folder / "barn" / "head.toml").is_file()
    assert "Readings in mm or thou? (Enter = inch" in said[len(INCHES)]


@pytest.mark.slow
def test_a_whole_first_survey_takes_at_most_12_prompts(clamped):
    assert len(INTAKE) <= 12
    assert "VERDICT STRAIGHTEN" in clamped[1][len(INCHES) + len(INTAKE)]


@pytest.mark.slow
def test_the_warning_stands_at_the_check_and_only_its_place_is_read_again(clamped):
    folder, said = clamped
    at = len(INCHES) + len(INTAKE)
    decided = said[at].rpartition("--- CHECK")[2]
    assert "DOES NOT FIT: deck, centre, reading at 8.25 in" in decided
    assert "BEFORE THE CARD: Flame tried with a low crayon" in decided
    assert "Deck, centre, at 8.25 in (209.6 mm): what does it read now?" in said[at + 1]
    assert "Enter says nothing here" in said[at + 2]
    assert "DOES NOT FIT:" not in said[at + 3].rpartition("--- CHECK")[2]
    first, second = (e.record["readings"] for e in entries(folder / "b.book", "barn", "survey"))
    changed = [
        n for n, (one, two) in enumerate(zip(first["lines"], second["lines"], strict=True)) if one != two
    ]
    assert changed == [1]
    assert second["lines"][1]["sure"]


@pytest.mark.slow
def test_a_place_read_anew_replaces_that_reading_alone(clamped, tmp_path):
    folder, _ = clamped
    book = tmp_path / "b.book"
    (survey, *_) = entries(folder / "b.book", "barn", "survey")
    (head, *_) = entries(folder / "b.book", "barn", "head")
    with open_book(book) as fresh:
        fresh.append("barn", "head", head.record)
        fresh.append("barn", "survey", survey.record)
    said, _ = talked("barn", book, ["again", "8-12"])
    assert "DOES NOT FIT" not in said[-1]
    (old, new) = (e.record["readings"]["lines"][1] for e in entries(book, "barn", "survey"))
    assert [a == b for a, b in zip(old["readings"], new["readings"], strict=True)] == [
        True,
        True,
        False,
        True,
        True,
    ]


@pytest.mark.slow
def test_shims_pull_and_the_gap_left_are_taken_as_they_were(clamped):
    folder, said = clamped
    asked = [text for text in said if "Shims laid" in question_of_flat(text)]
    assert "Anything different?" in asked[0]
    assert "2 values after 'shims'" in asked[1]
    (round_one,) = entries(folder / "b.book", "barn", "tighten")
    clamp = round_one.record["setup"]["clamp"]
    assert clamp["shims_mm"] == pytest.approx([0.127] * 4)
    assert "Laid otherwise: front exhaust 5 thou" in " ".join(said)
    assert "SPOT 1 of" in said[-1]


def question_of_flat(text):
    return text.rpartition(" * ")[2]
