"""The guided session between the stages of one clamping: the gap under the middle, read with slack nuts."""

from straighten.desk.bench import perform
from straighten.desk.kept import rungs_of
from straighten.sheet.card_words import if_words
from tests.desk.test_bench import OWN, PLANNED, START, clamped, session  # noqa: F401 - the fixtures


def in_first_stage(clamped):  # noqa: F811
    clamped.type("yes")
    while not clamped.step.key.endswith("/gap"):
        clamped.type("on" if clamped.step.key.endswith("/light") else "")


def test_after_the_first_stage_the_gap_is_asked_and_read_as_the_command_reads_it(clamped):  # noqa: F811
    in_first_stage(clamped)
    stages = PLANNED.stages
    rung = PLANNED.printed.ladder[0]
    assert clamped.step.key == "heat/1/stage/1/gap"
    assert clamped.step.seconds == PLANNED.printed.stage_wait > 0
    assert "gap is due" in clamped.type("-").echo
    goes = next(line.goes for line in rung.lines if line.do == 2)  # the gap at which the card goes on
    work = clamped.type(f"{1e3 * goes:.2f}-{1e3 * rung.stops:.2f}")
    assert (work.deed, len(work.setup.spots)) == ("stage", stages.ends[0])
    told = perform(clamped.book, clamped.dossier, work, (START, "mm"))
    assert "Next: stage 2" in told
    assert clamped.step.key == "heat/1/stage/2/tighten"
    assert clamped.type("").key == "heat/1/ready/2"
    assert clamped.type("yes").key == f"heat/1/spot/{rung.places[-1] + 1}/light"
    while not clamped.step.key.endswith("/gap"):
        clamped.type("on" if clamped.step.key.endswith("/light") else "")
    (now, *_) = rungs_of(clamped.book.latest(OWN.name, "stage").record["ladder"])
    assert now.number == 2
    assert clamped.step.shown[2:] == tuple(if_words(now, "mm"))  # of this head now, not of the card


def test_a_gap_no_head_gives_is_asked_for_once_more_and_then_it_is_released(clamped):  # noqa: F811
    in_first_stage(clamped)
    perform(clamped.book, clamped.dossier, clamped.type("0.90"), (START, "mm"))
    assert clamped.step.key == "heat/1/stage/1/again"
    perform(clamped.book, clamped.dossier, clamped.type("0.90"), (START, "mm"))
    assert clamped.step.key == "cool/1/release"
    assert "as odd twice" in clamped.step.shown[0]
