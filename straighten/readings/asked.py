"""What is asked in a survey, in bench order, and what a typed answer means."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from straighten.errors import BadInput
from straighten.readings.gaps import GapWords, gap_text, likely_gap, read_gap
from straighten.readings.names import deck_stations
from straighten.readings.particulars import HARDNESS
from straighten.readings.records import DIAGONALS, LONG_LINES, RIM, cam_title, cams_of
from straighten.units import parse, show

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping

    from straighten.head.records import Head
    from straighten.readings.records import Mode
    from straighten.units import System


Kind = Literal["units", "yes or no", "cracks", "magnesium", "seat", "end", "gap", "hardness", "height"]

_GAP_HINT = (
    'largest blade that goes, or "0.10-0.15", "stops 0.05", "4 thou"; 0 = nothing goes; Enter = blank; back'
)
_SEAT_HINT = (
    "b = bridged, rests on both ends; = balanced, same blade at both ends; r = rocked, one end down; s = skip"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """One question: its key in the answers, kind, prompt, hint; mode and station of a gap [m]."""

    key: str
    kind: Kind
    prompt: str
    hint: str
    mode: Mode = "bridged"
    station: float = 0.0

    def likely(self, typed: str, head: Head, system: System) -> str:
        """Return what a refused answer was likely to mean; "" where nothing fits."""
        if self.kind != "gap":
            return ""
        return likely_gap(typed, GapWords(system=system, blades=head.gauge_blades, mode=self.mode))


def asked_of(head: Head, given: Mapping[str, object], system: System) -> Iterator[Asked]:
    """Yield every question known of after the answers given.

    Args:
        head: the head to be measured.
        given: answers by key; how an edge sat decides where it is read.
        system: unit system chosen.
    """
    yield Asked(key="units", kind="units", prompt="Readings in mm or thou?", hint=f"Enter = {head.system}")
    yield Asked(
        key="intake/cracks",
        kind="cracks",
        prompt="Cracks found with penetrant?",
        hint="n = none found, y = found, r = repaired and leak test passed, Enter = not checked",
    )
    yield Asked(
        key="intake/magnesium",
        kind="magnesium",
        prompt="Is the casting magnesium?",
        hint="n = no, aluminium; y = yes; Enter = not known; test: vinegar fizzes at once on a filed spot",
    )
    yield Asked(
        key="intake/skimmed", kind="yes or no", prompt="Faced before?", hint="y, n, Enter = not known"
    )
    for name in LONG_LINES:
        yield from _line(f"deck:{name}", f"Deck, {name}", deck_stations(head), (given, system))
    for name in DIAGONALS:
        yield from _diagonal(name, head, (given, system))
    for name in cams_of(head):
        title = cam_title(name).capitalize()
        yield from _line(f"cam:{name}", title, head.towers, (given, system))
    for side in ("exhaust", "centre", "inlet"):
        yield Asked(
            key=f"hardness/{side}",
            kind="hardness",
            prompt=f"Hardness of the deck, {side} [HB]",
            hint="Enter = blank",
        )
    for corner in RIM[:4]:
        yield Asked(
            key=f"heights/{corner.replace(' ', '_')}",
            kind="height",
            prompt=f"Height deck to cam face, {corner}",
            hint="Enter = blank",
        )


_Given = tuple["Mapping[str, object]", "System"]


def _line(key: str, title: str, stations: tuple[float, ...], answers: _Given) -> Iterator[Asked]:
    given, system = answers
    yield _seat(key, title)
    seat = given.get(f"{key}/mode")
    if seat not in ("bridged", "balanced", "rocked"):
        return
    if seat == "rocked":
        yield _end(key, title)
    mode: Mode = "rocked" if seat == "rocked" else "balanced" if seat == "balanced" else "bridged"
    for station in stations:
        yield _gap(key, title, mode, (station, system))


def _diagonal(name: str, head: Head, answers: _Given) -> Iterator[Asked]:
    """Yield a diagonal: its middle where the edge rests on the ends, its ends where it rocks."""
    given, system = answers
    key, title = f"deck:{name}", f"Deck, {name}"
    first, *_, last = deck_stations(head)
    yield _seat(key, title)
    seat = given.get(f"{key}/mode")
    if seat == "bridged":
        yield _gap(key, title, "bridged", (head.casting.length / 2, system))
    elif seat == "balanced":
        for station in (first, last):
            yield _gap(key, title, "balanced", (station, system))
    elif seat == "rocked":
        yield _end(key, title)
        far = first if given.get(f"{key}/touching") == "rear" else last
        yield _gap(key, title, "rocked", (far, system))


def _seat(key: str, title: str) -> Asked:
    return Asked(
        key=f"{key}/mode", kind="seat", prompt=f"{title}: how does the straightedge sit?", hint=_SEAT_HINT
    )


def _end(key: str, title: str) -> Asked:
    return Asked(
        key=f"{key}/touching", kind="end", prompt=f"{title}: which end touches?", hint="front or rear"
    )


def _gap(key: str, title: str, mode: Mode, where: tuple[float, System]) -> Asked:
    station, system = where
    return Asked(
        key=f"{key}/at {station:.6f}",
        kind="gap",
        prompt=f"{title}, at {show(station, system, big=True)}",
        hint=_GAP_HINT,
        mode=mode,
        station=station,
    )


_BLANK = ("", "-", "?", "blank", "skip")
_SKIPPED = ("", "-", "blank", "skip")  # for cracks and magnesium a question mark is no answer
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
        return _read_gap(asked, text, head, system)
    value, echo = _READERS[asked.kind](text, head, system)
    return Understood(key=asked.key, value=value, echo=echo)


def _read_gap(asked: Asked, text: str, head: Head, system: System) -> Understood:
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


def _read_seat(text: str, head: Head, system: System) -> tuple[object, str]:
    del head, system
    seat = _SEATS.get(text.lower())
    if seat is None:
        raise BadInput(f"found {text[:40]!r}", fix="Type b (bridged), = (balanced), r (rocked) or s (skip).")
    return seat, "line left out" if seat == "skip" else seat


def _read_end(text: str, head: Head, system: System) -> tuple[object, str]:
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
    "seat": _read_seat,
    "end": _read_end,
    "hardness": _hardness,
    "height": _height,
}
