"""The usual places to read, in bench order, rounded to what a steel rule shows."""

from __future__ import annotations

from typing import TYPE_CHECKING

from straighten.units import INCH, System

if TYPE_CHECKING:
    from straighten.head.records import Head

LONG_LINES = ("exhaust edge", "centre", "inlet edge")
DIAGONALS = ("front exhaust to rear inlet", "front inlet to rear exhaust")
_SHARES = (0.05, 0.275, 0.5, 0.725, 0.95)


def rule_mark(length: float, system: System) -> float:
    """Return the nearest mark of a steel rule [m]: 5 mm or an eighth of an inch."""
    step = 5e-3 if system == "mm" else INCH / 8
    return round(length / step) * step


def deck_stations(head: Head) -> tuple[float, ...]:
    """Return five stations along the deck [m]: both ends, the quarters, the middle exactly."""
    length = head.casting.length
    return tuple(length / 2 if share == 0.5 else rule_mark(share * length, head.system) for share in _SHARES)


def rule_text(length: float, system: System) -> str:
    """Return a station in the person's unit as a bare number.

    Example:
        >>> rule_text(0.210, "mm"), rule_text(0.1016, "inch")
        ('210', '4')
    """
    return f"{length * 1e3:.4g}" if system == "mm" else f"{length / INCH:.4g}"
