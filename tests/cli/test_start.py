"""How a person begins: the program alone, a new head asked for at a terminal in mm or inches, copied, or blank."""

import re
import tomllib

import pytest

from straighten.cli import main
from straighten.desk.starting import QUESTIONS, echo, head_text, next_question, understood
from straighten.errors import BadInput
from straighten.head import head_from_text
from tests.cli.seated import Seat

INCH = 0.0254  # exact, ISO 31-1
# An invented head of a person who works in inches: what can be read off a rule, a bolt and a scale.
INCHES = [
    "inch", "16.5", "5.9", "3.62", "15.2 lb", "4", "5 x 3.78", "7/16-14 8", "5 x 3.75", "steel plate 2.5 x 7 x 20",
    "2x4 4x4 8x4", "1.5 2 3 4 6 8 12", "torch 1", "",
]  # fmt: skip


@pytest.fixture
def here(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("STRAIGHTEN_BOOK", str(tmp_path / "b.book"))
    return tmp_path


def typed(words, lines):
    """Type a line at every prompt; return what was seen, the prompts and the exit code."""
    seat = Seat(words)
    prompts = 0
    for line in lines:
        seat.to_prompt()
        if seat.code is not None:
            break
        prompts += 1
        seat.type(line)
    seat.to_end()
    return " ".join(seat.seen.split()), prompts, seat.code


def test_the_program_alone_says_in_ten_lines_what_to_do_first(capsys):
    assert main([]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert len(lines) == 10
    assert max(map(len, lines)) <= 80
    assert "straighten new my-head" in lines[1]


def test_a_first_time_owner_in_inches_has_a_complete_head_after_14_answers(here):
    seen, prompts, code = typed(["new", "barn-four"], INCHES)
    assert code == 0, seen
    assert prompts == len(INCHES) == 14
    head = head_from_text((here / "barn-four" / "head.toml").read_text(), "barn-four")
    assert head.system == "inch"
    assert head.casting.length == pytest.approx(16.5 * INCH)
    assert [b.station for b in head.bolts if b.side == "inlet"] == pytest.approx(
        [(0.69 + 3.78 * n) * INCH for n in range(5)]
    )
    assert head.towers == pytest.approx([(0.75 + 3.75 * n) * INCH for n in range(5)])
    assert head.gauge_blades[0] == pytest.approx(1.5e-3 * INCH)
    assert [blade.count for blade in head.shim_blades] == [4, 4, 4]
    assert head.torch.radius == pytest.approx(0.5 * INCH)
    assert " mm" not in seen.partition("stop leaves")[2]  # after the first answer inches alone
    survey = (here / "barn-four" / "survey.toml").read_text()
    assert tomllib.loads(survey)["units"] == "inch"


def test_the_bolt_pattern_is_drawn_back_and_can_be_taken_back(here):
    seen, _, code = typed(["new", "h"], [*INCHES[:7], "back", "5 x 3.5 from .8", *INCHES[7:]])
    assert code == 0
    drawings = re.findall(r"front \|([-o]+)\| rear", seen)
    assert [d.count("o") for d in drawings] == [5, 5, 5]
    assert drawings[0] != drawings[1]
    head = head_from_text((here / "h" / "head.toml").read_text(), "h")
    assert min(b.station for b in head.bolts) == pytest.approx(0.8 * INCH)


def test_an_answer_that_means_nothing_is_asked_again_with_an_example(here):
    seen, prompts, code = typed(["new", "h"], ["feet", "inch", "", "long", *INCHES[1:]])
    assert code == 0
    assert prompts == len(INCHES) + 3
    assert "Type mm or inch" in seen
    assert "Type something like 16.5 in" in seen


def test_an_answer_that_fits_no_head_is_asked_again_at_the_end(here):
    """A head hardly longer than wide: a slip of the pen, told when all answers are there, and both are asked anew."""
    answers = [
        "mm",
        "420",
        "300",
        "92",
        "6.9 kg",
        "4",
        "5 x 96",
        "M10 10.9",
        "5 x 95",
        "rigid",
        "0.1",
        "0.05 0.1",
        "",
        "",
    ]
    seen, _, code = typed(["new", "h"], [*answers, "420", "150"])
    assert code == 0
    assert "under 1.5 times the width" in seen
    head = head_from_text((here / "h" / "head.toml").read_text(), "h")
    assert head.casting.width == pytest.approx(0.15)


def test_leaving_early_writes_nothing(here):
    seen, _, code = typed(["new", "h"], ["mm", "420", "stop"])
    assert code == 3
    assert "nothing was written" in seen
    assert not (here / "h").exists()


def test_walls_do_where_the_head_was_not_weighed(here):
    answers = [
        "mm",
        "420",
        "150",
        "92",
        "",
        "10 9 6",
        "4",
        "5 x 96",
        "M10x1.5 10.9",
        "5 x 95",
        "steel plate 60",
        "0.1x2",
        "0.05 0.1",
        "",
        "",
    ]
    seen, _, code = typed(["new", "h"], answers)
    assert code == 0, seen
    casting = head_from_text((here / "h" / "head.toml").read_text(), "h").casting
    assert casting.mass is None
    assert (casting.plates.deck, casting.plates.roof, casting.plates.side_walls) == pytest.approx(
        (0.010, 0.009, 0.006)
    )


def test_a_head_is_copied_under_another_name(here, capsys):
    typed(["new", "barn-four"], INCHES)
    assert main(["new", "second", "--like", "barn-four"]) == 0
    one, two = ((here / name / "head.toml").read_text() for name in ("barn-four", "second"))
    assert two == one.replace('name = "barn-four"', 'name = "second"')
    assert 'head = "second"' in (here / "second" / "survey.toml").read_text()


def test_a_copy_does_not_inherit_what_was_taken_off_the_other_head(here, capsys):
    typed(["new", "barn-four"], INCHES)
    head = here / "barn-four" / "head.toml"
    head.write_text(head.read_text().replace("# [limits]", "[limits]\nremoved_before = 4\n#"))
    assert main(["new", "second", "--like", "barn-four"]) == 0
    assert "the maker's limits first" in " ".join(capsys.readouterr().err.split())
    copy = tomllib.loads((here / "second" / "head.toml").read_text())
    assert copy["limits"] == {}
    assert copy["casting"] == tomllib.loads(head.read_text())["casting"]


def test_a_blank_file_holds_nothing_invented_and_all_that_is_missing_is_named_at_once(here, capsys):
    assert main(["new", "blank"]) == 0
    text = (here / "blank" / "head.toml").read_text()
    assert tomllib.loads(text) == {
        "name": "blank", "units": "mm", "casting": {}, "cam": {}, "bolts": [{}], "base": {}, "shims": {}, "gauge": {},
    }  # fmt: skip
    capsys.readouterr()
    assert main(["measure", "blank"]) == 3
    told = capsys.readouterr().err
    for key in (
        "casting.length",
        "casting.width",
        "casting.height",
        "cam.towers",
        "bolts.1.stations",
        "bolts.1.thread",
        "base.kind",
        "shims.blades",
        "gauge.blades",
    ):
        assert key in told


def test_a_survey_file_is_written_once_the_head_is_known(here, capsys):
    typed(["new", "h"], INCHES)
    (here / "h" / "survey.toml").unlink()
    before = (here / "h" / "head.toml").read_text()
    assert main(["new", "h"]) == 0
    assert (here / "h" / "head.toml").read_text() == before
    assert len(tomllib.loads((here / "h" / "survey.toml").read_text())["deck"]) == 5


@pytest.mark.parametrize("system", ["mm", "inch"])
def test_every_example_is_an_answer(system):
    answers = {"units": system}
    while (question := next_question(answers)) is not None:
        examples = re.split(r", (?:or )?", question.examples[system])
        values = [understood(question, example, answers) for example in examples]
        answers[question.key] = values[0]
        assert all(echo(question, value, answers).count("o") >= 0 for value in values)
    assert set(answers) == {q.key for q in QUESTIONS} - {"walls"} | {"units"}
    head_from_text(head_text("example", answers), "example")


@pytest.mark.parametrize(("key", "line"), [
    ("bolts", "5 x 200"), ("bolts", "18 400 200"), ("bolts", "five"), ("stud", "M10x9 10.9"), ("stud", "M10"),
    ("base", "wood 60"), ("base", "plate"), ("gauge", "0.05"), ("heat", "torch"), ("cylinders", "0"), ("length", "420 kg"),
])  # fmt: skip
def test_what_is_no_answer_is_refused_with_what_to_type(key, line):
    question = next(q for q in QUESTIONS if q.key == key)
    with pytest.raises(BadInput) as fault:
        understood(question, line, {"units": "mm", "length": 0.42})
    assert fault.value.fix


@pytest.mark.parametrize(("system", "line", "example"), [
    ("mm", "M10x1.5", "M10x1.5 10.9"), ("mm", "M10 x 1.5", "M10x1.5 10.9"), ("inch", "7/16-14", "7/16-14 8"),
    ("inch", "1/2 UNF", "7/16-14 8"),
])  # fmt: skip
def test_a_stud_without_its_class_is_told_that_the_class_is_missing(system, line, example):
    question = next(q for q in QUESTIONS if q.key == "stud")
    with pytest.raises(BadInput) as fault:
        understood(question, line, {"units": system})
    assert fault.value.problem == f"the class (grade) is missing behind {line!r}"
    assert fault.value.fix == f"Type both, like {example}."
    assert understood(question, f"{line} {example.split()[-1]}", {"units": system})[1] == example.split()[-1]


@pytest.mark.parametrize("words", [["plan", "--debug", "--json"], ["--debug", "plan", "--json"]])
def test_debug_works_before_and_behind_the_command(words, capsys, here):
    assert main(words) == 0
    assert "verdict" in capsys.readouterr().out
