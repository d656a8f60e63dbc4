"""The seal of an entry: SHA-256 over what it says, what it was computed from and what it follows.

Every column that a seal covers stands in the entry's own row, so an entry proves itself wherever it is found:
in a merged book, in an exported file, on a page of a damaged one.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, replace

from straighten.book.plain import dumps


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
