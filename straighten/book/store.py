"""The open book: entries are appended, read back and struck."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from sqlite3 import Connection, Row
from types import TracebackType
from typing import Any

from straighten import __version__
from straighten.book import exchange, inspection, outcomes, rows
from straighten.book.migrations import opened
from straighten.book.place import ASK_RESCUE, PATIENCE, told, transaction
from straighten.book.records import KINDS, OPENED, STATES, Entry, HeadLine, MergeReport, Outcome
from straighten.book.seals import HeadRow, Sealed, checked_name, checked_stamp, stamp, text_of, utc_now
from straighten.errors import BadInput, BookError

Clock = Callable[[], datetime]

_ONE = "SELECT head FROM entry WHERE number = ?"
_LISTED = """
    SELECT number, head, kind, at, digest, previous,
        CASE kind WHEN 'strike' THEN json_extract(record, '$.struck_sha256') END AS strikes
    FROM entry NOT INDEXED ORDER BY number
"""
_NO_DEED = ("head", "bench", "strike", "settle")


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

    def __init__(self, connection: Connection, path: Path, clock: Clock, copy: Path | None) -> None:
        self._connection = connection
        self._clock = clock
        self._look: tuple[tuple[int, int], rows.Look] | None = None
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
        try:
            with transaction(self._connection, self.path):
                yield
        except BaseException:
            self._look = None  # what it held may be undone
            raise

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
            known, number = self._known(), rows.add_entry(self._connection, sealed)
            if known is not None and uid in known.heads:  # keep the look, as nothing else has changed
                known.add(uid, number, sealed.kind, (sealed.at, sealed.digest))
                self._look = self._state(), known
        return rows.given_back(sealed, number, name, numbers)

    def _uid_to_append(self, name: str, kind: str, when: str) -> str:
        uid = rows.find_uid(self._connection, name)
        if uid is None and kind == "head":
            fresh = rows.new_head(name, when)
            rows.add_head(self._connection, fresh)
            return fresh.uid
        return uid or self._seen().uid(name)

    def entries(self, head: str, kind: str | None = None, *, struck: bool = False) -> list[Entry]:
        """Return a head's entries in their order, of one kind or of all; struck ones only when asked.

        Raises:
            BadInput: no such head.
            BookError: an entry does not match its seal.
        """
        return [e for e in self._chain(head) if kind in (None, e.kind) and (struck or e.struck_by is None)]

    def latest(self, head: str, kind: str) -> Entry | None:
        """Return a head's last entry of a kind that is not struck, or None."""
        found = self.entries(head, kind)
        return found[-1] if found else None

    def _chain(self, head: str) -> list[Entry]:
        with told(self.path):
            name = checked_name(head)
            seen = self._seen()
            return rows.chain_of(self._connection, seen, seen.uid(name))

    def _seen(self) -> rows.Look:
        """Return what a look through the book finds; looked again after a change that is not known here."""
        known = self._known()
        if known is None:
            known = rows.look(self._connection)
            self._look = self._state(), known
        return known

    def _known(self) -> rows.Look | None:
        return self._look[1] if self._look is not None and self._look[0] == self._state() else None

    def _state(self) -> tuple[int, int]:
        """Return two numbers that change with what other programs and this one write."""
        others = self._connection.execute("PRAGMA data_version").fetchone()[0]
        return int(others), self._connection.total_changes

    def entry(self, number: int) -> Entry:
        """Return one entry, struck or not.

        Raises:
            BadInput: there is none of that number.
        """
        with told(self.path):
            known = 0 < number < 2**63  # what SQLite can look for
            row = self._connection.execute(_ONE, (number,)).fetchone() if known else None
            if row is None:
                raise BadInput(
                    "there is no such entry in the book.",
                    where=f"entry {number}",
                    fix="The message of a command names its entry; straighten export NAME --csv lists them all.",
                )
            chained = rows.chain_of(self._connection, self._seen(), row["head"])
            return next(e for e in chained if e.number == number)

    def computed_from(self, number: int) -> list[Entry]:
        """Return the entries, not struck, that were computed from an entry: what a strike would leave in doubt."""
        source = self.entry(number)
        return [entry for entry in self.entries(source.head) if number in entry.inputs]

    def has_head(self, head: str) -> bool:
        """Return whether the book has a head of this name."""
        with told(self.path):
            name = checked_name(head)
            return any(known == name for _, known in self._seen().heads.values())

    def heads(self) -> list[HeadLine]:
        """Return one line per head, in the order they were opened."""
        with told(self.path):
            heads = self._seen().heads
            found: dict[str, list[Row]] = {uid: [] for uid in heads}
            for row in self._connection.execute(_LISTED):
                found[row["head"]].append(row)
            return [_line(*heads[uid], entries) for uid, entries in found.items() if entries]

    def open_lines(self, head: str) -> tuple[tuple[int, ...], ...]:
        """Return the lines in which a head was carried on apart, as entry numbers; none where that is settled."""
        return rows.open_lines(self._chain(head))

    def settle(self, head: str, keep: int | None = None) -> Entry:
        """End a fork: all its lines count in the order of their times, or only the line of one entry.

        Args:
            head: name of the head.
            keep: number of an entry of the line that counts; the entries of the others are struck. None: all count.

        Raises:
            BadInput: nothing is to be settled, or no line holds that entry. Nothing is recorded.
        """
        with self.together():
            lines = self.open_lines(head)
            if not lines:
                raise BadInput("it runs in one line: nothing is to be settled.", where=head)
            if keep is not None and not any(keep in line for line in lines):
                raise BadInput("no line holds this entry.", where=f"entry {keep}", fix=told_lines(lines))
            for number in (n for line in lines for n in line if keep is not None and keep not in line):
                self.strike(number, f"the line of entry {keep} counts")
            return self.append(head, "settle", {"lines": [list(line) for line in lines], "kept": keep})

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
            return read(self._connection, self._seen(), (family, source), newest)

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


def told_lines(lines: Sequence[Sequence[int]]) -> str:
    """Return the lines of a fork in words."""
    return " | ".join(f"entries {', '.join(map(str, line))}" for line in lines)


def _line(head: HeadRow, name: str, found: Sequence[Row]) -> HeadLine:
    """Return the line of one head out of its rows of `_LISTED`; a list to look at, so that no seal is worked out."""
    struck = {row["strikes"] for row in found}
    by_seal = {str(row["digest"]): row for row in found}
    links = {seal: (json.loads(row["previous"]), row["at"]) for seal, row in by_seal.items()}
    entries = [by_seal[seal] for seal in rows.in_order(links) if seal not in struck]
    deed = next((row["kind"] for row in reversed(entries) if row["kind"] not in _NO_DEED), "")
    return HeadLine(
        name=name,
        opened_at=head.opened_at,
        state=STATES.get(deed, OPENED),
        passes=sum(row["kind"] == "pass" for row in entries),
        last=entries[-1]["number"],
        last_kind=entries[-1]["kind"],
        last_at=entries[-1]["at"],
    )


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
