"""Plain text in 80 columns: wrapping and titled blocks."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable

from straighten.units import System, show, show_range

WIDTH = 80


def wrap(text: str, first: str = "", rest: str = "") -> str:
    """Return text folded to the width, the first line and the following ones indented."""
    return textwrap.fill(
        text,
        WIDTH,
        initial_indent=first,
        subsequent_indent=rest or first,
        break_long_words=False,
        break_on_hyphens=False,
    )


def block(title: str, lines: Iterable[str]) -> str:
    """Return a titled list, or nothing where it is empty."""
    body = [wrap(line, " - ", "   ") for line in lines if line]
    return "\n".join([title, *body]) if body else ""


def page(blocks: Iterable[str]) -> str:
    """Return blocks set apart by blank lines."""
    return "\n\n".join(part for part in blocks if part) + "\n"


def past_advice(go_on: str) -> str:
    """Return the command that goes past the advice, in a sentence; nothing where there is none."""
    return wrap(f"To go on all the same, with your reason: {go_on}") if go_on else ""


def with_range(middle: float, low: float, high: float, system: System) -> str:
    """Return a length [m] with the range that holds 8 times in 10."""
    return f"{show(middle, system)}, range {show_range(low, high, system)}"


def percent(chance: float) -> str:
    """Return a probability as no finer a figure than it deserves."""
    if chance < 0.01:
        return "under 1 %"
    return "over 99 %" if chance > 0.99 else f"{100 * chance:.0f} %"


def show_pause(seconds: float) -> str:
    """Return a pause as it is counted beside the torch.

    Example:
        >>> show_pause(60.0), show_pause(600.0)
        ('60 s', '10 min')
    """
    return f"{seconds:.0f} s" if seconds < 120 else f"{seconds / 60:.0f} min"
