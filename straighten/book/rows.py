"""The order of a head's entries, and whether its chain runs in several lines: both from the entries alone.

Entry numbers belong to one book; two books that hold the same entries may number them otherwise. So an entry comes after
those it follows, and of two that do not follow each other the earlier time comes first, then the smaller seal.
"""

from __future__ import annotations

import heapq
import json
import os
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence, Set
from dataclasses import dataclass, replace
from functools import reduce
from operator import or_
from sqlite3 import Connection, Row
from typing import Any

from straighten.book.place import ASK_RESCUE, altered
from straighten.book.records import Entry
from straighten.book.seals import HeadRow, Sealed, dumps
from straighten.errors import BadInput, BookError

Links = Mapping[str, tuple[Sequence[str], str]]  # seal -> (seals it follows, time)
_AS_SEALED = ("kind", "schema", "at", "clock_back", "version", "previous", "digest")
_ABOUT_OTHERS = ("strike", "settle")  # kinds that say something about entries, not about the head


def in_order(links: Links) -> list[str]:
    """Return the seals of a head's entries in the order that counts."""
    due = {seal: len(links.keys() & set(previous)) for seal, (previous, _) in links.items()}
    followers = defaultdict(list)
    for seal, (previous, _) in links.items():
        for before in set(previous):
            followers[before].append(seal)
    free = [(at, seal) for seal, (_, at) in links.items() if not due[seal]]
    heapq.heapify(free)
    found = []
    while free:
        _, seal = heapq.heappop(free)
        found.append(seal)
        for after in followers[seal]:
            due[after] -= 1
            if not due[after]:
                heapq.heappush(free, (links[after][1], after))
    return found


def open_lines(chain: Sequence[Entry]) -> tuple[tuple[int, ...], ...]:
    """Return the lines in which a head was carried on apart and which no later entry settles, as entry numbers.

    Args:
        chain: all entries of a head in order, struck ones too.

    Returns:
        One tuple of numbers for each line; none where every entry knew of the others.
    """
    place = {entry.digest: n for n, entry in enumerate(chain)}
    before: list[int] = []  # for each entry the set of those it follows, one bit for each place
    for entry in chain:
        known = [place[seal] for seal in entry.previous if seal in place]
        before.append(_union(before[n] | 1 << n for n in known))
    settled = [before[n] for n, entry in enumerate(chain) if entry.kind == "settle"]
    counting = _union(
        1 << n for n, entry in enumerate(chain) if entry.struck_by is None and entry.kind not in _ABOUT_OTHERS
    )
    apart = 0
    for n in range(len(chain)):
        if counting >> n & 1:
            others = counting & ((1 << n) - 1) & ~before[n]
            for known_to_it in settled:
                others &= ~known_to_it if known_to_it >> n & 1 else -1
            apart |= others | 1 << n if others else 0
    return _lines(chain, before, apart)


def _union(sets: Iterable[int]) -> int:
    return reduce(or_, sets, 0)


def _lines(chain: Sequence[Entry], before: Sequence[int], apart: int) -> tuple[tuple[int, ...], ...]:
    lines: list[list[int]] = []
    for n in (n for n in range(len(chain)) if apart >> n & 1):
        line = next((line for line in lines if before[n] >> line[-1] & 1), None)
        if line is None:
            lines.append([n])
        else:
            line.append(n)
    return tuple(tuple(chain[n].number for n in line) for line in lines)


TEACHES = "pass"  # the kind of entry whose outcome is pooled


def new_head(name: str, opened_at: str) -> HeadRow:
    """Return a head that no other book has: its uid is random."""
    return HeadRow(uid=os.urandom(8).hex(), given=name, opened_at=opened_at)


def add_head(connection: Connection, head: HeadRow, wanted: str | None = None) -> str:
    """Add a head and return its name here; where another head has that name, a number is put behind it."""
    first = wanted or head.given
    name, count = first, 1
    while find_uid(connection, name) is not None:
        count += 1
        name = f"{first} ({count})"
    connection.execute("INSERT INTO head VALUES (?, ?, ?, ?)", (head.uid, name, head.given, head.opened_at))
    return name


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """What one look through the whole book finds, past every index: a damaged index would leave an entry out.

    `heads` by uid, as they travel and with their name in this book; `places` numbers of each head's entries; `taught`
    time and seal of each head's newest pass.
    """

    heads: dict[str, tuple[HeadRow, str]]
    places: dict[str, list[int]]
    taught: dict[str, tuple[str, str]]

    def add(self, uid: str, number: int, kind: str, when: tuple[str, str]) -> None:
        """Take note of an entry; `when` its time and seal."""
        self.places.setdefault(uid, []).append(number)
        if kind == TEACHES:
            self.taught[uid] = max(self.taught.get(uid, ("", "")), when)

    def uid(self, name: str) -> str:
        """Return the uid of the head of that name.

        Raises:
            BadInput: there is none; names that look like it are told.
        """
        names = {known: uid for uid, (_, known) in self.heads.items()}
        if name in names:
            return names[name]
        from difflib import get_close_matches

        newest = list(reversed(names))
        near = get_close_matches(name, newest, n=3) or newest[:5]
        known = (
            f"Known: {', '.join(near)}." if near else "The book has no head yet: begin with `straighten new`."
        )
        raise BadInput("there is no head of this name in the book.", where=name, fix=known)


def heads_in(connection: Connection) -> dict[str, tuple[HeadRow, str]]:
    """Return uid -> (head as it travels, its name in this book) in the order they came into it."""
    found = {}
    for row in connection.execute("SELECT uid, given, opened_at, name FROM head ORDER BY rowid"):
        uid, given, opened_at, name = map(str, row)
        found[uid] = HeadRow(uid=uid, given=given, opened_at=opened_at), name
    return found


def look(connection: Connection) -> Look:
    """Look through the book.

    Raises:
        BookError: a row of a head was damaged, or the head of an entry is missing: it would look as if it had never been.
    """
    found = Look(heads=heads_in(connection), places={}, taught={})
    for head, name in found.heads.values():
        if name != head.given and not name.startswith(f"{head.given} ("):
            raise altered(f"head {name!r:.60}")
    cursor = connection.cursor()
    cursor.row_factory = None  # plain tuples: there may be many
    for number, uid, kind, at, digest in cursor.execute(
        "SELECT number, head, kind, at, digest FROM entry NOT INDEXED"
    ):
        found.add(uid, number, kind, (at, digest))
    for uid in found.places.keys() - found.heads.keys():
        raise altered(f"the head of entry {found.places[uid][0]}")
    there = {number for numbers in found.places.values() for number in numbers}
    for gap in gaps(connection, there):
        raise BookError(gap, where="book", fix=ASK_RESCUE)
    return found


def gaps(connection: Connection, there: Set[int]) -> Iterator[str]:
    """Tell the numbers that are missing: entries are numbered without a gap, SQLite keeps the highest ever given."""
    row = connection.execute(
        "SELECT max(CAST(seq AS INTEGER)) FROM sqlite_sequence WHERE name = 'entry'"
    ).fetchone()
    noted = {row["number"] for row in connection.execute("SELECT number FROM lost WHERE number IS NOT NULL")}
    last = 0
    for number in sorted(there | noted | {(row[0] or 0) + 1}):
        if number == last + 2:
            yield f"entry {number - 1} is missing."
        elif number > last + 2:
            yield f"entries {last + 1} to {number - 1} are missing."
        last = number


def find_uid(connection: Connection, name: str) -> str | None:
    """Return the uid of the head of that name, or None."""
    row = connection.execute("SELECT uid FROM head WHERE name = ?", (name,)).fetchone()
    return None if row is None else str(row["uid"])


def add_entry(connection: Connection, sealed: Sealed, number: int | None = None) -> int:
    """Add a sealed entry, at the end or at a number that is free, and return its number."""
    cursor = connection.execute(
        "INSERT INTO entry VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (number, sealed.head, sealed.kind, sealed.schema, sealed.at, int(sealed.clock_back), sealed.version,
         dumps(sealed.previous), dumps(sealed.inputs), sealed.digest, sealed.record),
    )  # fmt: skip
    return int(cursor.lastrowid or 0)


def sealed_of(row: Row | Mapping[str, Any]) -> Sealed:
    """Return the travelling form of a row of `entry`.

    Raises:
        BookError: it does not match its seal, or makes no sense at all.
    """
    where = f"entry {row['number']}"
    try:
        sealed = Sealed(
            **{key: row[key] for key in ("head", "kind", "schema", "at", "version", "record", "digest")},
            clock_back=bool(row["clock_back"]),
            previous=tuple(json.loads(row["previous"])),
            inputs=tuple(json.loads(row["inputs"])),
        )
        sound = sealed.sound
    except (ValueError, TypeError) as error:
        raise altered(where) from error
    if not sound:
        raise altered(where)
    return sealed


def sealed_in(connection: Connection, numbers: Iterable[int], uid: str) -> Iterator[tuple[int, Sealed]]:
    """Give number and travelling form of entries of a head.

    Raises:
        BookError: one does not match its seal.
    """
    for number in numbers:
        for row in connection.execute("SELECT * FROM entry WHERE number = ? AND head = ?", (number, uid)):
            yield int(row["number"]), sealed_of(row)


def tips(connection: Connection, uid: str) -> dict[str, str]:
    """Return seal -> time of the entries of a head that no entry follows yet; more than one after a merge of copies."""
    rows = connection.execute("SELECT digest, previous, at FROM entry WHERE head = ?", (uid,)).fetchall()
    followed = {digest for row in rows for digest in json.loads(row["previous"])}
    return {row["digest"]: row["at"] for row in rows if row["digest"] not in followed}


def numbers_of(connection: Connection, uid: str) -> dict[str, int]:
    """Return seal -> number of every entry of a head."""
    rows = connection.execute("SELECT digest, number FROM entry WHERE head = ?", (uid,))
    return {row["digest"]: row["number"] for row in rows}


def chain_of(connection: Connection, seen: Look, uid: str) -> list[Entry]:
    """Return all entries of a head in the order that counts, struck ones too.

    Raises:
        BookError: an entry does not match its seal, or one it follows is gone: neither may feed a plan.
    """
    head, name = seen.heads[uid]
    found = {
        sealed.digest: (number, sealed)
        for number, sealed in sealed_in(connection, seen.places.get(uid, ()), uid)
    }
    known = {digest: number for digest, (number, _) in found.items()}
    struck: dict[str, int] = {}
    chain = []
    for digest in in_order({digest: (sealed.previous, sealed.at) for digest, (_, sealed) in found.items()}):
        number, sealed = found[digest]
        chain.append(given_back(sealed, number, name, known))
        if sealed.kind == "strike":
            struck.setdefault(str(chain[-1].record.get("struck_sha256")), number)
    _refuse_gaps(connection, found.values(), {head.root, *known})
    return [replace(entry, struck_by=struck.get(entry.digest)) for entry in chain]


def _refuse_gaps(connection: Connection, found: Iterable[tuple[int, Sealed]], known: Set[str]) -> None:
    missing = [(number, seal) for number, sealed in found for seal in sealed.previous if seal not in known]
    noted = lost_seals(connection) if missing else set()
    for number, seal in missing:
        if seal not in noted:
            raise BookError("the entry before it is missing.", where=f"entry {number}", fix=ASK_RESCUE)


def lost_seals(connection: Connection) -> set[str]:
    """Return the seals of entries that a rescue noted as lost."""
    return {row["digest"] for row in connection.execute("SELECT digest FROM lost WHERE digest IS NOT NULL")}


def given_back(sealed: Sealed, number: int, name: str, numbers: Mapping[str, int]) -> Entry:
    """Return a sealed entry, not struck, as it is given back: with the numbers of this book for the seals it names."""
    return Entry(
        **{key: getattr(sealed, key) for key in _AS_SEALED},
        number=number,
        head=name,
        inputs=tuple(numbers[digest] for digest in sealed.inputs if digest in numbers),
        struck_by=None,
        record=json.loads(sealed.record),
    )


def follow(connection: Connection, draft: Sealed) -> Sealed:
    """Return an entry put behind the last ones of its head and sealed; tell where the clock was set back."""
    last = tips(connection, draft.head)
    if not last:
        row = connection.execute(
            "SELECT uid, given, opened_at FROM head WHERE uid = ?", (draft.head,)
        ).fetchone()
        last = {HeadRow(**row).root: ""}
    return replace(draft, previous=tuple(sorted(last)), clock_back=draft.at < max(last.values())).closed()


def note_lost(connection: Connection, numbers: Iterable[int], seals: Iterable[str], at: str) -> None:
    """Note numbers and seals of entries that are gone, once each."""
    connection.executemany(
        "INSERT OR IGNORE INTO lost (number, noted_at) VALUES (?, ?)", [(number, at) for number in numbers]
    )
    connection.executemany(
        "INSERT OR IGNORE INTO lost (digest, noted_at) VALUES (?, ?)", [(seal, at) for seal in seals]
    )
