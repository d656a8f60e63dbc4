"""Read what can be read of a damaged book into a new one, and say what was lost.

The rows are read straight off the pages, without the tree of the file: only table leaves and the overflow chains that
hang on them. What does not parse is passed over. The seals of the entries decide what is genuine.

Source: SQLite, "Database File Format", sections 1.3 (header), 1.6 (B-tree pages), 2.1 (record format) -- from memory;
proved against files that SQLite itself wrote.
"""

from __future__ import annotations

import json
import os
import sqlite3
import struct
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass, field
from io import FileIO
from itertools import chain, product
from pathlib import Path
from sqlite3 import Connection

from straighten.book import migrations, place, rows
from straighten.book.place import PAGE, told
from straighten.book.records import Doubtful, RescueReport
from straighten.book.rows import in_order
from straighten.book.seals import HeadRow, Sealed, checked_name, stamp, utc_now
from straighten.errors import BadInput, BookError

Value = int | float | str | bytes | None
Row = tuple[int, tuple[Value, ...]]  # rowid, columns

_HEADER = 100  # bytes before the tree on the first page
_TABLE_LEAF = 0x0D
_PAGE_SIZES = tuple(2**power for power in range(16, 8, -1))
_INTEGER_BYTES = {1: 1, 2: 2, 3: 3, 4: 4, 5: 6, 6: 8}


def layouts(path: Path) -> Iterator[tuple[int, int]]:
    """Give size and reserved bytes of the pages as they may be: a book's own first, what the header tells, the usual sizes."""
    with path.open("rb", buffering=0) as file:
        header = _read(file, 0, _HEADER).ljust(_HEADER, b"\0")
    told = int.from_bytes(header[16:18], "big")
    told = {1: 65536}.get(told, told)
    found = [(PAGE, 0)]
    if told in _PAGE_SIZES:
        found.append((told, header[20] if header[20] <= 32 else 0))
    yield from dict.fromkeys((*found, *((size, 0) for size in _PAGE_SIZES)))


@contextmanager
def opened_leaves(path: Path, size: int = PAGE, reserved: int = 0) -> Iterator[Leaves]:
    """Open a file for its leaves, with the size of its pages and the bytes reserved at the end of each."""
    with path.open("rb", buffering=0) as file:
        pages = -(-os.fstat(file.fileno()).st_size // size)
        yield Leaves(file=file, page_size=size, usable=size - reserved, pages=pages)


def _read(file: FileIO, place: int, length: int) -> bytes:
    """Return what the disk still gives."""
    try:
        file.seek(place)
        return file.read(length)
    except OSError:
        return b""


@dataclass(slots=True, kw_only=True)
class Leaves:
    """The pages of one open file; `bad_pages` are those that could not be read or parsed so far."""

    file: FileIO
    page_size: int
    usable: int
    pages: int
    bad_pages: set[int] = field(default_factory=set)

    def rows(self) -> Iterator[Row]:
        """Give every row on every table leaf, in the order of the pages."""
        for number in range(1, self.pages + 1):
            page = self._page(number)
            start = _HEADER if number == 1 else 0
            if len(page) < self.page_size:  # cut short, or not given by the disk
                self.bad_pages.add(number)
                page = page.ljust(self.page_size, b"\0")
            if page[start] == _TABLE_LEAF:
                yield from self._rows_on(number, page, start)

    def _page(self, number: int) -> bytes:
        return _read(self.file, (number - 1) * self.page_size, self.page_size)

    def _rows_on(self, number: int, page: bytes, start: int) -> Iterator[Row]:
        cells = int.from_bytes(page[start + 3 : start + 5], "big")
        for cell in range(min(cells, self.page_size // 4)):
            place = start + 8 + 2 * cell
            try:
                yield self._row(page, int.from_bytes(page[place : place + 2], "big"))
            except (ValueError, LookupError, struct.error):
                self.bad_pages.add(number)

    def _row(self, page: bytes, place: int) -> Row:
        length, place = varint(page, place)
        rowid, place = varint(page, place)
        local = self._local(length)
        payload = page[place : place + local]
        if local < length:
            payload += self._overflow(
                int.from_bytes(page[place + local : place + local + 4], "big"), length - local
            )
        if len(payload) != length:
            raise ValueError(length)
        return rowid, columns(payload)

    def _local(self, length: int) -> int:
        """Return how many bytes of a payload stand on the leaf itself."""
        most = self.usable - 35
        if length <= most:
            return length
        least = (self.usable - 12) * 32 // 255 - 23
        wanted = least + (length - least) % (self.usable - 4)
        return wanted if wanted <= most else least

    def _overflow(self, number: int, length: int) -> bytes:
        parts: list[bytes] = []
        while length > 0:
            page = self._page(number) if 0 < number <= self.pages else b""
            if len(page) < self.page_size or len(parts) > self.pages:
                raise ValueError(number)
            parts.append(page[4 : min(self.usable, 4 + length)])
            number, length = int.from_bytes(page[:4], "big"), length - len(parts[-1])
        return b"".join(parts)


def varint(data: bytes, place: int) -> tuple[int, int]:
    """Return a variable-length integer and the place after it."""
    value = 0
    for count in range(8):
        byte = data[place + count]
        value = value << 7 | byte & 0x7F
        if byte < 0x80:
            return value, place + count + 1
    return value << 8 | data[place + 8], place + 9


def columns(payload: bytes) -> tuple[Value, ...]:
    """Return the columns of a record."""
    end, place = varint(payload, 0)
    kinds = []
    while place < end:
        kind, place = varint(payload, place)
        kinds.append(kind)
    values = []
    for kind in kinds:
        value, end = _value(kind, payload, end)
        values.append(value)
    return tuple(values)


def _value(kind: int, payload: bytes, place: int) -> tuple[Value, int]:
    if kind in _INTEGER_BYTES:
        end = place + _INTEGER_BYTES[kind]
        return int.from_bytes(payload[place:end], "big", signed=True), end
    if kind == 7:
        return float(struct.unpack(">d", payload[place : place + 8])[0]), place + 8
    if kind < 12:
        return {0: None, 8: 0, 9: 1}[kind], place
    end = place + (kind - 12) // 2
    if end > len(payload):
        raise ValueError(kind)
    data = payload[place:end]
    return (data.decode("utf-8") if kind % 2 else data), end


_COLUMNS = (
    "number", "head", "kind", "schema", "at", "clock_back", "version", "previous", "inputs", "digest", "record",
)  # fmt: skip
_LEAST_ENTRY = 256  # bytes that the shortest entry takes: two seals, a uid, a time


@dataclass(slots=True)
class _Finds:
    """What the pages gave: entries by seal with their number, head rows, and what the book knew of its losses."""

    entries: dict[str, tuple[int, Sealed]] = field(default_factory=dict)
    altered: dict[int, Doubtful] = field(default_factory=dict)
    # number, name, given, opened at
    heads: dict[str, list[tuple[int, str, str, str]]] = field(default_factory=dict)
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

    The header is not believed: a version that this program does not know is no reason to leave entries behind.

    Raises:
        BadInput: there is a file at `fresh` already.
        BookError: nothing of a book is left, or the disk refuses.
    """
    real = place.place_for(damaged, create=False)
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
    """Read with each size that the pages may have, and keep the one that gives most; the first that reads well will do."""
    best = _Finds()
    for size, reserved in layouts(path):
        with opened_leaves(path, size, reserved) as leaves:
            finds = _read_all(leaves)
        best = max(best, finds, key=lambda each: len(each.entries))
        if best.entries and not (best.altered or best.bad_pages):
            break
    return best


def _read_all(leaves: Leaves) -> _Finds:
    finds = _Finds()
    for row in leaves.rows():
        _sort(row, finds)
    finds.bad_pages = len(leaves.bad_pages)
    # A damaged count must not make a million losses out of nothing, nor a damaged number.
    most = max((number for number, _ in finds.entries.values()), default=0)
    limit = len(finds.entries) + leaves.pages * leaves.page_size // _LEAST_ENTRY
    finds.highest = max(min(finds.highest, limit), most)
    if most > limit or not _numbers_fit(finds):
        _number_anew(finds)
    return finds


def _numbers_fit(finds: _Finds) -> bool:
    """Return whether every entry has a higher number than those it names; a number is no part of its seal."""
    numbers = {digest: number for digest, (number, _) in finds.entries.items()}
    return all(
        numbers.get(seal, 0) < number
        for number, sealed in finds.entries.values()
        for seal in (*sealed.previous, *sealed.inputs)
    )


def _number_anew(finds: _Finds) -> None:
    links = {
        digest: ((*sealed.previous, *sealed.inputs), sealed.at)
        for digest, (_, sealed) in finds.entries.items()
    }
    finds.entries = {
        digest: (number, finds.entries[digest][1]) for number, digest in enumerate(in_order(links), start=1)
    }
    finds.highest = len(finds.entries)


def _sort(row: Row, finds: _Finds) -> None:
    """Tell by its columns which table a row belongs to."""
    number, columns = row
    match columns:
        case (_, str(), str(), int(), str(), int(), str(), str(), str(), str(), str()):
            _sort_entry(number, columns, finds)
        case (str(uid), str(name), str(given), str(opened_at)) if len(uid) == 16:
            finds.heads.setdefault(uid, []).append((number, name, given, opened_at))
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
    try:
        connection, real, _ = migrations.opened(fresh, create=True, patience=0)
        with closing(connection), place.transaction(connection, real):
            return _fill(connection, finds)
    except BaseException:
        with suppress(OSError):
            fresh.unlink()
        raise


def _fill(connection: Connection, finds: _Finds) -> RescueReport:
    now = stamp(utc_now())
    uids = {sealed.head for _, sealed in finds.entries.values()}
    proved = [found for uid in sorted(uids) if (found := _proved_head(uid, finds)) is not None]
    for _, name, row in sorted(proved, key=lambda item: item[0]):
        rows.add_head(connection, row, name)
    nameless = [_invent_head(uid, finds) for uid in sorted(uids - {head.uid for _, _, head in proved})]
    names = tuple(rows.add_head(connection, head) for head in nameless)
    kept = _one_per_number(finds)
    for number, sealed in kept.items():
        rows.add_entry(connection, sealed, number)
    gone = set(range(1, finds.highest + 1)) - kept.keys()
    roots = {head.root for _, _, head in proved} | {head.root for head in nameless}
    seals = finds.named - {sealed.digest for sealed in kept.values()} - roots
    rows.note_lost(connection, gone, seals, now)
    return RescueReport(
        heads=len(uids),
        entries=len(kept),
        lost=tuple(sorted(gone - finds.lost_before - finds.altered.keys())),
        doubtful=tuple(item for number, item in sorted(finds.altered.items()) if number not in kept),
        nameless=names,
        empty=tuple(found[0][1] for uid, found in finds.heads.items() if uid not in uids),
        bad_pages=finds.bad_pages,
    )


def _proved_head(uid: str, finds: _Finds) -> tuple[int, str, HeadRow] | None:
    """Return number, name here and row of a head where its first entry is sealed to it, or is gone."""
    named, mine = finds.named, [item for item in finds.entries.values() if item[1].head == uid]
    digests, first = {sealed.digest for _, sealed in mine}, min(mine, key=lambda item: item[0])[1]
    first_is_there = first.kind == "head" and digests.isdisjoint(first.previous)
    for number, name, given, opened_at in finds.heads.get(uid, []):
        # Where one of two copies was damaged, the other may still be right.
        for word, when in product((given, name), (opened_at, first.at)):
            head = HeadRow(uid=uid, given=word, opened_at=when)
            if _can_be_named(word) and (head.root in named or not first_is_there):
                here = name if name.startswith(f"{word} (") and _can_be_named(name) else word
                return number, here, head
    return None


def _can_be_named(name: str) -> bool:
    try:
        return checked_name(name) == name
    except BadInput:
        return False


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
