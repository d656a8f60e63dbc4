"""Options and arguments that several commands share."""

import json
from pathlib import Path
from typing import Annotated, Any

import typer

Name = Annotated[
    str, typer.Argument(metavar="NAME", help="Head: a name, a folder with head.toml, or a head file.")
]
BookOption = Annotated[
    Path | None,
    typer.Option("--book", metavar="FILE", help="The shop's book; default see `straighten where`."),
]
Json = Annotated[bool, typer.Option("--json", help="Print one JSON object instead of text.")]


def answer(plain: dict[str, Any], text: str, *, as_json: bool) -> None:
    """Print the answer on stdout, as JSON with sorted keys or as text."""
    typer.echo(json.dumps(plain, sort_keys=True, indent=2, allow_nan=False) if as_json else text.rstrip("\n"))


def note(text: str) -> None:
    """Print a message that is not the answer on stderr."""
    typer.echo(text, err=True)
