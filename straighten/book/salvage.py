"""Read what can be read of a damaged book into a new one, and say what was lost."""

from __future__ import annotations

import json
import os
import sqlite3
from contextlib import closing, suppress
from dataclasses import dataclass, field
from itertools import chain
from pathlib import Path

from straighten.book import changes, opening, place, rows
from straighten.book.faults import told
from straighten.book.leaves import Row, opened_leaves
from straighten.book.plain import checked_name, stamp, utc_now
from straighten.book.records import Doubtful, RescueReport
from straighten.book.seals import HeadRow, Sealed
from straighten.errors import BadInput, BookError

_COLUMNS = (
    "number", "head", "kind", "schema", "at", "clock_back", "version", "previous", "inputs", "digest", "record",
)  # fmt: skip
_LEAST_ENTRY = 256  # bytes that the shortest entry takes: two seals, a uid, a time


@dataclass(slots=True)
class _Finds:
    """What the pages gave: entries by seal with their number, head rows, and what the book knew of its losses."""

    entries: dict[str, tuple[int, Sealed]] = field(default_factory=dict)
    altered: dict[int, Doubtful] = field(default_factory=dict)
    heads: dict[str, tuple[int, str, HeadRow]] = field(default_factory=dict)
    lost_before: set[int] = field(default_factory=set)
    highest: int = 0
    bad_pages: int = 0

    @property
    def named(self) -> set[str]:
        """Seals that the entries found name."""
        return set(
            chain.from_iterable((*sealed.previous, *sealed.inputs) for _, sealed in self.entries.values())
        )


def rescue(damaged: Path, fresh: Path) -> RescueReport:
    """Write every entry of a damaged book that still matches its seal into a new book.

    The pages are read one by one, past SQLite, so that a broken tree or header costs nothing but itself. The
    damaged file is not changed. What is lost is noted in the new book: its check then passes, and a merge with
    an older copy puts the lost entries back in their places.

    Raises:
        BadInput: there is a file at `fresh` already.
        BookError: nothing of a book is left, it is newer than the program, or the disk refuses.
    """
    real = place.place_for(damaged, create=False)
    if place.is_book_on_disk(real):
        opening.refuse_newer(real)
    if os.path.lexists(fresh):
        raise BadInput(
            "there is a file here already.", where=str(fresh), fix="Name a new file for what is rescued."
        )
    import tempfile  # loaded only here: a rescue is rare, a start is not

    with told(fresh):
        fresh.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(prefix=".rescue-", dir=fresh.parent) as folder:
            finds = _search(_settled(real, Path(folder)))
    if not finds.entries:
        raise BookError("nothing of a book can be read here.", where=str(real), fix="Look for a copy of it.")
    return _written(finds, fresh)


def _settled(real: Path, folder: Path) -> Path:
    """Return a copy in which SQLite undid an unfinished transaction; the file itself where there is none."""
    if not place.journal_of(real).exists():
        return real
    import shutil

    copy = folder / real.name
    with told(real):
        shutil.copyfile(real, copy)
        shutil.copyfile(place.journal_of(real), place.journal_of(copy))
    with suppress(sqlite3.Error, UnicodeDecodeError), closing(place.connect(copy, patience=0)) as connection:
        connection.execute("SELECT count(*) FROM sqlite_schema").fetchall()
    return copy


def _search(path: Path) -> _Finds:
    finds = _Finds()
    with opened_leaves(path) as leaves:
        for row in leaves.rows():
            _sort(row, finds)
        finds.bad_pages = len(leaves.bad_pages)
        most = max((number for number, _ in finds.entries.values()), default=0)
        # A damaged count must not make a million losses out of nothing.
        finds.highest = min(finds.highest, most + leaves.pages * leaves.page_size // _LEAST_ENTRY)
        finds.highest = max(finds.highest, most)
    return finds


def _sort(row: Row, finds: _Finds) -> None:
    """Tell by its columns which table a row belongs to."""
    number, columns = row
    match columns:
        case (None, str(), str(), int(), str(), int(), str(), str(), str(), str(), str()):
            _sort_entry(number, columns, finds)
        case (str(uid), str(name), str(given), str(opened_at)) if len(uid) == 16:
            finds.heads[uid] = (number, name, HeadRow(uid=uid, given=given, opened_at=opened_at))
        case ("entry", int(highest)):
            finds.highest = max(finds.highest, highest)
        case (int(lost), None, str()):
            finds.lost_before.add(lost)
        case _:
            pass


def _sort_entry(number: int, columns: tuple[object, ...], finds: _Finds) -> None:
    try:
        sealed = rows.sealed_of(dict(zip(_COLUMNS, (number, *columns[1:]), strict=True)))
    except BookError:
        finds.altered[number] = Doubtful(number=number, kind=str(columns[2]), record=str(columns[10]))
    else:
        finds.entries[sealed.digest] = (number, sealed)


def _written(finds: _Finds, fresh: Path) -> RescueReport:
    connection, real, _ = opening.opened(fresh, create=True, patience=0)
    try:
        with closing(connection), changes.transaction(connection, real):
            return _fill(connection, finds)
    except BaseException:
        with suppress(OSError):
            real.unlink()
        raise


def _fill(connection: sqlite3.Connection, finds: _Finds) -> RescueReport:
    now = stamp(utc_now())
    uids = {sealed.head for _, sealed in finds.entries.values()}
    rows_kept = sorted((finds.heads[uid] for uid in uids & finds.heads.keys()), key=lambda item: item[0])
    for _, name, head in rows_kept:
        rows.add_head(connection, head, name)
    nameless = [_invent_head(uid, finds) for uid in sorted(uids - finds.heads.keys())]
    names = tuple(rows.add_head(connection, head) for head in nameless)
    kept = _one_per_number(finds)
    for number, sealed in kept.items():
        rows.add_entry(connection, sealed, number)
    gone = set(range(1, finds.highest + 1)) - kept.keys()
    roots = {head.root for _, _, head in rows_kept} | {head.root for head in nameless}
    seals = finds.named - {sealed.digest for sealed in kept.values()} - roots
    rows.note_lost(connection, gone, seals, now)
    return RescueReport(
        heads=len(uids),
        entries=len(kept),
        lost=tuple(sorted(gone - finds.lost_before - finds.altered.keys())),
        doubtful=tuple(item for number, item in sorted(finds.altered.items()) if number not in kept),
        nameless=names,
        empty=tuple(name for uid, (_, name, _) in finds.heads.items() if uid not in uids),
        bad_pages=finds.bad_pages,
    )


def _one_per_number(finds: _Finds) -> dict[int, Sealed]:
    """Return the entries by number; of two on one number, the one that others follow."""
    named, kept = finds.named, dict[int, Sealed]()
    for number, sealed in sorted(finds.entries.values(), key=lambda item: item[0]):
        if number not in kept or sealed.digest in named:
            kept[number] = sealed
    return kept


def _invent_head(uid: str, finds: _Finds) -> HeadRow:
    """Return a row for a head whose own row is gone, named as its last head file has it."""
    mine = [item for item in finds.entries.values() if item[1].head == uid]
    first = min(mine, key=lambda item: item[0])[1]
    files = [item for item in mine if item[1].kind == "head"]
    name: object = None
    if files:
        name = json.loads(max(files, key=lambda item: item[0])[1].record).get("name")
    try:
        given = checked_name(name)
    except BadInput:
        given = f"rescued {uid}"
    return HeadRow(uid=uid, given=given, opened_at=first.at)
