"""What is asked in a survey, in bench order: intake, long lines, diagonals, cam line, hardness, heights."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from straighten.readings.gaps import GapWords, likely_gap
from straighten.readings.stations import DIAGONALS, LONG_LINES, deck_stations
from straighten.units import show

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

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
    for name in ("single",) if head.cam_lines == 1 else ("exhaust", "inlet"):
        title = "Cam line" if name == "single" else f"{name.capitalize()} cam line"
        yield from _line(f"cam:{name}", title, head.towers, (given, system))
    for side in ("exhaust", "centre", "inlet"):
        yield Asked(
            key=f"hardness/{side}",
            kind="hardness",
            prompt=f"Hardness of the deck, {side} [HB]",
            hint="Enter = blank",
        )
    for corner in ("front exhaust", "front inlet", "rear exhaust", "rear inlet"):
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
