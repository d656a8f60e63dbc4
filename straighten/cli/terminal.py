"""The terminal: answers and notes printed, prompts, a bar while the program computes, a count down."""

from __future__ import annotations

import json
import re
import select
import sys
import textwrap
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime
from typing import TYPE_CHECKING, Any, TextIO

import typer

from straighten.errors import printable

if TYPE_CHECKING:
    from rich.progress import Progress, ProgressColumn

    from straighten.desk.bench_words import Ask

COMMAND = re.compile(r"straighten(?: [^\s,;]+)+")  # as it is to be typed, up to the next comma


def answer(plain: dict[str, Any], text: str, *, as_json: bool) -> None:
    """Print the answer on stdout, as JSON with sorted keys or as text."""
    say(json.dumps(plain, sort_keys=True, indent=2, allow_nan=False) if as_json else text.rstrip("\n"))


def say(text: str, *, end: bool = True) -> None:
    """Print a text on stdout; the only other ways to the screen are `note` and a prompt, and all go through `spelled`."""
    typer.echo(spelled(text, sys.stdout), nl=end)


def note(text: str) -> None:
    """Print a message that is not the answer on stderr, folded as the answer is; no command and no file's name is broken."""
    from straighten.sheet.layout import width

    whole = COMMAND.sub(lambda found: found[0].replace(" ", "\0"), text)
    lines = textwrap.wrap(whole, width(), break_long_words=False, break_on_hyphens=False) or [""]
    typer.echo(spelled("\n".join(lines).replace("\0", " "), sys.stderr), err=True)


def spelled(text: str, stream: TextIO | None) -> str:
    """Return text as it may reach a screen: control and direction characters from a file are shown as escapes.

    What a stream's encoding has no letter for stands as an escape too: an ASCII pipe would otherwise be sent UTF-8, or end
    the program in the middle of an answer.
    """
    encoding = (
        "ascii" if stream is None else stream.encoding or "ascii"
    )  # none: it was closed before the start
    tame = "\n".join(line if line.isprintable() else printable(line) for line in text.split("\n"))
    return tame.encode(encoding, "backslashreplace").decode(encoding)


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
