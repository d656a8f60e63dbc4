"""What goes into the book: the head's file, surveys, cards, passes done; each with the entries it was computed from."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from straighten.desk.dossier import Dossier, read_dossier
from straighten.desk.kept import stages_to_plain
from straighten.errors import BadInput, in_shell
from straighten.plan.records import PassSetup, setup_to_plain
from straighten.readings import Readings, to_plain

if TYPE_CHECKING:
    from straighten.book import Book, Entry, Kind
    from straighten.desk.planning import Planned


def keep_head(book: Book, dossier: Dossier) -> int:
    """Enter the head's file where the book does not hold this text yet, and return the entry's number."""
    latest = None if dossier.last is None else book.latest(dossier.name, "head")
    if latest is not None and latest.record.get("text") == dossier.text:
        return latest.number
    return book.append(dossier.name, "head", {"name": dossier.name, "text": dossier.text}).number


def record(book: Book, dossier: Dossier, kind: Kind, plain: dict[str, Any]) -> Entry:
    """Enter a record, computed from the head's file and every entry that counts.

    Raises:
        BookError: the book cannot take it; nothing is recorded.
    """
    with book.together():
        head = keep_head(book, dossier)
        return book.append(dossier.name, kind, plain, inputs=sorted({head, *dossier.inputs}))


def record_survey(book: Book, dossier: Dossier, readings: Readings) -> Entry:
    """Enter a survey.

    Raises:
        BookError: the book cannot take it; nothing is recorded.
    """
    with book.together():
        head = keep_head(book, dossier)
        return book.append(dossier.name, "survey", {"readings": to_plain(readings)}, inputs=[head])


def record_card(book: Book, dossier: Dossier, planned: Planned) -> None:
    """Enter the card that was printed, with the set-up it stands for; a refusal is entered as a check."""
    plain = planned.printed.to_plain()
    if planned.setup is None:
        record(book, dossier, "check", {"refusal": plain})
        return
    kept: dict[str, Any] = {"card": plain, "setup": setup_to_plain(planned.setup)}
    if planned.stages is not None:
        kept["stages"] = stages_to_plain(planned.stages)
    if planned.because:
        kept |= {"because": planned.because, "against": list(planned.against)}
    record(book, dossier, "plan", kept)


def record_pass(
    book: Book,
    dossier: Dossier,
    done: PassSetup,
    readings: Readings | None,
    outcome: dict[str, Any] | None,
    broke: tuple[str, ...] = (),
) -> Entry:
    """Enter what was done and the readings after it; the limits that it broke, in words, keep it out of the learning.

    Raises:
        BadInput: the head was never measured before.
        BookError: the book cannot take it; nothing is recorded.
    """
    if dossier.surveys[0] is None and not dossier.passes:
        raise BadInput(
            "a pass cannot be learned from without a survey before it",
            where="book",
            fix=f"Record one first: straighten measure {in_shell(dossier.name)} survey.toml",
        )
    kept = {"done": setup_to_plain(done), "readings": None if readings is None else to_plain(readings)}
    more = {"outcome": outcome, "broke": list(broke) or None}
    return record(book, dossier, "pass", kept | {key: told for key, told in more.items() if told is not None})


def reread(book: Book, dossier: Dossier) -> Dossier:
    """Return the dossier again after something was recorded."""
    return read_dossier(book, dossier.name, dossier.text, dossier.name)
