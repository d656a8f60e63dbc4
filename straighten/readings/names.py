"""Names of the lines as people write them, and the usual places to read."""

from __future__ import annotations

import re

from straighten.errors import BadInput, nearest
from straighten.head.records import Head
from straighten.readings.records import DECK_LINES, PLATE_PLACES, cams_of
from straighten.units import INCH, System

_SAME = {
    "exhaust": "exhaust edge",
    "exhaust side": "exhaust edge",
    "edge exhaust": "exhaust edge",
    "inlet": "inlet edge",
    "intake": "inlet edge",
    "intake edge": "inlet edge",
    "inlet side": "inlet edge",
    "edge inlet": "inlet edge",
    "middle": "centre",
    "centre line": "centre",
    "middle line": "centre",
    "rear inlet to front exhaust": "front exhaust to rear inlet",
    "rear exhaust to front inlet": "front inlet to rear exhaust",
    "crosswise": "across",
    "cross": "across",
}
_CAM_SAME = {"": "single", "cam": "single", "only": "single", "intake": "inlet"}


def _plain(text: str) -> str:
    words = re.sub(r"[^a-z0-9]+", " ", text.lower().replace("center", "centre")).split()
    return " ".join(word for word in words if word not in ("diagonal", "line", "the", "deck", "from"))


def deck_line(text: str) -> str:
    """Return the name of a deck line, one of `DECK_LINES`.

    Raises:
        BadInput: no such line; the nearest is named.

    Example:
        >>> deck_line("Diagonal front-exhaust to rear-inlet")
        'front exhaust to rear inlet'
    """
    plain = _plain(text)
    return _known(_SAME.get(plain, plain), text, DECK_LINES)


def cam_line(text: str, head: Head) -> str:
    """Return the name of a cam line: "single" on a head with one, "inlet" or "exhaust" on a head with two.

    Raises:
        BadInput: no such line on this head.
    """
    plain = _plain(text).replace(" cam", "").replace("cam ", "")
    name, cams = _CAM_SAME.get(plain, plain), cams_of(head)
    if name == "single" and name not in cams:
        raise BadInput(
            f"this head has two cam lines; {text[:60]!r} tells neither", fix=f"Name one: {', '.join(cams)}."
        )
    return _known(name, text, cams)


def plate_place(text: str) -> str:
    """Return the name of a place on the plate, one of `PLATE_PLACES`.

    Raises:
        BadInput: no such place; the nearest is named.
    """
    return _known(_plain(text).replace("intake", "inlet"), text, PLATE_PLACES)


def _known(name: str, found: str, allowed: tuple[str, ...]) -> str:
    if name in allowed:
        return name
    raise BadInput(f"no line or place is called {found[:60]!r}", fix=nearest(name, allowed))


_SHARES = (0.05, 0.275, 0.5, 0.725, 0.95)


def deck_stations(head: Head) -> tuple[float, ...]:
    """Return five stations along the deck [m]: both ends, the quarters, the middle exactly."""
    length = head.casting.length
    step = 5e-3 if head.system == "mm" else INCH / 8  # between the marks of a steel rule
    return tuple(length / 2 if share == 0.5 else round(share * length / step) * step for share in _SHARES)


def rule_text(length: float, system: System) -> str:
    """Return a station in the person's unit as a bare number.

    Example:
        >>> rule_text(0.210, "mm"), rule_text(0.1016, "inch")
        ('210', '4')
    """
    return f"{length * 1e3:.4g}" if system == "mm" else f"{length / INCH:.4g}"
