"""Heads leave and enter a book: as plain objects, or straight from another book. Both ways take the same checks."""

from __future__ import annotations

import json
import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from contextlib import closing, contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from sqlite3 import Connection
from typing import Any

from straighten import __version__
from straighten.book import migrations, place, rows
from straighten.book.outcomes import check_outcome
from straighten.book.place import told
from straighten.book.records import MergeReport
from straighten.book.rows import open_lines
from straighten.book.seals import (
    HeadRow,
    Sealed,
    checked_name,
    checked_stamp,
    sha256,
    stamp,
    text_of,
    utc_now,
)
from straighten.errors import BadInput

SCHEMA = "straighten/head-record/2"
# The form before: nothing in it tells whether its last entries are there.
UNSEALED = "straighten/head-record/1"
_SEAL = re.compile(r"[0-9a-f]{64}")
_UID = re.compile(r"[0-9a-f]{16}")
_HEAD = {"uid": str, "name": str, "opened_at": str}
_ENTRY = {
    "number": int, "kind": str, "schema": int, "at": str, "clock_back": bool, "version": str,
    "previous": list, "inputs": list, "record": dict, "digest": str,
}  # fmt: skip
_WHOLE = {"schema": str, "head": dict, "entries": list, "lost": list}


@dataclass(frozen=True, slots=True, kw_only=True)
class Parcel:
    """A head on its way in: its row, its entries with their numbers there, and the seals known to be lost there.

    `sealed` whether a seal over the whole shows that none of its entries is left out.
    """

    head: HeadRow
    entries: tuple[tuple[int, Sealed], ...]
    lost: frozenset[str]
    sealed: bool = True


def export_head(connection: Connection, name: str) -> dict[str, Any]:
    """Return a head with all its entries as one plain object under one seal, ready for JSON."""
    seen = rows.look(connection)
    plain = _packed(connection, seen, seen.uid(name))
    return {**plain, "seal": _seal_of(plain)}


def _seal_of(plain: Mapping[str, Any]) -> str:
    return sha256(["straighten head record", {key: plain[key] for key in sorted(_WHOLE)}])


def _packed(connection: Connection, seen: rows.Look, uid: str) -> dict[str, Any]:
    head, _ = seen.heads[uid]
    entries = list(rows.sealed_in(connection, sorted(seen.places.get(uid, ())), uid))
    named = {seal for _, sealed in entries for seal in (*sealed.previous, *sealed.inputs)}
    return {
        "schema": SCHEMA,
        "program": __version__,
        "head": {"uid": head.uid, "name": head.given, "opened_at": head.opened_at},
        "entries": [_packed_entry(number, sealed) for number, sealed in entries],
        "lost": sorted(named & rows.lost_seals(connection)),
    }


def _packed_entry(number: int, sealed: Sealed) -> dict[str, Any]:
    plain = {key: getattr(sealed, key) for key in _ENTRY if key != "number"}
    seals = {key: list(plain[key]) for key in ("previous", "inputs")}
    return {**plain, **seals, "number": number, "record": json.loads(sealed.record)}


def unpack(data: object) -> Parcel:
    """Return a head out of the plain object that `export_head` gives, which may come from anywhere.

    Raises:
        BadInput: it has not that form, an entry does not match its seal, or the whole does not match its own.
    """
    whole = _fields(data, _WHOLE, "")
    if whole["schema"] not in (SCHEMA, UNSEALED):
        raise BadInput(f"{whole['schema']!r:.60} is not the form {SCHEMA}.", where="schema")
    sealed = whole["schema"] == SCHEMA
    parcel = replace(_unpacked(whole), sealed=sealed)
    if sealed:
        text_of({key: whole[key] for key in ("head", "lost")}, "file")
        seal = _fields(data, {"seal": str}, "")["seal"]
        _demand(seal == _seal_of(whole), "it was changed or cut short after it was exported.", "seal")
    return parcel


def _unpacked(whole: Mapping[str, Any]) -> Parcel:
    head = _head(_fields(whole["head"], _HEAD, "head"))
    entries = tuple(
        _entry(item, head.uid, f"entries[{place}]") for place, item in enumerate(whole["entries"])
    )
    _demand(entries, "a head without entries.", "entries")
    twice = Counter(sealed.digest for _, sealed in entries).most_common(1)[0]
    _demand(twice[1] == 1, "an entry stands in it twice.", "entries")
    return Parcel(head=head, entries=entries, lost=frozenset(_seals(whole["lost"], "lost")))


def _fields(data: object, form: Mapping[str, type], where: str) -> dict[str, Any]:
    if not isinstance(data, Mapping):
        raise BadInput("an object is needed here.", where=where or "file")
    for key, kind in form.items():
        if type(data.get(key)) is not kind:
            raise BadInput(f"the key {key!r} is missing or no {kind.__name__}.", where=where or "file")
    return {key: data[key] for key in form}


def _head(fields: Mapping[str, Any]) -> HeadRow:
    _demand(_UID.fullmatch(fields["uid"]), "the uid is not 16 hexadecimal digits.", "head")
    name = checked_name(fields["name"])
    return HeadRow(uid=fields["uid"], given=name, opened_at=checked_stamp(fields["opened_at"]))


def _entry(item: object, uid: str, where: str) -> tuple[int, Sealed]:
    fields = _fields(item, _ENTRY, where)
    number, schema = fields["number"], fields["schema"]
    _demand(0 < number < 2**62 and 0 < schema < 2**31, "a number is out of range.", where)
    words = fields["kind"].isidentifier() and fields["version"].isprintable()
    _demand(words, "kind or version is no word.", where)
    check_outcome(fields["record"], f"{where}.record.outcome")
    sealed = Sealed(
        **{key: fields[key] for key in ("kind", "schema", "clock_back", "version", "digest")},
        head=uid,
        at=checked_stamp(fields["at"]),
        previous=_seals(fields["previous"], where),
        inputs=_seals(fields["inputs"], where),
        record=text_of(fields["record"], f"{where}.record"),
    )
    _demand(sealed.sound, "the entry does not match its seal: it was changed after it was exported.", where)
    return number, sealed


def _seals(items: list[object], where: str) -> tuple[str, ...]:
    seals = tuple(item for item in items if isinstance(item, str) and _SEAL.fullmatch(item))
    _demand(len(seals) == len(items), "a seal is not 64 hexadecimal digits.", where)
    return seals


def _demand(holds: object, problem: str, where: str) -> None:
    if not holds:
        raise BadInput(problem, where=where)


@contextmanager
def opened_to_read(other: Path, own: Path) -> Iterator[Connection]:
    """Open another book without the right to change it.

    Raises:
        BookError: it is no book, or newer than the program.
        BadInput: it is the same book.
    """
    real = place.place_for(other, create=False)
    if real == own:
        raise BadInput("a book cannot be merged into itself.", where=str(other))
    migrations.refuse_newer(real)
    with told(real), closing(place.connect(real, patience=place.PATIENCE, mode="ro")) as connection:
        connection.execute("PRAGMA trusted_schema = OFF")  # a view of a stranger's file may call no function
        migrations.refuse_foreign(connection, real)
        yield connection


def parcels(connection: Connection, path: Path) -> Iterator[Parcel]:
    """Give the heads of another book one by one, all from one state of it.

    Raises:
        BookError: it is damaged, or entries are missing, be it at its end.
    """
    with told(path):
        connection.execute("BEGIN")
        seen = rows.look(connection)
        for uid in seen.heads:
            yield _unpacked(_packed(connection, seen, uid))


def take_in(connection: Connection, arriving: Iterable[Parcel], where: str) -> MergeReport:
    """Add what is not here yet; entries that came from one copy and were lost here get their place back.

    Raises:
        BadInput: an entry follows one that is neither there nor here nor known as lost.
    """
    seen = rows.look(connection)
    before, heads_before, forked, sealed = _count(connection), len(seen.heads), [], True
    renamed = []
    for parcel in arriving:
        uid = parcel.head.uid
        if uid not in seen.heads:
            seen.heads[uid] = parcel.head, rows.add_head(connection, parcel.head)
            if seen.heads[uid][1] != parcel.head.given:
                renamed.append((parcel.head.given, seen.heads[uid][1]))
        sealed = sealed and parcel.sealed
        mine = seen.places.setdefault(uid, [])
        was_here = bool(mine)
        fresh = _add_missing(connection, parcel, mine, where)
        mine += fresh
        if was_here and fresh and open_lines(rows.chain_of(connection, seen, uid)):
            forked.append(seen.heads[uid][1])
    return MergeReport(
        heads=len(seen.heads) - heads_before,
        entries=_count(connection) - before,
        renamed=tuple(renamed),
        forked=tuple(forked),
        sealed=sealed,
    )


def _count(connection: Connection) -> int:
    return int(connection.execute("SELECT count(*) FROM entry").fetchone()[0])


def _add_missing(connection: Connection, parcel: Parcel, mine: Iterable[int], where: str) -> list[int]:
    """Add the entries of a parcel that are not here, beside those of the numbers `mine`; return their numbers."""
    numbers = {sealed.digest: number for number, sealed in rows.sealed_in(connection, mine, parcel.head.uid)}
    roots = {parcel.head.root}
    missing = [(number, sealed) for number, sealed in parcel.entries if sealed.digest not in numbers]
    for number, sealed in missing:
        named = {*sealed.previous, *sealed.inputs} - numbers.keys() - roots
        _demand(named <= parcel.lost, "an entry is missing from the chain.", f"{where}: entry {number}")
        place_here = _place_lost(connection, number, sealed, numbers)
        numbers[sealed.digest] = rows.add_entry(connection, sealed, place_here)
        connection.execute("DELETE FROM lost WHERE number = ? OR digest = ?", (place_here, sealed.digest))
        rows.note_lost(connection, (), named, stamp(utc_now()))
    return [numbers[sealed.digest] for _, sealed in missing]


def _place_lost(
    connection: Connection, number: int, sealed: Sealed, numbers: Mapping[str, int]
) -> int | None:
    """Return the number an entry had, where a rescue noted it as lost and its neighbours agree; else None."""
    lost = connection.execute("SELECT 1 FROM lost WHERE number = ?", (number,)).fetchone()
    after = max((numbers.get(digest, 0) for digest in (*sealed.previous, *sealed.inputs)), default=0)
    before = connection.execute(
        "SELECT min(number) FROM entry WHERE head = ? AND (instr(previous, ?) OR instr(inputs, ?))",
        (sealed.head, sealed.digest, sealed.digest),
    ).fetchone()[0]
    fits = lost is not None and after < number < (before or number + 1)
    return number if fits else None
