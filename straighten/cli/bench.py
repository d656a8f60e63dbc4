"""Command `bench`: the guided session at a terminal, from where the head stands in the book."""

import gc
import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from typer import Option

from straighten.cli.options import BookOption, Json, Name, desk_for, head_file, now, shop_book
from straighten.cli.terminal import Clock, answer, busy, folded, note, say, typed_at, waited
from straighten.errors import BadInput, NoPlan, in_shell

if TYPE_CHECKING:
    from straighten.book import Book
    from straighten.desk.bench import Standing
    from straighten.desk.bench_words import Ask, Work
    from straighten.desk.dossier import Dossier

GREETING = (
    "Each answer is in the book before the next question: leave at any time, straighten bench goes on there. "
    "At every prompt: back, skip, why (or ?), units, stop."
)


def bench(
    name: Name,
    book: BookOption = None,
    as_json: Json = False,
    no_wait: Annotated[
        bool, Option("--no-wait", hidden=True, help="Ask at once instead of counting down; for trials.")
    ] = False,
) -> None:
    """Lead through the whole job: a new head, measure, check, plan, tighten, heat, cool, decide, sand, the final list."""
    seated = sys.stdin.isatty() and sys.stdout.isatty()
    if not seated and not as_json:
        raise BadInput(
            "nobody sits at a terminal, so nothing is asked and nothing was recorded",
            where="bench",
            fix="Run it in a terminal, or use measure, plan, tighten, log and decide; --json says where it stands.",
        )
    if not as_json:
        _described(name, book)
    with desk_for(name, book) as (opened, dossier):
        if as_json:
            _tell_where(opened, dossier)
        else:
            _lead(opened, dossier, (now, name), no_wait=no_wait)


def _described(name: str, book: Path | None) -> None:
    """Ask about a head that neither this folder nor the book knows, as `straighten new` does."""
    from straighten.cli.heads import written_new

    if head_file(name) is not None:
        return
    with shop_book(book) as opened:
        known = opened.has_head(name)
    if not known:
        note(folded(f"Nobody knows {name!r} yet: a new head. Is the name mistyped, type stop."))
        head, _ = written_new(name, None, book, force=False, as_json=False)
        told = f"The maker's limits and whatever else is known may be added to {head} at any time: stop, write, begin again."
        note(folded(told))


def _stands(book: "Book", dossier: "Dossier") -> "Standing":
    from straighten.desk.bench import standing

    known = book.has_head(dossier.name)
    return standing(book.entries(dossier.name, struck=True) if known else (), dossier)


def _tell_where(book: "Book", dossier: "Dossier") -> None:
    from straighten.desk.bench_words import Ask
    from straighten.desk.job import Job

    step = _stands(book, dossier).step
    told = {
        "schema": "straighten/bench/1",
        "name": dossier.name,
        "judgement": Job(dossier).judgement.to_plain(),
    }
    if isinstance(step, Ask):
        told |= {"step": step.key, "part": step.part, "prompt": step.prompt}
    else:
        told |= {"step": step.deed, "part": "WORK", "prompt": ""}
    answer(told, "", as_json=True)


def _lead(book: "Book", dossier: "Dossier", told: tuple[Clock, str], *, no_wait: bool) -> None:
    """Ask and work until the person leaves or nothing is left to do; `told` the clock and what the head was called by."""
    from straighten.desk.bench_words import Ask, Work
    from straighten.desk.kept import keep_head, reread

    gc.enable()  # a sitting may last a day
    keep_head(book, dossier)
    note(folded(GREETING))
    before: Ask | None = None
    clock, name = told
    while True:
        dossier = reread(book, dossier)
        stands = _stands(book, dossier)
        step = stands.step
        if isinstance(step, Work):
            dossier = _work(book, dossier, (step, stands), (clock, name))
            continue
        if before is None or step.part != before.part:
            say(f"\n--- {step.part} " + "-" * max(74 - len(step.part), 0))
        short = before is not None and step.hint == before.hint
        if before is not None and (step.key, step.shown) == (before.key, before.shown):
            due = replace(step, shown=())  # they stand above, and the screen is small
        else:
            due = step
        if not _asked(book, dossier, (due, stands), None if no_wait else clock, short=short):
            return
        before = step


def _work(
    book: "Book", dossier: "Dossier", due: "tuple[Work, Standing]", told: tuple[Clock, str]
) -> "Dossier":
    """Compute and enter a piece of work; what cannot be taken is told, and the answer that led there asked for anew."""
    from straighten.desk.bench import DEEDS, keep_answer, perform

    work, stands = due
    deed, (clock, name) = DEEDS[work.deed], told
    try:
        with busy(deed.takes):
            kept = _into_file(name, dossier, work.typed) if work.deed == "torch" else dossier
            text = perform(book, dossier, work, (clock(), stands.system))
    except (BadInput, NoPlan) as fault:
        if not deed.taken_back or not stands.can_go_back:
            raise
        say(folded(str(fault), "   "))
        keep_answer(book, dossier, (work.deed, stands.system), "back")
        return dossier
    say("\n" + text.rstrip("\n"))
    return kept


def _into_file(name: str, dossier: "Dossier", text: str) -> "Dossier":
    """Write the head file anew and return the dossier with it; a head without a file of its own stands in the book alone.

    Raises:
        BadInput: the file was changed while the session went on, or cannot be written.
    """
    from straighten.cli.figures import outgoing
    from straighten.filecheck import load_text

    path = head_file(name)
    if path is not None:
        if load_text(path) != dossier.text:
            raise BadInput(
                "changed since the session began, so it was left alone",
                where=str(path),
                fix=f"Type stop, then: straighten bench {in_shell(name)}",
            )
        with outgoing() as files:
            files.put(path, text, force=True)
    return replace(dossier, text=text)


def _asked(
    book: "Book", dossier: "Dossier", due: "tuple[Ask, Standing]", clock: Clock | None, *, short: bool
) -> bool:
    """Ask one question and keep the answer; false where the person leaves. `short` leaves out a hint just shown."""
    from straighten.desk.bench import keep_answer

    ask, stands = due
    _show(ask)
    while True:
        prompt = ask.prompt if short else f"{ask.prompt} ({ask.hint})"
        typed = waited(ask, prompt, clock) if clock is not None and ask.seconds else typed_at(prompt)
        word = typed.strip().lower()
        if word in ("why", "?"):
            say(folded(f"{ask.why} To type: {ask.hint}."))
        elif word in ("stop", "quit", "exit") or (ask.last and not word):
            if not ask.last:
                say("Kept. Go on with: straighten bench " + dossier.name)
            return False
        elif word == "back" and not stands.can_go_back:
            say(folded(_no_way_back(dossier)))
        else:
            keep_answer(book, dossier, (ask.key, stands.system), typed)
            _tell_units(word, ask, stands)
            return True


def _tell_units(word: str, ask: "Ask", stands: "Standing") -> None:
    if word != "units":
        return
    say("Shown first from now on: " + ("mm" if stands.system == "inch" else "inches and thou"))
    if ask.key.startswith("survey/"):
        say("Bare gaps of this survey stay as they were; a written unit always wins.")


def _no_way_back(dossier: "Dossier") -> str:
    if dossier.surveys[0] is None and not dossier.passes:
        return "This is the first question."
    return (
        f"What came before is in the book, the last of it as entry {dossier.inputs[-1]}. To take an entry out "
        'of use: straighten strike NUMBER --reason "..."; the session then goes on from there.'
    )


def _show(ask: "Ask") -> None:
    if ask.echo:
        say(folded(ask.echo, "   "))
    for line in ask.shown:
        say(folded(line, " * "))
