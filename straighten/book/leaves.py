"""Rows read straight off the pages of an SQLite file, without its tree: what is left of a damaged one.

Only table leaves are read, and the overflow chains that hang on them; whatever does not parse is passed over.
Nothing read here is trusted: the seals of the entries decide what is genuine.

Source: SQLite, "Database File Format", sections 1.3 (header), 1.6 (B-tree pages), 2.1 (record format) -- from memory;
proved against files that SQLite itself wrote.
"""

from __future__ import annotations

import os
import struct
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from io import FileIO
from pathlib import Path

from straighten.book.place import PAGE

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
