"""The open book: entries are appended, read back and struck."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from types import TracebackType
from typing import Any

from straighten import __version__
from straighten.book import exchange, inspection, outcomes, rows
from straighten.book.changes import transaction
from straighten.book.faults import ASK_RESCUE, told
from straighten.book.kinds import KINDS, OPENED, STATES
from straighten.book.opening import opened
from straighten.book.plain import checked_name, checked_stamp, stamp, text_of, utc_now
from straighten.book.records import Entry, FactorPool, GroupLine, HeadLine, MergeReport, Outcome
from straighten.book.seals import Sealed
from straighten.errors import BadInput, BookError

Clock = Callable[[], datetime]
PATIENCE = 15.0  # [s] that a program waits for another one's entry, which takes some ten milliseconds

_ENTRIES = """
    SELECT e.*, s.by_entry FROM entry AS e LEFT JOIN struck AS s ON s.number = e.number
    WHERE e.head = :head AND (:struck OR s.number IS NULL) ORDER BY e.number
"""
_OF_KIND = """
    SELECT e.*, s.by_entry FROM entry AS e LEFT JOIN struck AS s ON s.number = e.number
    WHERE e.head = :head AND e.kind = :kind AND (:struck OR s.number IS NULL) ORDER BY e.number
"""
_LATEST = """
    SELECT e.*, s.by_entry FROM entry AS e LEFT JOIN struck AS s ON s.number = e.number
    WHERE e.head = :head AND e.kind = :kind AND s.number IS NULL ORDER BY e.number DESC LIMIT 1
"""
_ONE = """
    SELECT e.*, s.by_entry, h.name FROM entry AS e JOIN head AS h ON h.uid = e.head
    LEFT JOIN struck AS s ON s.number = e.number WHERE e.number = ?
"""
_HEADS = """
    SELECT h.name, h.opened_at, e.number, e.kind, e.at,
        (SELECT count(*) FROM entry AS p WHERE p.head = h.uid AND p.kind = 'pass'
            AND p.number NOT IN (SELECT number FROM struck)) AS passes,
        (SELECT t.kind FROM entry AS t WHERE t.head = h.uid AND t.kind NOT IN ('head', 'bench', 'strike')
            AND t.number NOT IN (SELECT number FROM struck) ORDER BY t.number DESC LIMIT 1) AS deed
    FROM head AS h JOIN entry AS e ON e.number = (
        SELECT l.number FROM entry AS l WHERE l.head = h.uid
            AND l.number NOT IN (SELECT number FROM struck) ORDER BY l.number DESC LIMIT 1)
    ORDER BY h.rowid
"""


def open_book(path: Path, *, create: bool = True, patience: float = PATIENCE, clock: Clock = utc_now) -> Book:
    """Open a book, make it where it is missing, and bring an older one up to date after copying it.

    Args:
        path: of the book's file; a symbolic link to a regular file is followed.
        create: whether a missing book is made (file for its owner alone, folder likewise).
        patience: how long to wait for another program before the book is called busy [s].
        clock: gives the time to stamp entries with.

    Raises:
        BookError: missing, busy, not to be read, damaged, no book, or newer than the program.
    """
    connection, real, copy = opened(path, create=create, patience=patience)
    return Book(connection, real, clock, copy)


class Book:
    """An open book; made by `open_book`, closed by `with` or `close`.

    `path` of its file; `copy` made before an older book was brought up to date, else None.
    """

    def __init__(self, connection: sqlite3.Connection, path: Path, clock: Clock, copy: Path | None) -> None:
        self._connection = connection
        self._clock = clock
        self.path = path
        self.copy = copy

    def __enter__(self) -> Book:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Close the file; closing twice does no harm."""
        self._connection.close()

    @contextmanager
    def together(self) -> Iterator[None]:
        """Make all that is appended inside one step: all of it is kept, or nothing.

        Raises:
            BookError: another program holds the book too long, or the disk refuses.
        """
        with transaction(self._connection, self.path):
            yield

    def append(
        self,
        head: str,
        kind: str,
        record: Mapping[str, Any],
        *,
        inputs: Sequence[int] = (),
        at: str | None = None,
        after: int | None = None,
    ) -> Entry:
        """Add an entry to a head's chain; when this returns, it is on the disk.

        A "head" entry of an unknown name opens that head. A record's key "outcome" is pooled, see `Outcome`.

        Args:
            head: name of the head.
            kind: one of `KINDS`.
            record: plain record: text, numbers, true, false, null, lists and mappings of these.
            inputs: numbers of the entries of this head that it was computed from.
            at: time to stamp it with instead of the clock's, ISO 8601 with its zone.
            after: number of the head's last entry as the caller knows it; None to append in any case.

        Returns:
            The entry as it stands in the book.

        Raises:
            BadInput: no such head, an impossible name, a record that is not plain. Nothing is recorded.
            BookError: another entry came after `after`; busy; the disk refuses. Nothing is recorded.
            ValueError: unknown kind, or inputs that are no entries of this head: a fault of the program.
        """
        if kind not in KINDS:
            raise ValueError(kind)
        text = text_of(record)
        outcomes.check_outcome(record)
        name = checked_name(head)
        with self.together():
            # Only now, behind those that were waited for; else their clock would seem to run ahead.
            when = stamp(self._clock()) if at is None else checked_stamp(at)
            uid = self._uid_to_append(name, kind, when)
            numbers = rows.numbers_of(self._connection, uid)
            _refuse_stale(name, numbers, after)
            draft = Sealed(
                head=uid, kind=kind, schema=KINDS[kind], at=when, clock_back=False, version=__version__,
                previous=(), inputs=_seals_of(inputs, numbers), record=text,
            )  # fmt: skip
            sealed = rows.follow(self._connection, draft)
            number = rows.add_entry(self._connection, sealed)
        return rows.given_back(sealed, number, name, numbers, None)

    def _uid_to_append(self, name: str, kind: str, when: str) -> str:
        uid = rows.find_uid(self._connection, name)
        if uid is None and kind == "head":
            fresh = rows.new_head(name, when)
            rows.add_head(self._connection, fresh)
            return fresh.uid
        return uid or rows.uid_of(self._connection, name)

    def entries(self, head: str, kind: str | None = None, *, struck: bool = False) -> list[Entry]:
        """Return a head's entries by number, of one kind or of all; struck ones only when asked.

        Raises:
            BadInput: no such head.
            BookError: an entry does not match its seal.
        """
        wanted = {"kind": kind, "struck": struck}
        return self._read(head, _ENTRIES if kind is None else _OF_KIND, wanted)

    def latest(self, head: str, kind: str) -> Entry | None:
        """Return a head's last entry of a kind that is not struck, or None."""
        found = self._read(head, _LATEST, {"kind": kind})
        return found[0] if found else None

    def _read(self, head: str, query: str, wanted: dict[str, Any]) -> list[Entry]:
        with told(self.path):
            name = checked_name(head)
            uid = rows.uid_of(self._connection, name)
            found = self._connection.execute(query, {"head": uid, **wanted}).fetchall()
            return rows.entries_of(self._connection, found, name, uid)

    def entry(self, number: int) -> Entry:
        """Return one entry, struck or not.

        Raises:
            BadInput: there is none of that number.
        """
        with told(self.path):
            known = 0 < number < 2**63  # what SQLite can look for
            row = self._connection.execute(_ONE, (number,)).fetchone() if known else None
            if row is None:
                raise BadInput("there is no such entry in the book.", where=f"entry {number}")
            return rows.entries_of(self._connection, [row], row["name"], row["head"])[0]

    def computed_from(self, number: int) -> list[Entry]:
        """Return the entries, not struck, that were computed from an entry: what a strike would leave in doubt."""
        source = self.entry(number)
        return [entry for entry in self.entries(source.head) if number in entry.inputs]

    def has_head(self, head: str) -> bool:
        """Return whether the book has a head of this name."""
        with told(self.path):
            return rows.find_uid(self._connection, checked_name(head)) is not None

    def heads(self) -> list[HeadLine]:
        """Return one line per head, in the order they were opened."""
        with told(self.path):
            found = self._connection.execute(_HEADS).fetchall()
        return [
            HeadLine(
                name=row["name"],
                opened_at=row["opened_at"],
                state=STATES.get(row["deed"], OPENED),
                passes=row["passes"],
                last=row["number"],
                last_kind=row["kind"],
                last_at=row["at"],
            )
            for row in found
        ]

    def strike(self, number: int, reason: str) -> Entry:
        """Take an entry out of use by a later one that says why; it stays in the book.

        Raises:
            BadInput: no such entry, no reason, struck already, a strike, or the head's only head file.
        """
        if not reason.strip():
            raise BadInput("an entry is struck with a reason.", where="reason", fix="Say in a few words why.")
        with self.together():
            target = self.entry(number)
            self._refuse_strike(target)
            record = {"struck_number": number, "struck_sha256": target.digest, "reason": reason.strip()}
            return self.append(target.head, "strike", record, inputs=[number])

    def _refuse_strike(self, target: Entry) -> None:
        problem = ""
        if target.struck_by is not None:
            problem = f"it is struck already, by entry {target.struck_by}."
        elif target.kind == "strike":
            problem = "a strike is not struck; record the entry that it took out of use again."
        elif target.kind == "head" and len(self.entries(target.head, "head")) == 1:
            problem = "it is the only head file on record; record the corrected one first."
        if problem:
            raise BadInput(problem, where=f"entry {target.number} of {target.head}")

    def outcomes(
        self,
        *,
        family: str | None = None,
        source: str | None = None,
        newest: int | None = None,
        every_pass: bool = False,
    ) -> list[Outcome]:
        """Return what passes taught, newest first: each head's last outcome, or every pass's.

        Args:
            family: alloy family, None for all.
            source: heat source, None for all.
            newest: at most so many.
            every_pass: every pass instead of each head's last one (per heat source).
        """
        read = outcomes.all_outcomes if every_pass else outcomes.last_outcomes
        with told(self.path):
            return read(self._connection, family, source, newest)

    def pools(self, family: str, source: str) -> dict[str, FactorPool]:
        """Return each learned factor over all heads of an alloy family and heat source."""
        with told(self.path):
            return outcomes.factor_pools(self._connection, family, source)

    def groups(self) -> list[GroupLine]:
        """Return one line per alloy family and heat source."""
        with told(self.path):
            return outcomes.group_lines(self._connection)

    def export_plain(self, head: str) -> dict[str, Any]:
        """Return a head with all its entries, struck ones too, as one plain object."""
        with told(self.path):
            return exchange.export_head(self._connection, checked_name(head))

    def import_plain(self, data: object) -> MergeReport:
        """Take in what `export_plain` gave, here or elsewhere; what is here already is left as it is.

        Raises:
            BadInput: it has not that form, or an entry was altered. Nothing is recorded.
        """
        parcel = exchange.unpack(data)
        with self.together():
            return exchange.take_in(self._connection, [parcel], parcel.head.given)

    def merge(self, other: Path) -> MergeReport:
        """Take in all heads and entries of another book, which is not touched; doing it again adds nothing.

        Raises:
            BookError: the other is no book, newer, damaged or altered. Nothing is recorded.
        """
        with exchange.opened_to_read(other, self.path) as there, self.together():
            try:
                return exchange.take_in(self._connection, exchange.parcels(there, other), str(other))
            except BadInput as error:
                raise BookError(error.problem, where=error.where, fix=ASK_RESCUE) from error

    def check(self) -> list[str]:
        """Return every fault of the file and its chains, one line each; empty when all is well."""
        return inspection.problems(self._connection, self.path)


def _refuse_stale(name: str, numbers: Mapping[str, int], after: int | None) -> None:
    last = max(numbers.values(), default=0)
    if after is not None and last != after:
        raise BookError(
            f"another program recorded entry {last} meanwhile; this one was made after entry {after}.",
            where=name,
            fix="Look at the new entry and run it again; nothing was recorded.",
        )


def _seals_of(inputs: Sequence[int], numbers: Mapping[str, int]) -> tuple[str, ...]:
    seals = {number: digest for digest, number in numbers.items()}
    if unknown := [number for number in inputs if number not in seals]:
        raise ValueError(unknown)
    return tuple(seals[number] for number in dict.fromkeys(inputs))
