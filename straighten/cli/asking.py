"""How the guided session speaks at a terminal: folded to 80 columns, one prompt at a time."""

import typer


def typed_at(prompt: str) -> str:
    """Return what was typed at a prompt; the end of input is taken for leaving."""
    try:
        return str(typer.prompt(folded(f"{prompt} >"), default="", show_default=False, prompt_suffix=" "))
    except typer.Abort:
        typer.echo("")
        return "stop"


def folded(text: str, first: str = "") -> str:
    """Return text folded to the width of a page, lines after a bullet indented."""
    from straighten.sheet.layout import wrap

    return wrap(text, first, "   " if first else "")
