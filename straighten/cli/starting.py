"""The first words of the program, and the questions about a new head at a terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from straighten.cli.options import note, say
from straighten.cli.waiting import typed_at
from straighten.errors import BadInput, closed

if TYPE_CHECKING:
    from straighten.desk.starting import Question

START: Final = """\
Straightens a bowed aluminium cylinder head: plans, prints and learns. First:
 1  straighten new my-head    asks what you know of the head, in mm or inches
 2  straighten bench my-head  leads through the job, one question at a time:
                              measure, check, clamp, heat, cool, sand, close
Or step by step, each explained by --help: measure, check, plan, sheet, tighten,
stage, log, decide, sand, finish.
Leave at any prompt with stop; the job goes on there.
Have ready: straightedge, feeler blades, flat base with studs, crack test,
and the maker's limits for deck and cam line. Magnesium or a crack: no heat.
Every command: straighten --help"""


def asked_head(name: str) -> str:
    """Ask about a head until its file is complete and makes sense, and return the file's text.

    Raises:
        BadInput: the person leaves before the end; nothing is written.
    """
    from straighten.desk.starting import asked_again, head_text, next_question
    from straighten.head import head_from_text

    answers: dict[str, Any] = {"units": _units()}
    note(
        "Enter an answer to each; back returns to the one before, stop leaves. Nothing is written before the last."
    )
    while True:
        question = next_question(answers)
        if question is not None:
            _answered(question, answers)
            continue
        text = head_text(name, answers)
        try:
            head_from_text(text, "")
        except BadInput as fault:
            again = asked_again(fault)
            if not again:
                raise
            say(f"   {closed(fault.problem)} {fault.fix}")
            for key in again:
                answers.pop(key, None)
        else:
            return text


def _units() -> Any:
    from straighten.desk.starting import system_told

    while True:
        typed = _typed("Do you work in mm or in inches? (mm or inch)")
        try:
            return system_told(typed)
        except BadInput as fault:
            say(f"   {fault}")


def _answered(question: Question, answers: dict[str, Any]) -> None:
    """Ask one question until its answer means something, or go back by one."""
    from straighten.desk.starting import echo, understood

    while True:
        typed = _typed(question.prompt(answers["units"]))
        if typed.strip().lower() == "back":
            if len(answers) > 1:
                answers.popitem()
            return
        try:
            value = understood(question, typed, answers)
        except BadInput as fault:
            say(f"   {fault}")
            continue
        answers[question.key] = value
        if told := echo(question, value, answers):
            say(f"   {told}")
        return


def _typed(prompt: str) -> str:
    typed = typed_at(prompt)
    if typed.strip().lower() in ("stop", "quit", "exit"):
        raise BadInput("left before the last question, nothing was written", where="new")
    return typed
