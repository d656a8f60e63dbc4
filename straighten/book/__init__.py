"""Room `book`: takes plain records, keeps them for good in one SQLite file, gives them back; does not know what they mean.

A book holds heads and, per head, a chain of entries. Entries are only ever added. Each one is sealed: its
SHA-256 covers what it says, the entries it was computed from and the seals of the entries it follows, so a
changed or missing entry shows, and an entry proves itself wherever it is found.

One thread uses one `Book`; any number of programs may use one file.
"""

from straighten.book.records import (
    KINDS,
    Doubtful,
    Entry,
    HeadLine,
    Kind,
    MergeReport,
    Outcome,
    RescueReport,
)
from straighten.book.salvage import rescue
from straighten.book.store import Book, open_book

__all__ = [
    "KINDS",
    "Book",
    "Doubtful",
    "Entry",
    "HeadLine",
    "Kind",
    "MergeReport",
    "Outcome",
    "RescueReport",
    "open_book",
    "rescue",
]
