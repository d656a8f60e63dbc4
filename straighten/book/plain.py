"""Plain records: what may stand in one, its one text form, and the time stamps."""

from __future__ import annotations

import json
import math
import unicodedata
from collections.abc import Mapping
from datetime import UTC, datetime

from straighten.errors import BadInput

DEEPEST = 40  # levels of nesting; a record of the shop needs six
LONGEST = 8 * 2**20  # characters of text; a head file with its parsed form needs a few thousand
LONGEST_NAME = 120


def text_of(value: object, where: str = "record") -> str:
    """Return the one text form of a plain value: sorted keys, no spaces, ASCII, so that equal values seal alike.

    Raises:
        BadInput: it is not plain (a number without a value, a key that is no text, too deep, too long).
    """
    text = dumps(_plain(value, where, DEEPEST))
    if len(text) > LONGEST:
        raise BadInput(f"the record has {len(text)} characters; at most {LONGEST} are kept.", where=where)
    return text


def dumps(value: object) -> str:
    """Return the text form of a value already known to be plain."""
    return json.dumps(value, sort_keys=True, separators=(",", ":"), allow_nan=False)


def _plain(value: object, where: str, depth: int) -> object:
    if depth == 0:
        raise BadInput(f"nested deeper than {DEEPEST} levels.", where=where)
    if isinstance(value, Mapping):
        return {_key(key, where): _plain(item, f"{where}.{key}", depth - 1) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(item, f"{where}[{place}]", depth - 1) for place, item in enumerate(value)]
    if value is None or isinstance(value, str | bool):
        return value
    return _number(value, where)


def _key(key: object, where: str) -> str:
    if not isinstance(key, str):
        raise BadInput(f"the key {key!r} is no text.", where=where)
    return key


def _number(value: object, where: str) -> int | float:
    if isinstance(value, int) and abs(value) < 2**63:
        return value
    if isinstance(value, float) and math.isfinite(value):
        return value
    shown = type(value).__name__ if isinstance(value, int) else f"{type(value).__name__} {value!r:.40}"
    raise BadInput(f"{shown} cannot be kept: text, true, false, null and finite numbers can.", where=where)


def checked_name(name: object) -> str:
    """Return a head's name in its composed Unicode form.

    Raises:
        BadInput: empty, too long, blank at an end, or with characters that do not print.
    """
    if not isinstance(name, str):
        raise BadInput("a head's name must be text.", where="name")
    composed = unicodedata.normalize("NFC", name)
    if not 0 < len(composed) <= LONGEST_NAME or composed != composed.strip() or not composed.isprintable():
        raise BadInput(
            f"{name!r:.60} cannot name a head.",
            where="name",
            fix=f"Use 1 to {LONGEST_NAME} printing characters without blanks at the ends.",
        )
    return composed


def utc_now() -> datetime:
    """Return the time of the system clock."""
    return datetime.now(UTC)


def stamp(moment: datetime) -> str:
    """Return a moment as UTC text to the millisecond; these sort like the times they tell."""
    return moment.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def checked_stamp(text: object) -> str:
    """Return a time as `stamp` writes it.

    Raises:
        BadInput: it is no ISO 8601 time, or it does not say which time zone.
    """
    moment = _moment(text)
    if moment is None:
        raise BadInput(f"{text!r:.40} is no time with its zone, like 2026-03-01T09:30:00Z.", where="at")
    return stamp(moment)


def _moment(text: object) -> datetime | None:
    try:
        moment = datetime.fromisoformat(text if isinstance(text, str) else "")
        return None if moment.tzinfo is None else moment.astimezone(UTC)
    except (ValueError, OverflowError):
        return None
