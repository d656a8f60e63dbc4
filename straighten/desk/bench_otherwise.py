"""What was done otherwise than on the card, as typed at the bench; it is read on the road of `log --done`."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final

from straighten.desk.logging import done_told
from straighten.desk.starting import parts
from straighten.errors import BadInput
from straighten.units import parse

if TYPE_CHECKING:
    from straighten.clamp import ClampSetup
    from straighten.desk.bench_records import Answer
    from straighten.head.records import Head
    from straighten.heat import Soak, Treatment
    from straighten.plan.records import PassSetup

_CORNERS: Final = {"shims": (0, 1, 2, 3), "front": (0, 1), "rear": (2, 3)}
_CLAMP: Final = re.compile(r"\b(shims|front|rear|corners|pull)\b[ =:]*", re.IGNORECASE)
_TORQUE: Final = re.compile(r"[\d.,]+\s*(?:nm|kgm|(?:ft|in)[- ]?lbs?|lb[- ]?ft)", re.IGNORECASE)
_AT: Final = re.compile(r"\bat\s+([\d.,/]+\s*(?:mm|cm|inches|inch|in\b|\")?)", re.IGNORECASE)
_WARM: Final = re.compile(r"(?:\bat\s+)?\b([\d.,]+)\s*(?:°|deg\s*)?([CF])\b", re.IGNORECASE)
_LIKE: Final = "Like shims 0.15, front 0.10, corners 0.1 0.1 0.15 0.15, pull 111 309."


def laid_otherwise(head: Head, planned: PassSetup, given: Answer) -> ClampSetup:
    """Return the clamp as it was laid: shims, corners, or the stations pulled.

    Raises:
        BadInput: it cannot be read, or cannot be.
    """
    assert planned.clamp is not None  # noqa: S101 - the card holds one
    before, *told = _CLAMP.split(given.typed)
    if before.strip(" ,;") or not told:
        raise BadInput(f"found {given.typed.strip()[:40]!r}", fix=_LIKE)
    corners: list[Any] = [f"{1e3 * height!r} mm" for height in planned.clamp.shims]
    table: dict[str, Any] = {}
    for word, text in zip(told[::2], told[1::2], strict=True):
        values = parts(text.replace(";", " ").strip(" ,"))
        if word.lower() == "pull":
            table["pull_at"] = values
        elif word.lower() == "corners" and len(values) == len(corners):
            corners = values
        elif word.lower() in _CORNERS and len(values) == 1:
            corners = [values[0] if n in _CORNERS[word.lower()] else c for n, c in enumerate(corners)]
        else:
            raise BadInput(f"{len(values)} values after {word!r}", fix=_LIKE)
    return _clamp(head, planned, given, {**table, "corners": corners})


def left_otherwise(head: Head, planned: PassSetup, given: Answer) -> ClampSetup:
    """Return the clamp as it was left: at another gap, or at a torque.

    Raises:
        BadInput: neither, or one that cannot be.
    """
    from straighten.readings.gaps import GapWords, read_gap

    if _TORQUE.fullmatch(given.typed.strip()):
        return _clamp(head, planned, given, {"torque": given.typed.strip()})
    words = GapWords(system=given.system, blades=tuple(sorted(head.gauge_blades)))
    gap = read_gap(given.typed, 0.0, words)
    if gap.blank:
        raise BadInput("a gap or a torque is due here", fix="Like 0.10-0.12, or 30 Nm.")
    return _clamp(head, planned, given, {"gap": f"{1e3 * gap.middle!r} mm"})


def _clamp(head: Head, planned: PassSetup, given: Answer, table: dict[str, Any]) -> ClampSetup:
    done = _done({"units": given.system, "clamp": table}, head, planned)
    assert done.clamp is not None  # noqa: S101 - a clamp was told
    return done.clamp


def _done(data: dict[str, Any], head: Head, planned: PassSetup | None = None) -> PassSetup:
    """Return what `log --done` reads in such a file; a fault is told without the file's keys, which nobody typed."""
    try:
        return done_told(data, "typed", head, planned)[0]
    except BadInput as fault:
        raise BadInput(fault.problem, fix=fault.fix) from None


def burnt_otherwise(head: Head, spot: Treatment, given: Answer) -> Treatment:
    """Return a spot as it was heated: so long, at another place, to another temperature; of a stroke only how long.

    Raises:
        BadInput: it cannot be read, or cannot be.
    """
    from straighten.heat import HeatSpot, held_for

    dwell, told = _told(given)
    if not isinstance(spot, HeatSpot):
        return held_for(spot, parse(given.typed.strip(), "duration", given.system))
    table: dict[str, Any] = {
        "stations": [told.get("at", f"{1e3 * spot.station!r} mm")],
        "side": spot.side,
        "flame_radius": f"{1e3 * spot.radius!r} mm",
        "dwell": dwell or f"{spot.dwell!r} s",
    }
    if spot.across is not None:
        table["across"] = f"{1e3 * spot.across!r} mm"
    if "warm" in told or spot.power is None:
        table["peak"] = told.get("warm", f"{spot.peak!r} C")
    else:
        table["absorbed_power"] = f"{spot.power!r} W"
    done = _done({"units": given.system, "spots": [table]}, head)
    return replace(done.spots[0], start=spot.start)


def soaked_otherwise(head: Head, soak: Soak, given: Answer) -> Soak:
    """Return a soak as it was: so long, at another temperature.

    Raises:
        BadInput: it cannot be read, or cannot be.
    """
    hold, told = _told(given)
    table = {
        "temperature": told.get("warm", f"{soak.temperature!r} C"),
        "hold": hold or f"{soak.hold!r} s",
    }
    data = {"units": given.system, "clamp": {"shims": "0 mm"}, "soak": table}
    done = _done(data, head)
    assert done.soak is not None  # noqa: S101 - a soak was told
    return replace(soak, temperature=done.soak.temperature, hold=done.soak.hold)


def _told(given: Answer) -> tuple[str, dict[str, str]]:
    """Return the time as typed, "" where none was, and a place after "at" and a temperature where they were."""
    told, rest = {}, given.typed
    if warm := _WARM.search(rest):
        told["warm"] = f"{warm[1]} {warm[2].upper()}"
        rest = rest.replace(warm[0], " ")
    if place := _AT.search(rest):
        told["at"] = place[1].strip()
        rest = rest.replace(place[0], " ")
    return rest.strip(" ,;"), told
