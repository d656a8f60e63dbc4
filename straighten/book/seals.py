"""Plain records, their one text form, their time stamps, and the seal over an entry.

A seal is the SHA-256 of what an entry says, what it was worked out from and what it follows. All of that stands in the
entry's own row, so an entry proves itself wherever it is found: in a merged book, an exported file, a damaged page.
"""

from __future__ import annotations

import hashlib
import json
import math
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
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


@dataclass(frozen=True, slots=True, kw_only=True)
class HeadRow:
    """A head as it travels: `uid` made at random when it was opened, `given` name, and when."""

    uid: str
    given: str
    opened_at: str

    @property
    def root(self) -> str:
        """Seal that the first entry of the head follows."""
        return sha256(["straighten head", self.uid, self.given, self.opened_at])


@dataclass(frozen=True, slots=True, kw_only=True)
class Sealed:
    """An entry as it travels: `head` is the head's uid, `previous` and `inputs` are seals, `record` is text."""

    head: str
    kind: str
    schema: int
    at: str
    clock_back: bool
    version: str
    previous: tuple[str, ...]
    inputs: tuple[str, ...]
    record: str
    digest: str = ""

    @property
    def seal(self) -> str:
        """Seal worked out from what the entry says."""
        return sha256(
            ["straighten entry", self.head, self.kind, self.schema, self.at, self.clock_back, self.version,
             self.previous, self.inputs, self.record]
        )  # fmt: skip

    @property
    def sound(self) -> bool:
        """Whether the seal that it carries is its own."""
        return self.seal == self.digest

    def closed(self) -> Sealed:
        """Return the entry with its seal set."""
        return replace(self, digest=self.seal)


def sha256(parts: Sequence[object]) -> str:
    """Return the SHA-256 of plain parts, as 64 hexadecimal digits."""
    return hashlib.sha256(dumps(parts).encode("ascii")).hexdigest()
