"""Plain text folded to the screen, 80 columns where there is none: wrapping and titled blocks."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable
from contextvars import ContextVar

from straighten.units import FOOT_POUND, POUND_FORCE, System, show, show_range

_NO_SCREEN = 80
_NARROWEST, _WIDEST = 60, 120
_columns: ContextVar[int] = ContextVar("columns", default=_NO_SCREEN)


def fold_to(columns: int | None) -> None:
    """Fold what follows to the width of a screen, within what can be read; None where there is no screen."""
    _columns.set(_NO_SCREEN if not columns else min(max(columns, _NARROWEST), _WIDEST))


def width() -> int:
    """Return the columns that text is folded to."""
    return _columns.get()


def wrap(text: str, first: str = "", rest: str = "") -> str:
    """Return text folded to the width, the first line and the following ones indented."""
    return textwrap.fill(
        text,
        width(),
        initial_indent=first,
        subsequent_indent=rest or first,
        break_long_words=False,
        break_on_hyphens=False,
    )


def block(title: str, lines: Iterable[str]) -> str:
    """Return a titled list, or nothing where it is empty."""
    body = [wrap(line, " - ", "   ") for line in lines if line]
    return "\n".join([title, *body]) if body else ""


def page(*blocks: str) -> str:
    """Return blocks set apart by blank lines."""
    return "\n\n".join(part for part in blocks if part) + "\n"


def past_advice(go_on: str) -> str:
    """Return the command that goes past the advice, in a sentence; nothing where there is none."""
    return wrap(f"To go on all the same, with your reason: {go_on}") if go_on else ""


def with_range(middle: float, low: float, high: float, system: System) -> str:
    """Return a length [m] with the range that holds 8 times in 10."""
    return f"{show(middle, system)}, range {show_range(low, high, system)}"


def blades_read(goes: float, stops: float | None, system: System) -> str:
    """Return a gap as read: the blade that goes, and the one that does not, None where every blade went [m]."""
    found = f"{show(goes, system)} goes" if goes > 0 else "no blade goes"
    return found if stops is None else f"{found}, {show(stops, system)} does not"


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


def show_torques(low: float, high: float, system: System = "mm") -> str:
    """Print a range of torques [N m].

    Example:
        >>> show_torques(14.0, 20.0, "inch")
        '10 to 15 ft-lb (14 to 20 Nm)'
    """
    metric = f"{low:.0f} to {high:.0f} Nm"
    inch = f"{low / FOOT_POUND:.0f} to {high / FOOT_POUND:.0f} ft-lb"
    return metric if system == "mm" else f"{inch} ({metric})"


def show_force(*forces: float, system: System = "mm") -> str:
    """Print one force, or a range of two, more coarsely [N].

    Example:
        >>> show_force(8e3, 12e3), show_force(8e3, 12e3, system="inch"), show_force(8e3)
        ('8 to 12 kN', '1800 to 2700 lbf (8 to 12 kN)', '8.0 kN')
    """
    digits, step = (1, 10) if len(forces) == 1 else (0, 100)
    metric = f"{' to '.join(f'{force / 1e3:.{digits}f}' for force in forces)} kN"
    pounds = " to ".join(f"{step * round(force / POUND_FORCE / step)}" for force in forces)
    return metric if system == "mm" else f"{pounds} lbf ({metric})"
