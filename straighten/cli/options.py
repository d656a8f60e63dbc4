"""Options and arguments that several commands share."""

import json
import re
import sys
import textwrap
from pathlib import Path
from typing import Annotated, Any, TextIO

import typer

from straighten.errors import BadInput

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

WIDTH = 80
LEAST_REASON = 8  # letters: "because" is none
LONGEST_REASON = 300
COMMAND = re.compile(r"straighten(?: [^\s,;]+)+")  # as it is to be typed, up to the next comma


def answer(plain: dict[str, Any], text: str, *, as_json: bool) -> None:
    """Print the answer on stdout, as JSON with sorted keys or as text."""
    told = json.dumps(plain, sort_keys=True, indent=2, allow_nan=False) if as_json else text.rstrip("\n")
    typer.echo(spelled(told, sys.stdout))


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
    """Print a message that is not the answer on stderr, folded to 80 columns; no command and no file's name is broken."""
    whole = COMMAND.sub(lambda found: found[0].replace(" ", "\0"), text)
    lines = textwrap.wrap(whole, WIDTH, break_long_words=False, break_on_hyphens=False) or [""]
    typer.echo(spelled("\n".join(lines).replace("\0", " "), sys.stderr), err=True)


def spelled(text: str, stream: TextIO | None) -> str:
    """Return text with what a stream's encoding has no letter for written as an escape.

    An ASCII pipe would otherwise be sent UTF-8, or end the program in the middle of an answer.
    """
    encoding = (
        "ascii" if stream is None else stream.encoding or "ascii"
    )  # none: it was closed before the start
    return text.encode(encoding, "backslashreplace").decode(encoding)
