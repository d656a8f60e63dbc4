"""The walk at the bench: it asks in order, says what it understood, goes back, and ends where a file would."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from straighten.errors import BadInput
from straighten.head import head_from_text, template_head
from straighten.readings import survey_from_text, to_plain
from straighten.readings.dialogue import BOTH_LEFT_OUT, Dialogue, answer, finish, question

HEAD = head_from_text(template_head(), "template")


def walk(*typed: str, head: object = HEAD) -> tuple[Dialogue, list[str]]:
    dialogue, said = Dialogue(head=head), []
    for text in typed:
        dialogue, echo = answer(dialogue, text)
        said.append(echo)
    return dialogue, said


WHOLE = (
    "", "n", "n", "y",
    "82", "", "90 HB",
    "b", "0", ".15", "0.20-0.25", ".15", "",
    "b", "0", "0.18", "0.25", "0.15", "0",
    "s",
    "b", "0.25",
    "=", "0.05", "0.05",
    "=", ".20", ".05", "0", ".05", ".20",
    "92.0", "", "", "", "", "",
)  # fmt: skip

FILE = """
[intake]
cracks = "none found"
magnesium = "no"
skimmed = "yes"
[[deck]]
line = "exhaust edge"
mode = "bridged"
stations = [20, 115, 210, 305, 400]
gaps = [0, 0.15, "0.20-0.25", 0.15, ""]
[[deck]]
line = "centre"
mode = "bridged"
stations = [20, 115, 210, 305, 400]
gaps = [0, 0.18, 0.25, 0.15, 0]
[[deck]]
line = "front exhaust to rear inlet"
mode = "bridged"
gaps = [0.25]
[[deck]]
line = "front inlet to rear exhaust"
mode = "balanced"
stations = [20, 400]
gaps = [0.05, 0.05]
[[cam]]
mode = "balanced"
gaps = [0.20, 0.05, 0, 0.05, 0.20]
[[hardness]]
side = "exhaust"
value = 82
[[hardness]]
side = "inlet"
value = 90
[heights]
front_exhaust = 92.0
"""


def test_a_whole_walk_gives_what_a_file_would() -> None:
    dialogue, _ = walk(*WHOLE)
    assert question(dialogue) is None
    typed, filed = to_plain(finish(dialogue)), to_plain(survey_from_text(FILE, HEAD, "typed in"))
    assert typed == filed


def test_it_asks_in_bench_order_and_how_the_edge_sits_before_any_gap() -> None:
    dialogue, prompts = Dialogue(head=HEAD), []
    for text in WHOLE:
        prompts.append(question(dialogue).prompt)
        dialogue, _ = answer(dialogue, text)
    order = [
        next(i for i, p in enumerate(prompts) if word in p)
        for word in (
            "mm or thou",
            "Cracks",
            "magnesium",
            "Hardness",
            "exhaust edge",
            "Deck, centre",
            "inlet edge",
            "front exhaust to",
            "Cam line",
            "Height",
        )
    ]
    assert order == sorted(order)
    assert "sit" in prompts[7]
    assert "20.0 mm" in prompts[8]


@pytest.mark.parametrize(
    ("typed", "cracks", "magnesium"),
    [
        (("", "y", "done"), "found", "unknown"),
        (("", "r", "done"), "repaired, leak test passed", "unknown"),
        (("", "", "y", "done"), "not checked", "yes"),
        (("", "", "n", "done"), "not checked", "no"),
    ],
)
def test_an_answer_about_the_casting_is_a_survey_by_itself(
    typed: tuple[str, ...], cracks: str, magnesium: str
) -> None:
    intake = finish(walk(*typed)[0]).intake
    assert (intake.cracks, intake.magnesium) == (cracks, magnesium)


def test_it_says_what_it_understood_in_both_units() -> None:
    _, said = walk("", "", "", "", "", "b", "0.10-0.15", "goes .004 in", "", "0")
    assert said[6] == "0.10 mm (4 thou) goes, 0.15 mm (6 thou) does not"
    assert said[7].startswith("0.10 mm (4 thou) goes")
    assert said[8] == "blank"
    assert said[9].startswith("nothing goes")


def test_a_slip_of_the_unit_is_proposed_and_yes_takes_it() -> None:
    dialogue, said = walk("", "", "", "", "", "b", "10")
    assert "Did you mean 10 thou? (yes" in said[-1]
    assert question(dialogue).prompt.endswith("20.0 mm (0.79 in)")  # the same question again
    dialogue, echo = answer(dialogue, "yes")
    assert echo.startswith("0.25 mm (10 thou) goes")
    dialogue, _ = walk("", "", "", "", "", "b", "10")
    dialogue, echo = answer(dialogue, "0.2")
    assert echo.startswith("0.20 mm")


def test_back_goes_back_one_question_at_a_time_to_the_first() -> None:
    dialogue, _ = walk("", "", "", "", "", "b", "0.1")
    dialogue, _ = answer(dialogue, "back")
    assert "20.0 mm" in question(dialogue).prompt
    dialogue, _ = answer(dialogue, "back")
    assert "how does the straightedge sit" in question(dialogue).prompt
    dialogue, _ = answer(dialogue, "=")
    assert "20.0 mm" in question(dialogue).prompt
    for _ in range(10):
        dialogue, echo = answer(dialogue, "back")
    assert echo == "This is the first question."


def test_done_leaves_the_rest_blank() -> None:
    dialogue, _ = walk("", "", "", "", "", "b", "0.1", "0.2", "done")
    assert question(dialogue) is None
    readings = finish(dialogue)
    assert readings.count == 2
    assert len(readings.lines) == 1


def test_a_rocked_line_asks_which_end_touches_and_a_rocked_diagonal_only_its_far_end() -> None:
    dialogue, _ = walk("", "", "", "", "", "s", "s", "s", "r", "rear")
    assert "20.0 mm" in question(dialogue).prompt
    dialogue, _ = answer(dialogue, "0.4")
    (line,) = finish(replace(dialogue, ended=True)).lines
    assert (line.mode, line.touching, len(line.brackets)) == ("rocked", "end", 1)


def test_thou_once_chosen_holds_for_every_gap() -> None:
    dialogue, said = walk("thou", "", "", "", "", "b", "8")
    assert said[0] == "bare gaps are thou"
    assert said[-1].startswith("8 thou (0.20 mm) goes")
    assert finish(replace(dialogue, ended=True)).lines[0].brackets[0].low == pytest.approx(203.2e-6)


def test_two_cams_are_asked_one_after_the_other() -> None:
    dialogue, _ = walk("", "", "", "", "", "s", "s", "s", "s", "s", head=replace(HEAD, cam_lines=2))
    assert question(dialogue).prompt.startswith("Exhaust cam line")


@settings(max_examples=200)
@given(
    st.lists(
        st.one_of(st.text(max_size=12), st.sampled_from([*WHOLE, "back", "yes", "r", "front", "done"])),
        max_size=14,
    )
)
def test_nothing_that_is_typed_breaks_the_walk(typed: list[str]) -> None:
    dialogue, said = walk(*typed)
    assert all(isinstance(echo, str) and echo for echo in said)
    with suppress(BadInput):  # of nothing but blanks there is no survey
        assert finish(dialogue).tells_something


def test_a_walk_of_nothing_but_blanks_is_no_survey() -> None:
    dialogue, _ = walk("", "", "", "", "", "b", "", "", "done")
    with pytest.raises(BadInput, match="typed in: no reading and no finding"):
        finish(dialogue)


def test_a_wrong_answer_is_asked_again_with_what_is_allowed() -> None:
    for typed, allowed in (
        (("cubits",), "mm"),
        (("", "perhaps"), "y, n, r"),
        (("", "", "perhaps"), "y, n"),
        (("", "", "", "perhaps"), "y, n"),
        (("", "", "", "", "", "sideways"), "bridged"),
        (("", "", "", "", "", "r", "left"), "front or rear"),
    ):
        dialogue, said = walk(*typed)
        assert allowed in said[-1]
        assert question(dialogue) == question(walk(*typed[:-1])[0])


def test_hardness_and_height_that_cannot_be_are_asked_again() -> None:
    start = ("", "y n n")
    assert "a Brinell number is due" in walk(*start, "soft")[1][-1]
    assert "another scale" in walk(*start, "350")[1][-1]
    assert "the head file says 92.0 mm" in walk(*start, "", *"ssssss", "29")[1][-1]


def test_hardness_counts_alone_and_all_of_a_part_may_be_typed_at_once() -> None:
    alone = finish(walk("", "", "", "", "83 84 HB 86", "done")[0])
    assert [(h.side, h.value) for h in alone.hardness] == [("exhaust", 83.0), (None, 84.0), ("inlet", 86.0)]
    walked, _ = walk("", "n n y", "", *"ssssss", "92.0 92.1 mm 92.0 92.0 91.9 92.0")
    assert question(walked) is None
    readings = finish(walked)
    assert (readings.intake.magnesium, readings.intake.skimmed) == ("no", "yes")
    assert len(readings.heights) == 6
    assert not readings.hardness
    corners, said = walk("", "", "", "", "83 84", *"ssssss", "92.0 92.1 92.0 92.0")
    assert question(corners) is None
    assert [line for line in said if "the others blank" in line] == [said[4], said[-1]]
    assert len(finish(corners).heights) == 4


def test_what_an_earlier_survey_told_is_not_asked_again() -> None:
    walked = Dialogue(head=HEAD, known=("inch", frozenset({"units", "intake/magnesium", "intake/skimmed"})))
    assert question(walked).prompt.startswith("Cracks")
    for line in ("n", "", "b 0 6 8 6 0", "done"):
        walked, _ = answer(walked, line)
    readings = finish(walked)
    assert readings.system == "inch"
    assert readings.intake.magnesium == "unknown"
    assert readings.lines[0].brackets[2].low == pytest.approx(203.2e-6)


@pytest.mark.parametrize(
    ("known", "asked"), [({"units"}, "Deck, front inlet"), ({"units", BOTH_LEFT_OUT}, "Cam line")]
)
def test_diagonals_that_were_left_out_before_are_left_out_in_one(known: set[str], asked: str) -> None:
    walked = Dialogue(head=HEAD, known=("mm", frozenset({*known, "intake/magnesium", "intake/skimmed"})))
    for line in ("n", "", "s", "s", "s", "s"):
        walked, echo = answer(walked, line)
    assert question(walked).prompt.startswith(asked)
    assert ("both diagonals" in echo) == (asked == "Cam line")
    walked, _ = answer(walked, "back")
    walked, _ = answer(walked, "b 0.25")
    assert question(walked).prompt.startswith("Deck, front inlet")


# --- a line at once --------------------------------------------------------------------------------------------------

ONE_BY_ONE = ("", "n", "n", "n", "", "b", "0", "0.14-0.15", "0.2", "0.14-0.15", "0")
AT_ONCE = ("", "n", "n", "n", "", "b 0 0.14-0.15 0.2 0.14-0.15 0")


def test_a_line_typed_at_once_is_the_line_typed_one_by_one() -> None:
    one, _ = walk(*ONE_BY_ONE, "done")
    for typed in (
        AT_ONCE,
        (*ONE_BY_ONE[:6], "0 0.14-0.15 0.2 0.14-0.15 0"),
        (*AT_ONCE[:5], "b 0 0.14-0.15", "0.2 .14-.15 0"),
    ):
        several, _ = walk(*typed, "done")
        assert finish(several).lines[0].brackets == finish(one).lines[0].brackets


def test_a_line_with_one_answer_too_many_or_wrong_counts_not_at_all() -> None:
    for typed, told in (
        ("b 0 1 1 1 0 0", "6 are due"),
        ("b 0 0.1 long 0.1 0", "answer 4, 'long'"),
        ("x 0 0.1", "answer 1, 'x'"),
    ):
        dialogue, said = walk(*AT_ONCE[:5], typed)
        assert told in said[-1]
        assert dialogue.given == walk(*AT_ONCE[:5])[0].given


def test_fifteen_gaps_and_five_towers_take_at_most_12_prompts_and_the_count_never_grows() -> None:
    """With the intake, hardness, heights, and the question whether they are kept."""
    line = AT_ONCE[-1]
    typed = ["", "n n n", "83 84 86", *[line] * 3, "s", "s", "= 0.25-0.30 0.05 0 0.05 0.25-0.30", ""]
    dialogue, known = Dialogue(head=HEAD), set()
    for line in typed:
        known.add(question(dialogue).known)
        dialogue, _ = answer(dialogue, line)
    assert question(dialogue) is None
    assert finish(dialogue).count == 20
    assert len(typed) + 1 <= 12
    assert len(known) == 1


def test_enter_never_means_that_nothing_goes() -> None:
    dialogue, said = walk(*ONE_BY_ONE[:6], "")
    assert said[-1] == "blank"
    assert dialogue.given[-1].value == ""
