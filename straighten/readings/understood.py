"""Understand one typed answer, and say it back."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from straighten.errors import BadInput
from straighten.readings.gaps import GapWords, gap_text, read_gap
from straighten.readings.particulars import HARDNESS
from straighten.units import parse, show

if TYPE_CHECKING:
    from collections.abc import Callable

    from straighten.head.records import Head
    from straighten.readings.asked import Asked
    from straighten.units import System

_BLANK = ("", "-", "?", "blank", "skip")
_SKIPPED = ("", "-", "blank", "skip")  # where a life may hang on it, a question mark is no answer
_SEATS = {
    "b": "bridged", "bridged": "bridged", "bridge": "bridged", "ends": "bridged", "rests": "bridged",
    "=": "balanced", "e": "balanced", "balanced": "balanced", "balance": "balanced", "equal": "balanced",
    "r": "rocked", "rocked": "rocked", "rock": "rocked", "rocks": "rocked",
    "s": "skip", "skip": "skip", "": "skip", "-": "skip",
}  # fmt: skip
_YES = ("y", "yes", "found", "true")
_NO = ("n", "no", "none", "none found", "false")


@dataclass(frozen=True, slots=True, kw_only=True)
class Understood:
    """An answer: its key, its value for the tables of a survey file, and how it was understood in words."""

    key: str
    value: object
    echo: str


def understand(asked: Asked, typed: str, head: Head, system: System) -> Understood:
    """Return what an answer means.

    Args:
        asked: the question.
        typed: what was typed.
        head: the head, for blades and heights.
        system: unit system of bare numbers.

    Raises:
        BadInput: it cannot be an answer to that question.
    """
    text = " ".join(typed.strip().split())
    if asked.kind == "gap":
        return _gap(asked, text, head, system)
    value, echo = _READERS[asked.kind](text, head, system)
    return Understood(key=asked.key, value=value, echo=echo)


def _gap(asked: Asked, text: str, head: Head, system: System) -> Understood:
    words = GapWords(system=system, blades=tuple(sorted(head.gauge_blades)), mode=asked.mode)
    bracket = read_gap(text, asked.station, words)
    if bracket.blank:
        return Understood(key=asked.key, value="", echo="blank")
    return Understood(key=asked.key, value=text, echo=gap_text(bracket, system))


def _units(text: str, head: Head, system: System) -> tuple[object, str]:
    del system
    word = text.lower() or head.system
    if word in ("mm", "metric", "millimetres"):
        return "mm", "bare gaps are millimetres"
    if word in ("thou", "inch", "in", "inches", "imperial"):
        return "inch", "bare gaps are thou"
    raise BadInput(f"found {text[:40]!r}", fix='Type "mm" or "thou".')


def _cracks(text: str, head: Head, system: System) -> tuple[object, str]:
    del head, system
    word = text.lower()
    if word in _SKIPPED:
        return "not checked", "not checked for cracks"
    if word in _YES:
        return "found", "cracks found"
    if word in _NO:
        return "none found", "no cracks found"
    if word in ("r", "repaired", "repaired, leak test passed"):
        return "repaired, leak test passed", "crack repaired, leak test passed"
    raise BadInput(f"found {text[:40]!r}", fix="Type y, n, r, or Enter where you have not looked.")


def _yes_no(text: str, head: Head, system: System) -> tuple[object, str]:
    del head, system
    word = text.lower()
    if word in _SKIPPED:
        return "unknown", "not known"
    if word in _YES:
        return "yes", "yes"
    if word in _NO:
        return "no", "no"
    raise BadInput(f"found {text[:40]!r}", fix="Type y, n, or Enter where you have not looked.")


def _seat(text: str, head: Head, system: System) -> tuple[object, str]:
    del head, system
    seat = _SEATS.get(text.lower())
    if seat is None:
        raise BadInput(f"found {text[:40]!r}", fix="Type b (bridged), = (balanced), r (rocked) or s (skip).")
    return seat, "line left out" if seat == "skip" else seat


def _end(text: str, head: Head, system: System) -> tuple[object, str]:
    del head, system
    for end in ("front", "rear"):
        if text and end.startswith(text.lower()):
            return end, f"{end} end touches"
    raise BadInput(f"found {text[:40]!r}", fix="Type front or rear.")


def _hardness(text: str, head: Head, system: System) -> tuple[object, str]:
    del head, system
    if text.lower() in _BLANK:
        return "", "blank"
    try:
        value = float(text.lower().removesuffix("hb").strip().replace(",", "."))
    except ValueError:
        raise BadInput(f"found {text[:40]!r}, a Brinell number is due") from None
    if not HARDNESS[0] <= value <= HARDNESS[1]:
        raise BadInput(
            f"found {value:g}; allowed is {HARDNESS[0]:g} to {HARDNESS[1]:g} HB", fix="Is this another scale?"
        )
    return value, f"{value:g} HB"


def _height(text: str, head: Head, system: System) -> tuple[object, str]:
    if text.lower() in _BLANK:
        return "", "blank"
    value = parse(text, "length", system)
    if abs(value - head.casting.height) > 0.05 * head.casting.height:
        raise BadInput(
            f"found {show(value, system, big=True)}; the head file says {show(head.casting.height, system, big=True)}"
        )
    return f"{value * 1e3:.6g} mm", show(value, system, big=True)


_READERS: dict[str, Callable[[str, Head, System], tuple[object, str]]] = {
    "units": _units,
    "cracks": _cracks,
    "yes or no": _yes_no,
    "magnesium": _yes_no,
    "seat": _seat,
    "end": _end,
    "hardness": _hardness,
    "height": _height,
}
