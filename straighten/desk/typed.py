"""What typed answers mean inside a pass, in the session and at `tighten`; what differs from the card is read as by `log --done`.

An answer that cannot be read, that cannot follow those before it or tells what cannot be is refused with `BadInput`.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from typing import Any, Final

from straighten.book import Book
from straighten.clamp import ClampSetup
from straighten.clamp.tightening_log import THICKEST_BLADE, Reading, check_log
from straighten.desk.bench_words import NAY, Answer, as_typed
from straighten.desk.dossier import Dossier, bench_head
from straighten.desk.logging import Logged, done_told
from straighten.desk.pass_card import untried_torch
from straighten.desk.starting import parts
from straighten.errors import BadInput
from straighten.head.records import Head
from straighten.heat import HeatSpot, Soak, Treatment, held_for
from straighten.heat.torch import refuse_slip
from straighten.plan.records import PassSetup
from straighten.readings.gaps import GapWords, read_gap
from straighten.readings.records import RIM, Bracket
from straighten.units import System, parse, show

_CORNERS: Final = {"shims": (0, 1, 2, 3), "front": (0, 1), "rear": (2, 3)}
_CLAMP: Final = re.compile(r"\b(shims|front|rear|corners|pull)\b[ =:]*", re.IGNORECASE)
_TORQUE: Final = re.compile(r"[\d.,]+\s*(?:nm|kgf?-?m|(?:ft|in)[-. ]?lbs?|lb[-. ]?(?:ft|in))", re.IGNORECASE)
_ROUND: Final = re.compile(
    rf"(?P<torque>{_TORQUE.pattern}|[\d.,]+)\s+(?P<blades>(?:\d|\.|goes|stops).*)", re.IGNORECASE
)
_TWO: Final = re.compile(r"^([\d.,]+)[\s,;]+([\d.,]+(?:\s*(?:mm|thou|in|mil))?)$", re.IGNORECASE)
_AT: Final = re.compile(r"\bat\s+([\d.,/]+\s*(?:mm|cm|inches|inch|in\b|\")?)", re.IGNORECASE)
_WARM: Final = re.compile(r"(?:\bat\s+)?\b([\d.,]+)\s*(?:°|deg\s*)?([CF])\b", re.IGNORECASE)
_SHORTEST_SOAK, _LONGEST_SOAK = 60.0, 300 * 3600.0  # s
Blades = tuple[float, float | None]  # that goes and that does not [m], None where the latter was not told
_LIKE: Final = "Like shims 0.15, front 0.10, corners 0.1 0.1 0.15 0.15, pull 111 309."


def laid_otherwise(head: Head, planned: PassSetup, given: Answer) -> ClampSetup:
    """Return the clamp as it was laid: shims, corners, or the stations pulled."""
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
    """Return the clamp as it was left: at another gap, or at a torque."""
    if _TORQUE.fullmatch(given.typed.strip()):
        return _clamp(head, planned, given, {"torque": given.typed.strip()})
    gap = gap_of(head, given)
    if gap.blank:
        raise BadInput("a gap or a torque is due here", fix="Like 0.10-0.12, or 30 Nm.")
    return _clamp(head, planned, given, {"gap": f"{1e3 * gap.middle!r} mm"})


def _clamp(head: Head, planned: PassSetup, given: Answer, table: dict[str, Any]) -> ClampSetup:
    done = _done({"units": given.system, "clamp": table}, head, planned).clamp
    assert done is not None  # noqa: S101 - a clamp was told
    return done


def _done(data: dict[str, Any], head: Head, planned: PassSetup | None = None) -> PassSetup:
    """Return what `log --done` reads in such a file."""
    with as_typed():
        return done_told(data, "typed", head, planned)[0]


def laid_words(head: Head, clamp: ClampSetup, system: System) -> str:
    """Return in words how the clamp was laid otherwise than on the card."""
    stations = sorted({head.bolts[n].station for n in clamp.bolts})
    pulled = ", ".join(show(station, system, big=True) for station in stations)
    shimmed = ", ".join(f"{name} {show(h, system)}" for name, h in zip(RIM[:4], clamp.shims, strict=True))
    return f"Laid otherwise: {shimmed}; pulled at {pulled}."


def spot_as_heated(head: Head, spot: Treatment, given: Answer) -> tuple[tuple[Treatment, ...], str]:
    """Return one spot as it was heated, none where it was not, and when the flame went out."""
    if given.word == NAY:
        return (), given.at
    if given.confirms:
        return (spot,), given.at
    try:
        burnt = _burnt(head, spot, given)
        refuse_slip(burnt.dwell)
    except BadInput as fault:
        raise BadInput(fault.problem, fix=f"{fault.fix} Or: skip.".strip()) from None
    return (burnt,), given.at


def soak_as_held(head: Head, planned: Soak, given: Answer) -> tuple[Soak, str]:
    """Return a soak as it was, so long, at another temperature, and when the oven went off."""
    done = planned
    if not given.confirms:
        hold, told = _told(given)
        warm = told.get("warm", f"{planned.temperature!r} C")
        table = {"temperature": warm, "hold": hold or f"{planned.hold!r} s"}
        read = _done({"units": given.system, "clamp": {"shims": "0 mm"}, "soak": table}, head).soak
        assert read is not None  # noqa: S101 - a soak was told
        done = replace(planned, temperature=read.temperature, hold=read.hold)
    if not _SHORTEST_SOAK <= done.hold <= _LONGEST_SOAK:
        raise BadInput(
            f"found {given.typed.strip()[:40]!r}; a soak lasts 1 min to 300 h",
            fix="Write it like 3 h or 90 min.",
        )
    return done, given.at


def _burnt(head: Head, spot: Treatment, given: Answer) -> Treatment:
    """Return a spot as heated: so long, at another place, to another temperature; of a stroke only how long."""
    if not isinstance(spot, HeatSpot):
        return held_for(spot, parse(given.typed.strip(), "duration", given.system))
    dwell, told = _told(given)
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


def torque_after(rounds: tuple[Reading, ...], suggested: float | None, given: Answer) -> float | None:
    """Return the torque of one more round [N m], the one suggested for Enter; None where the rounds are left."""
    if given.word == NAY:
        return None
    if not given.word and suggested is None:
        raise BadInput("a torque is due here; skip leaves the rounds")
    typed = parse(given.typed.strip(), "torque", given.system) if given.word else None
    torque = typed if typed is not None else suggested or 0.0
    try:
        check_log((*rounds, Reading(torque=torque, goes=0.0, does_not=None)), given.system)
    except BadInput as fault:
        fix = fault.fix or "back takes the round before back, where that one was mistyped."
        raise BadInput(fault.problem, fix=fix) from None
    return torque


def round_at_once(
    head: Head, rounds: tuple[Reading, ...], suggested: float | None, given: Answer
) -> tuple[float | None, Blades | None]:
    """Return the torque of one more round as `torque_after` does, and the blades where they were typed behind it."""
    found = _ROUND.fullmatch(given.typed.strip())
    if found is None:
        return torque_after(rounds, suggested, given), None
    torque = torque_after(rounds, suggested, replace(given, typed=found["torque"]))
    return torque, blade_that_goes(head, replace(given, typed=found["blades"]))


def blade_that_goes(head: Head, given: Answer) -> Blades:
    """Return the largest blade that goes [m], and the one that does not where both were typed."""
    if not given.word:
        raise BadInput("Enter says nothing here", fix="Type 0 where no blade goes.")
    given = replace(given, typed=_TWO.sub(r"\1-\2", given.typed.strip()))
    gap = gap_of(head, given, THICKEST_BLADE.value)
    return gap.low or 0.0, gap.high if gap.stated_high else None


def blade_that_stops(head: Head, goes: float, given: Answer) -> float | None:
    """Return the smallest blade that does not go [m], None where every blade does."""
    if not given.word:
        raise BadInput("Enter says nothing here", fix="Type all where every blade goes.")
    if given.word in (NAY, "-", "none", "all"):
        return None
    gap = gap_of(head, given, THICKEST_BLADE.value)
    blade = (gap.high if gap.stated_high else gap.low) or 0.0
    if blade <= goes:
        raise BadInput(
            f"the blade that does not go must be thicker than the one that does, {show(goes, given.system)}",
            fix="Or back, where that one was mistyped.",
        )
    return blade


def gap_after_stage(head: Head, given: Answer) -> str | None:
    """Return the gap in the middle as typed, its units before it; None where it is skipped."""
    if given.word == NAY:
        return None
    if gap_of(head, given).blank:
        raise BadInput("a gap is due here, like 0.30-0.35; skip leaves it unread")
    return f"{given.system}:{given.typed.strip()}"


def gap_of(head: Head, given: Answer, most: float | None = None) -> Bracket:
    """Return a gap as typed, `most` the largest believed [m]; what cannot be one is refused with what it was likely to mean."""
    words = replace(GapWords.of(head, given.system), most=most)
    return read_gap(given.typed, head.casting.length / 2, words)


_MARK: Final = re.compile(
    r"(?P<crayon>[\d.,]+\s*[CF]?)\s+(?:(?P<radius>[\d.,]+\s*(?:mm|in|\"))\s+)?(?P<after>[\d.,]+\s*(?:s|sec)?)",
    re.IGNORECASE,
)
_TRIALS: Final[Mapping[System, str]] = {
    "mm": "Like crayon 250 C 1.2 s, or with rings: crayon 150 C 18 mm 4 s, 300 C 10 mm 4 s.",
    "inch": "Like crayon 480 F 1.2 s, or with rings: crayon 300 F 0.7 in 4 s, 570 F 0.4 in 4 s.",
}


def trial_told(dossier: Dossier, given: Answer) -> tuple[tuple[str, ...], str]:
    """Return the lines of the head file that tell a flame trial, and the file with them; "" where it has no place for them.

    The trial is told as a crayon and its seconds, "crayon 250 C 1.2 s", or as crayons with their rings.
    """
    told = given.typed.strip()[len("crayon") :].strip(" :=")
    marks = [_MARK.fullmatch(part.strip()) for part in re.split(r"[,;]\s+", told)]
    found = [mark.groupdict() for mark in marks if mark is not None]
    ringed = [mark for mark in found if mark["radius"]]
    if len(found) < len(marks) or len(ringed) not in (0, len(found)) or (len(found) > 1 and not ringed):
        raise BadInput(
            f"found {told[:40]!r}, a crayon and its seconds are due",
            fix=_TRIALS[given.system],
        )
    rings = ", ".join("{ " + ", ".join(f'{k} = "{v}"' for k, v in mark.items()) + " }" for mark in ringed)
    lines: tuple[str, ...] = (f"rings = [{rings}]",)
    if not ringed:
        lines = (f'crayon = "{found[0]["crayon"]}"', f'crayon_after = "{found[0]["after"]}"')
    with_it = re.sub(
        r"(?m)^\[+torch\]+.*$", lambda table: "\n".join([table[0], *lines]), dossier.text, count=1
    )
    with as_typed():
        head = bench_head(with_it, "typed")
    return lines, "" if untried_torch(head) else with_it


# --- a round typed in one line ----------------------------------------------------------------------------------------------


# A number with a decimal point or comma, a fraction, and its unit; or that no blade goes, or none is stopped.
_PART = re.compile(
    r"(?:[0-9]+\s*/\s*[0-9]+|[0-9]*[.,]?[0-9]+)(?:\s*(?!none\b)(?:[^\W\d_]|[\"°])[^\s;,]*)?|none\b|-"
)
_BETWEEN = re.compile(r"\s*,\s+|\s+|$")
LINE = "torque; blade that goes; blade that does not"


def round_parts(line: str) -> tuple[str, str, str | None]:
    """Return torque and the two blades of a round typed in one line, parted by semicolons or blanks.

    A comma between digits is a decimal comma; one before a blank parts.

    Raises:
        BadInput: more or less than that.

    Example:
        >>> round_parts("10 Nm, 0,10, 0,12")
        ('10 Nm', '0,10', '0,12')
    """
    parts = [part.strip() for part in line.split(";")] if ";" in line else _parted(line)
    if not 1 <= len(parts) <= 3 or not parts[0]:
        raise BadInput(
            f"found {line.strip()[:40]!r}; due is {LINE}", fix="Write it like 10 Nm; 0.10; 0.12 (or 0,10)."
        )
    goes, stops = (*parts[1:], "", "")[:2]
    return parts[0], "0" if goes in _NONE else goes, None if stops in _NONE else stops


_NONE = ("", "-", "none")


def _parted(line: str) -> list[str]:
    """Return the parts of a line without semicolons; none where it can be read in two ways."""
    parts, place, text = [], 0, line.strip()
    while place < len(text):
        part = _PART.match(text, place)
        gap = None if part is None else _BETWEEN.match(text, part.end())
        if part is None or gap is None:
            return []
        parts.append(part[0].strip())
        place = gap.end()
    return parts


def one_more(book: Book, dossier: Dossier, logged: Logged, typed: tuple[str, str, str | None]) -> Logged:
    """Return a log with one more round as typed; of a torque not above the one before is told how to put right either."""
    found = replace(logged, rounds=(*logged.rounds, one_round(dossier, *typed)))
    try:
        check_log(found.rounds, dossier.head.system)
    except BadInput as fault:
        if fault.fix or not logged.rounds or found.rounds[-1].torque > logged.rounds[-1].torque:
            raise
        raise BadInput(fault.problem, where=fault.where, fix=_way_back(book, dossier)) from None
    return found


def _way_back(book: Book, dossier: Dossier) -> str:
    anew = "Slackened and started over: add --again."
    kept = book.latest(dossier.name, "tighten")
    if kept is None:
        return anew
    return f'If the round before was mistyped: straighten strike {kept.number} --reason "mistyped". {anew}'


def one_round(dossier: Dossier, torque: str, goes: str, stops: str | None) -> Reading:
    """Return one round as typed: torque and blades with or without units."""
    system = dossier.head.system
    return Reading(
        torque=parse(torque, "torque", system),
        goes=parse(goes, "gap", system),
        does_not=None if stops is None else parse(stops, "gap", system),
    )
