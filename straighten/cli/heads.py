"""Commands about a head before any pass: new, measure, check, where."""

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer
from typer import Argument, Option

from straighten.cli.figures import FigureOption, looked_at, outgoing, refuse_taken, write_figure
from straighten.cli.options import BookOption, Json, Name, beside, book_told, config_file, desk_for
from straighten.cli.terminal import answer, busy, folded, note, say, spelled, typed_at
from straighten.errors import BadInput, closed, in_shell

if TYPE_CHECKING:
    from straighten.desk.starting import Question
    from straighten.head.records import Head
    from straighten.readings import Readings


def new(
    name: Annotated[str, Argument(metavar="NAME", help="Name of the head, also of its folder.")],
    like: Annotated[
        str | None, Option("--like", metavar="HEAD", help="Copy the head file of a head known already.")
    ] = None,
    force: Annotated[bool, Option("--force", help="Write over files that are there.")] = False,
    book: BookOption = None,
    as_json: Json = False,
) -> None:
    """Ask what there is to know about a head, and write NAME/head.toml and NAME/survey.toml; off a terminal blank ones."""
    head, whole = written_new(name, like, book, force=force, as_json=as_json)
    note(f"{_still_open(head, whole=whole)}: straighten measure {in_shell(name)}")


def written_new(
    name: str, like: str | None, book: Path | None, *, force: bool, as_json: bool
) -> tuple[Path, bool]:
    """Write the files of a new head; return its head file, and whether that was there already.

    Raises:
        BadInput: no name for a head, files that are there, or the person left before the last question.
    """
    from straighten.head import read_head
    from straighten.readings import template_survey

    folder = Path(name)
    if (
        not name.strip()
        or not name.isprintable()
        or folder.is_absolute()
        or ".." in folder.parts
        or len(folder.parts) != 1
    ):
        raise BadInput(
            f"{name[:60]!r} is no name for a head", where="NAME", fix="For example: straighten new pump-four"
        )
    head, survey = folder / "head.toml", folder / "survey.toml"
    only_survey = like is None and not force and head.is_file() and not survey.exists()
    for path in [survey] if only_survey else [head, survey]:
        refuse_taken(path, force=force)
    if only_survey:
        files = {survey: template_survey(read_head(head))}
    else:
        asks = not as_json and sys.stdin.isatty() and sys.stdout.isatty()
        files = dict(zip((head, survey), _texts_of_new(name, like, book, asks=asks), strict=True))
    _write_new(folder, files, force=force)
    plain = {"schema": "straighten/new/1", "name": name, "files": [str(path) for path in files]}
    answer(plain, "\n".join(f"wrote {path}" for path in files), as_json=as_json)
    return head, only_survey


def _still_open(head: Path, *, whole: bool) -> str:
    """Return what the head file still asks for before the head is read."""
    from straighten.head import read_head

    if whole:
        return "Read the head"
    try:
        read_head(head)
    except BadInput:
        return f"Fill in what is missing in {head}, then read the head"
    return f"Add what else you know to {head}, the maker's limits first; then read the head"


def _texts_of_new(name: str, like: str | None, book: Path | None, *, asks: bool) -> tuple[str, str]:
    """Return the head file and the survey file of a new head: copied, asked for, or blank."""
    from straighten.desk.starting import copied, head_text
    from straighten.head import head_from_text
    from straighten.readings import blank_survey, template_survey

    if like is not None:
        with desk_for(like, book) as (_, dossier):
            text = copied(dossier.text, name)
    elif asks:
        text = _asked_head(name)
    else:
        return head_text(name, {}), blank_survey(name)
    return text, template_survey(head_from_text(text, name))


def _write_new(folder: Path, files: dict[Path, str], *, force: bool) -> None:
    fresh = not folder.exists()
    try:
        folder.mkdir(exist_ok=True)
        with outgoing() as ready:
            for path, content in files.items():
                ready.put(path, content, force=force)
    except OSError as fault:
        raise BadInput(f"cannot be written: {fault.strerror}", where=str(folder)) from None
    except BadInput:
        if fresh:
            folder.rmdir()
        raise


def _asked_head(name: str) -> str:
    """Ask about a head until its file is complete and makes sense, and return the file's text.

    Raises:
        BadInput: the person leaves before the end; nothing is written.
    """
    from straighten.desk.starting import asked_again, head_text, next_question
    from straighten.head import head_from_text

    answers: dict[str, Any] = {"units": _units()}
    note(
        "Enter an answer to each; back returns to the one before, stop leaves. Nothing is written before the last."
    )
    while True:
        question = next_question(answers)
        if question is not None:
            _answered(question, answers)
            continue
        text = head_text(name, answers)
        try:
            head_from_text(text, "")
        except BadInput as fault:
            again = asked_again(fault)
            if not again:
                raise
            say(f"   {closed(fault.problem)} {fault.fix}")
            for key in again:
                answers.pop(key, None)
        else:
            return text


def _units() -> Any:
    from straighten.desk.starting import system_told

    while True:
        typed = _typed("Do you work in mm or in inches? (mm or inch)")
        try:
            return system_told(typed)
        except BadInput as fault:
            say(f"   {fault}")


def _answered(question: "Question", answers: dict[str, Any]) -> None:
    """Ask one question until its answer means something, or go back by one."""
    from straighten.desk.starting import echo, understood

    while True:
        typed = _typed(question.prompt(answers["units"]))
        if typed.strip().lower() == "back":
            if len(answers) > 1:
                answers.popitem()
            return
        try:
            value = understood(question, typed, answers)
        except BadInput as fault:
            say(folded(str(fault), "   "))
            continue
        answers[question.key] = value
        for line in filter(None, echo(question, value, answers).split("\n")):
            say(folded(line.strip(), "   "))
        return


def _typed(prompt: str) -> str:
    typed = typed_at(prompt)
    if typed.strip().lower() in ("stop", "quit", "exit"):
        raise BadInput("left before the last question, nothing was written", where="new")
    return typed


def measure(
    name: Name,
    survey: Annotated[
        Path | None,
        Argument(metavar="SURVEY", help="Survey file, TOML or CSV; left out: you are asked."),
    ] = None,
    book: BookOption = None,
    as_json: Json = False,
) -> None:
    """Record a survey of the head and say what it shows."""
    from straighten.desk.deciding import check_report
    from straighten.desk.job import Job
    from straighten.desk.kept import record_survey, reread
    from straighten.readings import read_survey
    from straighten.sheet.verdict import check_text

    path = None if survey is None else beside(name, survey)
    with desk_for(name, book) as (opened, dossier):
        readings = (
            asked_readings(dossier.head, as_json=as_json) if path is None else read_survey(path, dossier.head)
        )
        entry = record_survey(opened, reread(opened, dossier), readings)
        with busy("looking at the shape"):
            report = check_report(Job(reread(opened, dossier)))
    answer({**report.to_plain(), "entry": entry.number}, check_text(report), as_json=as_json)
    note(f"Recorded as entry {entry.number}. Next: {report.command}")


def asked_readings(head: "Head", *, as_json: bool = False) -> "Readings":
    """Walk the person through the stations in bench order and return the readings.

    Raises:
        BadInput: nobody sits at the terminal, or the readings together make no sense.
    """
    if as_json or not sys.stdin.isatty():
        raise BadInput(
            "no survey file was named and nobody sits at a terminal to be asked",
            where="SURVEY",
            fix=f"Name a file: straighten measure {in_shell(head.name)} survey.toml",
        )
    from straighten.readings.dialogue import Dialogue, finish, question
    from straighten.readings.dialogue import answer as understood

    walk = Dialogue(head=head)
    like = "0.10-0.15" if head.system == "mm" else "4-6"
    note(
        f'Answers like {like}, "goes .004 in", blank to skip, "back", "done". Nothing is kept before the last one.'
    )
    while (asked := question(walk)) is not None:
        prompt = spelled(f"{asked.number}/{asked.known} {asked.prompt} ({asked.hint})", sys.stdout)
        typed = typer.prompt(prompt, default="", show_default=False)
        walk, echo = understood(walk, typed)
        note(f"   {echo}")
    return finish(walk)


def check(
    name: Name,
    figure: FigureOption = None,
    book: BookOption = None,
    as_json: Json = False,
) -> None:
    """Say go or no-go for the last survey, with every number that was looked at."""
    from straighten.desk.deciding import check_report
    from straighten.desk.job import Job
    from straighten.sheet.figures.shape import ShapePicture
    from straighten.sheet.verdict import check_text

    looked_at(figure)
    with desk_for(name, book) as (_, dossier):
        job = Job(dossier)
        with busy("looking at the shape"):
            report = check_report(job)
        with outgoing() as files:
            write_figure(
                files,
                figure,
                lambda: ShapePicture(readings=dossier.survey, head=job.head, shape=job.fitted),
            )
    answer(report.to_plain(), check_text(report), as_json=as_json)
    note(f"Next: {report.command}")


def where(book: BookOption = None, as_json: Json = False) -> None:
    """Print which files the program uses, and who named them."""
    told, config = book_told(book), config_file()
    path = told.path.absolute()
    order = ["--book", "STRAIGHTEN_BOOK", "book in config.toml", "default"]
    answer(
        {
            "schema": "straighten/where/1",
            "book": str(path),
            "book_exists": path.exists(),
            "book_named_by": told.by,
            "config": str(config),
            "config_exists": config.exists(),
            "precedence": order,
        },
        "\n".join(
            [
                f"book    {path}{'' if path.exists() else '  (made with the first entry)'}",
                f"        named by {told.by}; what comes first wins: {', '.join(order)}",
                f"config  {config}{'' if config.exists() else '  (not there; none is needed)'}",
            ]
        ),
        as_json=as_json,
    )
