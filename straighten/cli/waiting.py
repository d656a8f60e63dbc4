"""At a terminal: prompts, the questions about a new head, a bar while the program computes, a count down."""

from __future__ import annotations

import select
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime
from typing import TYPE_CHECKING, Any, Final

import typer

from straighten.cli.options import note, say, spelled
from straighten.errors import BadInput, closed

if TYPE_CHECKING:
    from rich.progress import Progress, ProgressColumn

    from straighten.desk.bench_words import Ask
    from straighten.desk.starting import Question


def typed_at(prompt: str) -> str:
    """Return what was typed at a prompt; the end of input is taken for leaving, Ctrl-C ends the program."""
    try:
        return str(typer.prompt(folded(f"{prompt} >"), default="", show_default=False, prompt_suffix=" "))
    except typer.Abort as left:
        typer.echo("")
        if isinstance(left.__context__, KeyboardInterrupt):
            raise
        return "stop"


def folded(text: str, first: str = "") -> str:
    """Return text folded to the width of a page, lines after a bullet indented."""
    from straighten.sheet.layout import wrap

    return spelled(wrap(text, first, "   " if first else ""), sys.stdout)


Clock = Callable[[], datetime]
TICK = 0.5  # s between two looks at clock and keyboard


@contextmanager
def busy(what: str) -> Iterator[None]:
    """Show on stderr that something is computed, and for how long; nothing where stderr is no terminal."""
    if sys.stderr is None or not sys.stderr.isatty():
        yield
        return
    from rich.progress import TimeElapsedColumn

    with _bar("", TimeElapsedColumn(), stderr=True) as bar:
        bar.add_task(what, total=None)
        yield


def left_to_wait(ask: Ask, clock: Clock) -> float:
    """Return the seconds until a question is due; a clock set back never makes it longer than the whole wait."""
    if not ask.since or not ask.seconds:
        return 0.0
    gone = (clock() - datetime.fromisoformat(ask.since)).total_seconds()
    return min(max(ask.seconds - gone, 0.0), ask.seconds)


def waited(ask: Ask, prompt: str, clock: Clock) -> str:
    """Count down until the question is due, then ask it; a line typed before is returned, Enter only where not strict."""
    while (left := left_to_wait(ask, clock)) > 0:
        typed = _counted_down(ask, clock, left)
        if typed is None:
            break
        if typed.strip() or not ask.strict:
            return typed
        say(f"   not yet: {_clock_text(left_to_wait(ask, clock))} to go; skip asks why.")
    typer.echo("\a   time is up")
    return typed_at(prompt)


def _counted_down(ask: Ask, clock: Clock, whole: float) -> str | None:
    """Show the time left until it is over (None) or a line is typed."""
    with _bar("   ") as bar:
        task = bar.add_task(f"{ask.waiting}: {_clock_text(whole)}", total=whole)
        while (left := left_to_wait(ask, clock)) > 0:
            bar.update(task, completed=whole - left, description=f"{ask.waiting}: {_clock_text(left)}")
            bar.refresh()
            if select.select([sys.stdin], [], [], min(TICK, left))[0]:
                return _line()
    return None


def _line() -> str:
    """Return the line that was typed; the end of input is taken for leaving."""
    typed = sys.stdin.readline()
    return typed.rstrip("\n") if typed else "stop"


def _bar(indent: str, *more: ProgressColumn, stderr: bool = False) -> Progress:
    """Return a bar behind its task; on stderr it moves by itself, and only where that is a terminal."""
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn

    from straighten.sheet.layout import width

    console = Console(stderr=stderr, width=width())
    columns = (TextColumn(indent + "{task.description}"), BarColumn(20), *more)
    hidden = stderr and not console.is_terminal
    return Progress(*columns, console=console, transient=True, auto_refresh=stderr, disable=hidden)


def _clock_text(seconds: float) -> str:
    whole = int(seconds + 0.999)
    hours, rest = divmod(whole, 3600)
    return f"{hours}:{rest // 60:02d}:{rest % 60:02d}" if hours else f"{rest // 60}:{rest % 60:02d}"


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
            say(folded(str(fault), "   "))
            continue
        answers[question.key] = value
        for line in filter(None, echo(question, value, answers).split("\n")):
            say(folded(line.strip(), "   "))
        return


def _typed(prompt: str) -> str:
    typed = typed_at(prompt)
    if typed.strip().lower() in ("stop", "quit", "exit"):
        raise BadInput("left before the last question, nothing was written", where="new")
    return typed
