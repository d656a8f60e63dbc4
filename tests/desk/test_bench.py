"""The guided session as a state machine: the entries alone say what comes next."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from straighten.book import open_book
from straighten.clamp.tightening_log import Reading, Weighed
from straighten.cli.terminal import left_to_wait
from straighten.desk.bench import keep_answer, keep_result, standing
from straighten.desk.bench_words import Ask, Work
from straighten.desk.dossier import default_dossier
from straighten.desk.job import Job
from straighten.desk.kept import (
    keep_head,
    record,
    record_card,
    record_survey,
    reread,
    tightening_to_plain,
)
from straighten.desk.logging import with_its_load
from straighten.desk.planning import plan_card
from straighten.readings import dialogue

START = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
OWN = default_dossier()


class Session:
    """A book whose clock goes a minute per entry, and a person who types."""

    def __init__(self, path):
        self.now = START
        self.book = open_book(path, clock=self.tick)
        self.dossier = replace(OWN, surveys=(None,), told=())
        keep_head(self.book, self.dossier)

    def tick(self):
        self.now += timedelta(minutes=1)
        return self.now

    @property
    def stands(self):
        self.dossier = reread(self.book, self.dossier)
        return standing(self.book.entries(OWN.name, struck=True), self.dossier)

    @property
    def step(self):
        return self.stands.step

    def type(self, *lines):
        for line in lines:
            stands = self.stands
            keep_answer(self.book, self.dossier, (stands.step.key, stands.system), line)
        return self.step

    def hold(self):
        """Log one round that reaches the gap, as the command `tighten` does, with what it said."""
        rounds = (Reading(torque=17.0, goes=0.0, does_not=4e-5),)
        record(self.book, self.dossier, "tighten", tightening_to_plain(PLANNED.setup, rounds, None))
        self.told("hold: gap reached")

    def told(self, verdict):
        told = {"verdict": verdict, "words": "in words", "next_torque_Nm": None}
        keep_result(self.book, self.dossier, "round/1/1", told)


PLANNED = plan_card(Job(OWN), START)


@pytest.fixture
def session(tmp_path):
    made = Session(tmp_path / "b.book")
    yield made
    made.book.close()


@pytest.fixture
def clamped(session):
    """A head measured, planned, its gap reached: before the heat."""
    record_survey(session.book, session.dossier, OWN.survey)
    record_card(session.book, reread(session.book, session.dossier), PLANNED)
    assert session.step.key == "pass/1/read"
    session.hold()
    return session


def spots():
    return len(PLANNED.setup.spots)


def finished(head, lines):
    walk = dialogue.Dialogue(head=head)
    for line in lines:
        walk, _ = dialogue.answer(walk, line)
    return dialogue.finish(walk)


def heated(session, held=()):
    """Type through the heat; `held` answers for the first spots, Enter for the others."""
    session.type("yes")
    for number in range(spots()):
        if session.step.key.endswith("/gap"):
            session.type("skip")
        session.type("on", held[number] if number < len(held) else "")
    if isinstance(session.step, Ask) and session.step.key.endswith("/gap"):
        session.type("skip")
    return session.step


def test_a_new_head_is_measured_first(session):
    assert session.step.key == "survey/0/units"


def test_a_finished_walk_is_work_and_stays_work_until_it_is_entered(session):
    session.type("mm", "n", "n", "n", "", "b", "0", "0.12", "0.2", "0.12", "0", "done")
    assert session.step.key == "survey/0/keep"
    work = session.type("")
    assert (work.deed, work.readings.count) == ("survey", 5)
    assert session.step == work
    record_survey(session.book, session.dossier, work.readings)
    assert session.step == Work(deed="check", key="check/0")


@settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.lists(
        st.sampled_from(
            ["", "b", "=", "r", "s", "0.1", "10", "yes", "0.10-0.12", "no", "back", "units", "skip", "x"]
        ),
        max_size=14,
    )
)
def test_whatever_is_typed_it_can_be_taken_back_to_the_first_question(tmp_path_factory, lines):
    made = Session(tmp_path_factory.mktemp("s") / "b.book")
    try:
        for line in lines:
            if isinstance(made.step, Ask):
                made.type(line)
        for _ in range(len(lines) + 1):
            made.type("back")
        assert made.step.key == "survey/0/units"
        assert not made.stands.can_go_back
    finally:
        made.book.close()


def test_back_then_the_same_answer_leads_to_the_same_question(session):
    session.type("mm", "n n y", "", "b")
    before = session.step
    session.type("back", "b")
    assert session.step == before


def test_an_answer_to_a_question_that_is_no_more_is_left_out(session):
    session.type("mm")
    gone = ("survey/0/deck:centre/at 0.999000", "mm")  # a station that the head file no longer has
    assert session.step.key == "survey/0/intake/cracks"
    keep_answer(session.book, session.dossier, gone, "0.5")
    session.type("n")
    assert session.step.key == "survey/0/intake/magnesium"


def test_two_sessions_do_not_write_over_each_other(session):
    from straighten.errors import BookError

    stands = session.stands
    stale = session.dossier
    session.type("mm")
    with pytest.raises(BookError):
        keep_answer(session.book, stale, (stands.step.key, "mm"), "thou")


def test_units_change_what_bare_numbers_mean_only_from_then_on(clamped):
    assert clamped.stands.system == OWN.head.system
    clamped.type("units")
    assert clamped.stands.system == "inch"


def test_enter_starts_no_clock_and_says_nothing_of_a_blade(clamped):
    """A key pressed by a sleeve is no flame and no reading."""
    assert clamped.type("yes").key == "heat/1/spot/1/light"
    assert "No clock runs yet" in clamped.type("").echo
    assert clamped.step.key == "heat/1/spot/1/light"
    assert clamped.type("on").key == "heat/1/spot/1/held"


def test_the_gap_reached_leads_to_the_cautions_which_are_not_passed_with_enter(clamped):
    assert clamped.step.key == "heat/1/ready"
    for line in ("", "skip", "y"):
        assert clamped.type(line).key == "heat/1/ready"
    assert clamped.type("yes").key == "heat/1/spot/1/light"


def test_a_stop_while_tightening_takes_a_reason(clamped):
    clamped.told("stop: bolt near proof")
    assert clamped.step.key == "clamp/1/stop/1"
    assert clamped.type("no").key == "clamp/1/stop/1"
    assert clamped.type("the gap is near enough").key == "clamp/1/left"
    assert clamped.type("").key == "heat/1/ready"


def test_over_the_most_torque_there_is_no_way_to_the_heat(clamped):
    clamped.told("stop: over the most torque")
    assert clamped.step.key == "clamp/1/over/1"
    for word in ("", "yes", "skip", "the gap is fine and the bolts are new ones"):
        assert clamped.type(word).key == "clamp/1/over/1"
    work = clamped.type("anew")
    assert (work.deed, work.rounds) == ("tighten", ())


def test_a_mistyped_torque_over_the_cap_is_taken_back(clamped):
    clamped.told("stop: over the most torque")
    work = clamped.type("back")
    assert (work.deed, work.rounds) == ("tighten", ())


def test_the_heat_without_a_gap_reached_takes_a_reason(clamped):
    clamped.told("go on")
    assert clamped.step.key == "round/1/2/torque"
    assert clamped.type("skip").key == "round/1/2/untold"
    assert clamped.type("wrench broke, gap seen by eye").key == "clamp/1/left"
    assert clamped.type("").key == "heat/1/ready"


def test_torques_must_rise_and_blades_must_fit(clamped):
    clamped.told("go on")
    echo = clamped.type("12 Nm").echo
    assert "harder than the one before" in echo
    assert "back takes the round before back" in echo
    assert clamped.type("20 Nm").key == "round/1/2/goes"
    assert clamped.type("0.1").key == "round/1/2/stops"
    assert "thicker" in clamped.type("0.05").echo
    assert "Did you mean 5 thou" in clamped.type("5").echo
    work = clamped.type("0.12")
    assert work.deed == "tighten"
    assert [r.torque for r in work.rounds] == [17.0, 20.0]


def test_back_over_a_round_withdraws_it(clamped):
    work = clamped.type("back")
    assert (work.deed, work.rounds) == ("tighten", ())


def test_a_load_in_the_book_goes_on_with_the_session_until_its_round_is_taken_back(clamped):
    rounds = tuple(Reading(torque=t, goes=1e-4, does_not=1.2e-4) for t in (9.0, 12.0, 15.0))
    weighed = Weighed(load=20e3, doubt=1e3, after=2)
    record(clamped.book, clamped.dossier, "tighten", tightening_to_plain(PLANNED.setup, rounds, weighed))
    dossier = reread(clamped.book, clamped.dossier)
    more = (*rounds, Reading(torque=17.0, goes=0.0, does_not=4e-5))
    assert with_its_load(dossier, more).load == weighed
    assert with_its_load(dossier, rounds[:2]).load == weighed
    assert with_its_load(dossier, rounds[:1]).load is None


def test_flame_time_is_counted_from_the_answer_in_the_book(clamped):
    clamped.type("yes", "on")
    ask = clamped.step
    assert ask.key == "heat/1/spot/1/held"
    assert ask.seconds == PLANNED.setup.spots[0].dwell
    lit = datetime.fromisoformat(ask.since)
    assert left_to_wait(ask, lambda: lit + timedelta(seconds=2)) == pytest.approx(ask.seconds - 2)
    assert left_to_wait(ask, lambda: lit + timedelta(hours=1)) == 0
    assert left_to_wait(ask, lambda: lit - timedelta(days=1)) == ask.seconds  # a clock set back


def test_what_was_done_is_logged_not_what_was_planned(clamped):
    heated(clamped, held=("6 s", "skip"))
    clamped.type("")
    work = clamped.type("n", "", "b", "0", "0.1", "0.12", "0.1", "0", "done", "")
    assert work.deed == "pass"
    assert len(work.setup.spots) == spots() - 1
    assert work.setup.spots[0].dwell == 6.0
    assert work.setup.clamp == PLANNED.setup.clamp


def test_readings_that_equal_those_before_the_pass_are_asked_about(clamped):
    """Not a key to press in passing: the next plan would learn that the heat did nothing."""
    survey = ("n", "", "b", "0", "0.1", "0.12", "0.1", "0", "done", "")
    first = ("mm", "n", "n", "n", *survey[1:-1])
    bent = replace(clamped.dossier, surveys=(finished(clamped.dossier.head, first),))
    record_survey(clamped.book, clamped.dossier, bent.survey)
    record_card(clamped.book, reread(clamped.book, clamped.dossier), PLANNED)
    clamped.hold()
    heated(clamped)
    clamped.type("")
    assert clamped.type(*survey).key == "survey/1/same"
    assert clamped.type("").key == "survey/1/same"
    assert clamped.type("yes").deed == "pass"


def test_once_heated_the_pass_in_hand_stays_until_it_is_logged(clamped):
    clamped.type("yes", "on")
    record_survey(clamped.book, clamped.dossier, OWN.survey)
    record_card(clamped.book, reread(clamped.book, clamped.dossier), PLANNED)
    assert clamped.step.key == "heat/1/spot/1/held"


def test_release_and_reading_wait_for_the_metal(clamped):
    ask = heated(clamped)
    assert (ask.key, ask.strict) == ("cool/1/release", True)
    assert ask.seconds == pytest.approx(PLANNED.printed.unclamp_wait, rel=1e-4)
    early = clamped.type("skip")
    assert early.key == "cool/1/release/early"
    assert clamped.type("back").key == "cool/1/release"
    assert clamped.type("skip", "the boss waits outside").key == "cool/1/honest"
    assert clamped.type("back", "back").key == "cool/1/release"
    assert clamped.type("").key == "survey/1/intake/cracks"  # the same wait: not asked twice


def test_a_struck_survey_is_measured_again(clamped):
    survey = next(e for e in clamped.book.entries(OWN.name, "survey"))
    plan = next(e for e in clamped.book.entries(OWN.name, "plan"))
    clamped.book.strike(plan.number, "planned on a wrong survey")
    clamped.book.strike(survey.number, "read at the wrong end")
    assert clamped.step.key == "survey/0/units"


ON = 'straighten plan pump-four --because "..."'


def decided(session, choice, go_on):
    record_survey(session.book, session.dossier, OWN.survey)
    keep_result(session.book, session.dossier, "check/0", {})
    plain = {"choice": choice, "go_on": go_on, "reason": "because", "options": [], "prices": []}
    record(session.book, reread(session.book, session.dossier), "decision", plain)
    return session.step


def test_past_advice_against_heat_only_with_a_reason(session):
    assert "No pass is advised" in decided(session, "hand it on", ON).prompt
    assert session.type("").last
    assert session.type("back").key == "decide/0/next"
    assert session.type("heat").key == "decide/0/reason"
    assert session.type("short").key == "decide/0/reason"
    work = session.type("the owner wants it tried once more")
    assert (work.deed, work.because) == ("plan", "the owner wants it tried once more")


@pytest.mark.parametrize(
    ("choice", "deed"), [("sand now", "strokes"), ("finish", "list"), ("hand it on", "")]
)
def test_a_decision_leads_on_to_what_is_next_and_offers_no_heat_that_no_reason_opens(session, choice, deed):
    assert "heat" not in decided(session, choice, "").hint
    assert session.type("heat").key == "decide/0/next"
    step = session.type("")
    assert step.deed == deed if deed else step.last


@pytest.mark.parametrize(
    ("typed", "cracks", "magnesium"), [(("y",), "found", "unknown"), (("", "y"), "not checked", "yes")]
)
def test_an_answer_that_ends_the_job_is_kept_alone(session, typed, cracks, magnesium):
    work = session.type("mm", *typed, "done", "")
    assert work.deed == "survey"
    assert (work.readings.intake.cracks, work.readings.intake.magnesium) == (cracks, magnesium)
    record_survey(session.book, session.dossier, work.readings)
    assert session.step == Work(deed="check", key="check/0")
