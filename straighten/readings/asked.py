"""What is asked in a survey, in bench order, and what a typed answer means."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final, Literal

from straighten.errors import BadInput
from straighten.head.records import Head
from straighten.readings.gaps import GapWords, gap_text, likely_gap, read_gap
from straighten.readings.names import deck_stations
from straighten.readings.particulars import checked_hardness, checked_height
from straighten.readings.records import DIAGONALS, LONG_LINES, RIM, Mode, cam_title, cams_of
from straighten.units import System, parse, show

Kind = Literal["units", "yes or no", "cracks", "magnesium", "seat", "end", "gap", "hardness", "height"]

LINE_LIKE: Final[Mapping[System, str]] = {"mm": "0 0.15-0.18 0.25 0.15 0", "inch": "0 6-7 10 6 0"}
_GAP_LIKE: Final[Mapping[System, str]] = {
    "mm": '"0.10-0.15", "stops 0.05", "4 thou"',
    "inch": '"4-6", "stops 2", "0.10 mm"',
}
_GAP_HINT = "largest blade that goes, or {likes}; 0 = nothing goes; Enter = blank; the whole line at once: {line}; back"
_SEAT_HINT = (
    "b = bridged, rests on both ends; = balanced, same blade at both ends; r = rocked, one end down; s = skip; "
    "its gaps may follow at once: b {line}"
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
        return likely_gap(typed, GapWords.of(head, system, self.mode))


def asked_of(head: Head, given: Mapping[str, object], system: System) -> Iterator[Asked]:
    """Yield every question known of after the answers given: how an edge sat decides where it is read."""
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
    for number, side in enumerate(("exhaust", "centre", "inlet")):
        yield Asked(
            key=f"hardness/{side}",
            kind="hardness",
            prompt=f"Hardness of the deck, {side} [HB]",
            hint="Enter = blank" if number else "then centre and inlet at once: 83 84 86; Enter = none read",
        )
    for name in LONG_LINES:
        yield from _line(f"deck:{name}", f"Deck, {name}", _each_seat(deck_stations(head)), given, system)
    for name in DIAGONALS:
        places = _of_diagonal(head, given.get(f"deck:{name}/touching"))
        yield from _line(f"deck:{name}", f"Deck, {name}", places, given, system)
    for name in cams_of(head):
        title = cam_title(name).capitalize()
        yield from _line(f"cam:{name}", title, _each_seat(head.towers), given, system)
    for number, corner in enumerate(RIM):
        yield Asked(
            key=f"heights/{corner.replace(' ', '_')}",
            kind="height",
            prompt=f"Height deck to cam face, {corner}",
            hint="Enter = blank" if number else f"then {', '.join(RIM[1:])} at once; Enter = none read",
        )


def _line(
    key: str, title: str, places: Mapping[Mode, Sequence[float]], given: Mapping[str, object], system: System
) -> Iterator[Asked]:
    """Yield how the edge sits, and the gaps at the places that are read where it sits so [m]."""
    yield Asked(
        key=f"{key}/mode",
        kind="seat",
        prompt=f"{title}: how does the straightedge sit?",
        hint=_SEAT_HINT.format(line=LINE_LIKE[system]),
    )
    seat = given.get(f"{key}/mode")
    if seat == "rocked":
        yield Asked(
            key=f"{key}/touching", kind="end", prompt=f"{title}: which end touches?", hint="front or rear"
        )
    for mode, stations in places.items():
        for station in stations if mode == seat else ():
            yield Asked(
                key=f"{key}/at {station:.6f}",
                kind="gap",
                prompt=f"{title}, at {show(station, system, big=True)}",
                hint=_GAP_HINT.format(likes=_GAP_LIKE[system], line=LINE_LIKE[system]),
                mode=mode,
                station=station,
            )


def _each_seat(stations: Sequence[float]) -> dict[Mode, Sequence[float]]:
    return {"bridged": stations, "balanced": stations, "rocked": stations}


def _of_diagonal(head: Head, touching: object) -> dict[Mode, Sequence[float]]:
    """Return where a diagonal is read: in its middle where the edge rests on the ends, at its ends where it rocks."""
    first, *_, last = deck_stations(head)
    far = first if touching == "rear" else last
    return {"bridged": [head.casting.length / 2], "balanced": [first, last], "rocked": [far]}


_BLANK = ("", "-", "?", "blank", "skip")
_SKIPPED = ("", "-", "blank", "skip")  # for cracks and magnesium a question mark is no answer
_YES = ("y", "yes", "found", "true")
_NO = ("n", "no", "none", "none found", "false")
_YES_OR_NO = (
    ((_SKIPPED, "unknown", "not known"), (_YES, "yes", "yes"), (_NO, "no", "no")),
    "Type y, n, or Enter where you have not looked.",
)
_Choice = tuple[tuple[str, ...], str, str]  # the words for it, its value, how it is said back
_CHOICES: dict[Kind, tuple[tuple[_Choice, ...], str]] = {
    "units": (
        (
            (("mm", "metric", "millimetres"), "mm", "bare gaps are millimetres"),
            (("inch", "thou", "in", "inches", "imperial"), "inch", "bare gaps are thou"),
        ),
        'Type "mm" or "thou".',
    ),
    "cracks": (
        (
            (_SKIPPED, "not checked", "not checked for cracks"),
            (_YES, "found", "cracks found"),
            (_NO, "none found", "no cracks found"),
            (
                ("r", "repaired", "repaired, leak test passed"),
                "repaired, leak test passed",
                "crack repaired, leak test passed",
            ),
        ),
        "Type y, n, r, or Enter where you have not looked.",
    ),
    "yes or no": _YES_OR_NO,
    "magnesium": _YES_OR_NO,
    "seat": (
        (
            (("b", "bridged", "bridge", "ends", "rests"), "bridged", "bridged"),
            (("=", "e", "balanced", "balance", "equal"), "balanced", "balanced"),
            (("r", "rocked", "rock", "rocks"), "rocked", "rocked"),
            (("s", "skip", "", "-"), "skip", "line left out"),
        ),
        "Type b (bridged), = (balanced), r (rocked) or s (skip).",
    ),
    "end": (
        tuple((tuple(e[:n] for n in range(1, 6)), e, f"{e} end touches") for e in ("front", "rear")),
        "Type front or rear.",
    ),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Understood:
    """An answer: its key, its value for the tables of a survey file, and how it was understood in words."""

    key: str
    value: object
    echo: str


def understand(asked: Asked, typed: str, head: Head, system: System) -> Understood:
    """Return what an answer means; a bare number is in the unit system.

    Raises:
        BadInput: it cannot be an answer to that question.
    """
    text = " ".join(typed.strip().split())
    value, echo = (
        _choice(asked.kind, text, head) if asked.kind in _CHOICES else _read(asked, text, head, system)
    )
    return Understood(key=asked.key, value=value, echo=echo)


_WORD = re.compile(r"\S+(?:\s+(?:mm|in|HB)\b)?", re.IGNORECASE)
_ONE_ANSWER = re.compile(
    r"(?:goes|stops)\s+\S+|\S+(?:\s+(?:(?:mm|thou|mil|inch(?:es)?|in|um)\b|\"))?", re.IGNORECASE
)


def several_in(asked: Asked, typed: str) -> tuple[str, ...]:
    """Return the answers of a line that was typed at once; one alone where the question takes no more.

    Example:
        >>> seat = Asked(key="deck:centre/mode", kind="seat", prompt="", hint="")
        >>> several_in(seat, "b 0 14-15 goes 6  8 thou 0.004 inch 4 mil ?")
        ('b', '0', '14-15', 'goes 6', '8 thou', '0.004 inch', '4 mil', '?')
    """
    if asked.kind in ("hardness", "height", "cracks", "yes or no", "magnesium"):
        return tuple(_WORD.findall(typed))
    return tuple(_ONE_ANSWER.findall(typed)) if asked.kind in ("seat", "gap") else (typed,)


def _choice(kind: Kind, text: str, head: Head) -> tuple[object, str]:
    choices, fix = _CHOICES[kind]
    word = text.lower() or (head.system if kind == "units" else "")
    for words, value, echo in choices:
        if word in words:
            return value, echo
    raise BadInput(f"found {text[:40]!r}", fix=fix)


def _read(asked: Asked, text: str, head: Head, system: System) -> tuple[object, str]:
    """Return what a gap, a hardness or a height means."""
    if asked.kind == "gap":
        bracket = read_gap(text, asked.station, GapWords.of(head, system, asked.mode))
        return ("", "blank") if bracket.blank else (text, gap_text(bracket, system))
    if text.lower() in _BLANK:
        return "", "blank"
    if asked.kind == "height":
        height = checked_height(parse(text, "length", system), head, system)
        return f"{height * 1e3:.6g} mm", show(height, system, big=True)
    try:
        value = float(text.lower().removesuffix("hb").strip().replace(",", "."))
    except ValueError:
        raise BadInput(f"found {text[:40]!r}, a Brinell number is due") from None
    return checked_hardness(value), f"{value:g} HB"
