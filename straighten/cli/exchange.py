"""Commands about the book itself: heads, history, export, import, strike, settle; book check, rescue, merge."""

from __future__ import annotations

import csv
import io
import json
import sys
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer
from typer import Argument, Option

from straighten.cli.figures import FigureOption, looked_at, outgoing, write_figure
from straighten.cli.options import BookOption, Force, Json, Name, book_path, head_file, shop_book
from straighten.cli.terminal import answer, busy, note, say
from straighten.errors import BadInput, BookError, in_shell

if TYPE_CHECKING:
    from straighten.book import Book, MergeReport

LARGEST = 32 * 2**20  # characters of a file to import; a head with a hundred passes has a fortieth of it
WRITE_ANEW = (
    "Write it anew where the head is: straighten export NAME --out FILE, then here: straighten import FILE"
)

Out = Annotated[Path | None, Option("--out", metavar="FILE", help="Where to write; left out: stdout.")]

book_app = typer.Typer(
    name="book",
    help="Look after the book: check, rescue, merge.",
    no_args_is_help=True,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"]},
)


def _known_name(book: Book, name: str) -> str:
    """Return the head's name in the book: as typed, or as its head file calls it."""
    if book.has_head(name):
        return name
    path = head_file(name)
    if path is not None:
        from straighten.head import read_head

        title = read_head(path).name
        if book.has_head(title):
            return title
    raise BadInput(
        f"the book knows no {name[:60]!r}", where="NAME", fix="Its heads are listed by: straighten heads"
    )


def heads(book: BookOption = None, as_json: Json = False) -> None:
    """List the heads of the book, each with its state and its last entry."""
    with shop_book(book, create=False) as opened:
        lines = opened.heads()
    text = "\n".join(
        f"{line.name}\n    {line.state}, {line.passes} passes, last entry {line.last} ({line.last_kind}) {line.last_at[:16]}Z"
        for line in lines
    )
    plain = {"schema": "straighten/heads/1", "heads": [asdict(line) for line in lines]}
    answer(plain, text or "The book holds no head yet.", as_json=as_json)


def export(
    name: Name,
    out: Out = None,
    as_csv: Annotated[
        bool,
        Option("--csv", help="Readings and passes as a table instead of the whole record as JSON."),
    ] = False,
    force: Force = False,
    book: BookOption = None,
    as_json: Json = False,
) -> None:
    """Write a head with all its entries: JSON to import elsewhere, or readings and passes as CSV."""
    to_pipe = out is None or str(out) == "-"
    if to_pipe and as_csv and as_json:
        raise BadInput("a table and JSON at once", where="--csv", fix="Name a file for the table with --out.")
    with shop_book(book, create=False) as opened:
        title = _known_name(opened, name)
        text = _table(opened, title) if as_csv else _record(opened, title)
    if out is None or to_pipe:
        say(text, end=False)
        return
    with outgoing() as files:
        files.put(out, text, force=force)
    if as_json:
        form = "csv" if as_csv else "json"
        answer(
            {"schema": "straighten/export/1", "head": title, "form": form, "file": str(out)}, "", as_json=True
        )
    note(f"wrote {out}")


def _record(book: Book, title: str) -> str:
    return json.dumps(book.export_plain(title), sort_keys=True, indent=1, allow_nan=False) + "\n"


def _table(book: Book, title: str) -> str:
    from straighten.desk.reading_out import COLUMNS, harmless, table_rows

    sheet = io.StringIO()
    writer = csv.DictWriter(sheet, ["head", *COLUMNS], lineterminator="\n")
    writer.writeheader()
    for row in table_rows(book.entries(title, struck=True)):
        writer.writerow({key: harmless(value) for key, value in {"head": title, **row}.items()})
    return sheet.getvalue()


def import_(
    file: Annotated[Path, Argument(metavar="FILE", help="What export wrote; - reads it from a pipe.")],
    book: BookOption = None,
    as_json: Json = False,
) -> None:
    """Take in a head that was exported here or elsewhere; one changed or cut short since is refused."""
    try:
        data = parsed(_text_of(file), str(file))
        with shop_book(book) as opened, busy("taking it in"):
            report = opened.import_plain(data)
    except BadInput as fault:
        raise _with_next(fault, str(file)) from None
    _tell_merge(report, as_json=as_json)


def _with_next(fault: BadInput, file: str) -> BadInput:
    """Return the refusal of a file to import with the file's name and what to type next."""
    named = fault if fault.where.startswith(file) else fault.at(file)
    return BadInput(named.problem, where=named.where, fix=f"{fault.fix} {WRITE_ANEW}".lstrip())


def parsed(text: str, where: str) -> object:
    """Return what a JSON text says.

    Raises:
        BadInput: it is no JSON, nested without end, or holds numbers that no book holds.
    """
    if len(text) > LARGEST:
        raise BadInput(f"{len(text)} characters are no export of one head", where=where)
    try:
        return json.loads(text, parse_constant=_refuse_constant)
    except RecursionError:
        problem = "nested too deep to be an export"
    except json.JSONDecodeError as fault:
        problem = f"no JSON at line {fault.lineno}, column {fault.colno}: {fault.msg}"
    except ValueError as fault:  # NaN, or a number of thousands of digits
        problem = f"a number in it cannot be read: {str(fault)[:60]}"
    raise BadInput(problem, where=where)


def _refuse_constant(word: str) -> float:
    raise ValueError(f"{word} is no number")


def _text_of(file: Path) -> str:
    from straighten.filecheck import load_text

    if str(file) != "-":
        return load_text(file, LARGEST)
    try:
        return sys.stdin.buffer.read(LARGEST + 1).decode("utf-8")
    except UnicodeDecodeError:
        raise BadInput("this is no text", where="-") from None


def _tell_merge(report: MergeReport, *, as_json: bool) -> None:
    lines = [f"{report.heads} heads and {report.entries} entries came in."]
    lines += [f"{there!r} is called {here!r} here: the name was taken." for there, here in report.renamed]
    lines += [
        f"{name!r} was carried on in both places: straighten settle {in_shell(name)}"
        for name in report.forked
    ]
    if not report.sealed:
        lines.append("An export of an older form: whether its last entries are there cannot be told.")
    plain: dict[str, Any] = {"schema": "straighten/import/1", **asdict(report)}
    answer(plain, "\n".join(lines), as_json=as_json)


def strike(
    number: Annotated[int, Argument(metavar="NUMBER", help="Number of the entry, as the commands tell it.")],
    reason: Annotated[str, Option("--reason", help="Why, in a few words; it is kept.")] = "",
    book: BookOption = None,
    as_json: Json = False,
) -> None:
    """Take an entry out of use; it stays in the book with the reason."""
    with shop_book(book, create=False) as opened:
        later = [e for e in opened.computed_from(number) if e.kind != "strike"]
        struck = opened.strike(number, reason)
    plain = {
        "schema": "straighten/strike/1",
        "head": struck.head,
        "entry": struck.number,
        "struck": number,
        "computed_from_it": [e.number for e in later],
    }
    answer(
        plain, f"Entry {number} of {struck.head} is out of use, by entry {struck.number}.", as_json=as_json
    )
    if later:
        told = ", ".join(f"{e.number} ({e.kind})" for e in later)
        note(f"Computed from it and now in doubt: {told}. Make them again, or strike them too.")


def settle(
    name: Name,
    both: Annotated[bool, Option("--both", help="All entries count, in the order of their times.")] = False,
    keep: Annotated[
        int | None,
        Option("--keep", metavar="NUMBER", help="Only the line of this entry counts; the others are struck."),
    ] = None,
    book: BookOption = None,
    as_json: Json = False,
) -> None:
    """Make one line of a head that was carried on in two copies of the book; without an option: show the lines."""
    if both and keep is not None:
        raise BadInput(
            "both lines and one of them at once", where="--keep", fix="Give one of the two options."
        )
    with shop_book(book, create=False) as opened:
        title = _known_name(opened, name)
        lines = opened.open_lines(title)
        entries = {e.number: e for e in opened.entries(title)}
        settled = opened.settle(title, keep) if both or keep is not None else None
    text: list[str] = []
    for place, line in enumerate(lines, start=1):
        text.append(f"line {place}")
        text += [f"    entry {n}: {entries[n].kind}, {entries[n].at[:16]}Z" for n in line]
    if settled is not None:
        text = [f"{title} runs in one line again, by entry {settled.number}."]
    plain = {
        "schema": "straighten/settle/1",
        "head": title,
        "lines": [list(line) for line in lines],
        "entry": None if settled is None else settled.number,
    }
    answer(plain, "\n".join(text) or f"{title} runs in one line: nothing is to be settled.", as_json=as_json)
    if lines and settled is None:
        note(
            f"Next: straighten settle {in_shell(name)} --both, or straighten settle {in_shell(name)} --keep {lines[0][0]}"
        )


@book_app.command("check")
def check(book: BookOption = None, as_json: Json = False) -> None:
    """Look for damage and for entries that do not match their seals."""
    path = book_path(book)
    with shop_book(path, create=False) as opened, busy("checking every seal"):
        faults = opened.check()
    if faults and not as_json:
        raise BookError(
            "; ".join(faults), where=str(path), fix="Run `straighten book rescue` into a new file."
        )
    answer({"schema": "straighten/book-check/1", "faults": faults}, "The book is whole.", as_json=as_json)
    if faults:
        raise typer.Exit(BookError.exit_code)


@book_app.command("rescue")
def rescue(
    fresh: Annotated[Path, Argument(metavar="FILE", help="New book to write what can be read into.")],
    book: BookOption = None,
    as_json: Json = False,
) -> None:
    """Read what can be read of a damaged book into a new one; the damaged one is left as it is."""
    from straighten.book import rescue as rescued

    with busy("reading what can be read"):
        found = rescued(book_path(book), fresh)
    lines = [f"{found.heads} heads and {found.entries} entries are in {fresh}."]
    lines += [f"lost: entry {number}" for number in found.lost]
    lines += [f"altered, left out: entry {d.number} ({d.kind})" for d in found.doubtful]
    lines += [f"its name is gone, now called {name!r}" for name in found.nameless]
    lines += [f"nothing left of {name!r}" for name in found.empty]
    lines += ["Nothing was lost."] if found.complete else []
    answer({"schema": "straighten/book-rescue/1", **asdict(found)}, "\n".join(lines), as_json=as_json)


@book_app.command("merge")
def merge(
    other: Annotated[Path, Argument(metavar="FILE", help="Another book, which is left as it is.")],
    book: BookOption = None,
    as_json: Json = False,
) -> None:
    """Take in all heads and entries of another book."""
    with shop_book(book) as opened, busy("merging"):
        report = opened.merge(other)
    _tell_merge(report, as_json=as_json)


def history(
    figure: FigureOption = None,
    book: BookOption = None,
    as_json: Json = False,
) -> None:
    """Show what the shop's heads have taught: factors, passes per head, foretold against measured."""
    from straighten.desk.reading_out import shop_history
    from straighten.sheet.learned import history_text

    looked_at(figure)
    with shop_book(book, create=False) as opened, busy("looking through all passes"):
        found = shop_history(opened)
    with outgoing() as files:
        write_figure(files, figure, lambda: found)
    answer(found.to_plain(), history_text(found), as_json=as_json)
