"""How the guided session speaks at a terminal: folded to 80 columns, one prompt at a time."""

import sys

import typer

from straighten.cli.options import spelled


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
