"""Options and arguments that several commands share."""

import json
import os
import re
import sys
import textwrap
from datetime import datetime
from pathlib import Path
from typing import Annotated, Any, TextIO

import typer

from straighten.errors import BadInput, printable

Name = Annotated[
    str, typer.Argument(metavar="NAME", help="Head: a name, a folder with head.toml, or a head file.")
]
MaybeName = Annotated[
    str | None,
    typer.Argument(metavar="NAME", help="Head; left out: an invented one that comes with the program."),
]
BookOption = Annotated[
    Path | None,
    typer.Option("--book", metavar="FILE", help="The shop's book; default see `straighten where`."),
]
Json = Annotated[bool, typer.Option("--json", help="Print one JSON object instead of text.")]

Because = Annotated[
    str,
    typer.Option(
        "--because", metavar="REASON", help="Your reason to go past what is advised against; it is recorded."
    ),
]

Force = Annotated[bool, typer.Option("--force", help="Write over a file that is there.")]

LEAST_REASON = 8  # letters: "because" is none
LONGEST_REASON = 300
COMMAND = re.compile(r"straighten(?: [^\s,;]+)+")  # as it is to be typed, up to the next comma


def answer(plain: dict[str, Any], text: str, *, as_json: bool) -> None:
    """Print the answer on stdout, as JSON with sorted keys or as text."""
    say(json.dumps(plain, sort_keys=True, indent=2, allow_nan=False) if as_json else text.rstrip("\n"))


def say(text: str, *, end: bool = True) -> None:
    """Print a text on stdout; the only other ways to the screen are `note` and a prompt, and all go through `spelled`."""
    typer.echo(spelled(text, sys.stdout), nl=end)


def reasoned(text: str) -> str:
    """Return a reason as typed, or "" where none was.

    Raises:
        BadInput: too short to be one, or longer than a line of the card.
    """
    reason = " ".join(text.split())
    if reason and (sum(letter.isalpha() for letter in reason) < LEAST_REASON or len(reason) > LONGEST_REASON):
        raise BadInput(
            f"{reason[:40]!r} is no reason",
            where="--because",
            fix=f"Say in a few words why it goes on all the same, at most {LONGEST_REASON} letters.",
        )
    return reason


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


def now() -> datetime:
    """Return the bench clock with its zone.

    Raises:
        BadInput: the zone that the environment names is none.
    """
    try:
        return datetime.now().astimezone()
    except (ValueError, OverflowError, OSError):
        raise BadInput(
            f"{os.environ.get('TZ', '')[:40]!r} is no time zone",
            where="TZ",
            fix="Set it to one, for example Europe/Lisbon, or unset it.",
        ) from None
