"""From a job to the next pass card, the judgement first, and to its page: where things sit, what each box should hold."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime

from straighten.book import Book, Entry
from straighten.desk.dossier import Dossier, held_by
from straighten.desk.job import Job, foretold
from straighten.desk.judgement import Judgement
from straighten.desk.kept import card_from_plain, record_card
from straighten.desk.pass_card import card_of, keep_off_lines, range_of
from straighten.desk.staging import with_ladder
from straighten.errors import BadInput, NoPlan
from straighten.head.records import Head
from straighten.plan.forecast import Forecast
from straighten.plan.records import PassSetup, setup_from_plain
from straighten.plan.stages import Stages
from straighten.readings import Readings
from straighten.readings.names import deck_stations
from straighten.readings.records import LONG_LINES, Bracket, Gauges, Line, Part
from straighten.shape.equations import line_block
from straighten.sheet.card import Box, BoxRow, Card, PassSheet, Refusal, SketchData, UsedPlace


@dataclass(frozen=True, slots=True, kw_only=True)
class Planned:
    """What to print, and the set-up it stands for; None where no pass is planned.

    `stages` in which it may be heated; `because` the reason given to go past advice, `against` the kinds of that advice.
    """

    printed: Card | Refusal
    setup: PassSetup | None
    stages: Stages | None = None
    because: str = ""
    against: tuple[str, ...] = ()


def plan_card(job: Job, now: datetime, *, because: str = "", ahead: bool = True) -> Planned:
    """Return the next pass card, or the refusal where the head should not be heated.

    `because` the person's reason to go past what is advised against; nothing forbidden is passed by it. `ahead`: see
    `card_of`.

    Raises:
        BadInput: the head has not been measured.
        NoPlan: a reason was given, and no set-up keeps the limits.
    """
    judgement = job.judgement
    if not judgement.forbidden:
        job.dossier.survey  # noqa: B018 - names the missing survey
    held = judgement.held if because else ()
    past_advice = because and not judgement.forbidden and judgement.next_step == "hand it on"
    if judgement.next_step != "heat" and not past_advice:  # what is to be read is no advice
        return Planned(printed=refusal_of(judgement), setup=None)
    plan = job.next_pass
    if isinstance(plan, NoPlan):
        raise plan
    card = card_of(job, plan, now, because=because if held else "", ahead=ahead)
    return Planned(
        printed=with_ladder(card, job, plan),
        setup=plan.setup,
        stages=plan.stages,
        because=because if held else "",
        against=tuple(f.kind for f in held),
    )


def refusal_of(judgement: Judgement) -> Refusal:
    """Return why no pass is planned; of a forbidden head nothing is told but the reason and what to do."""
    told = judgement.forbidden or tuple(f for f in judgement.findings if f.weight != "fine")
    return Refusal(
        name=judgement.name,
        verdict=judgement.verdict,
        reason=judgement.reason,
        decided_by=judgement.decided_by,
        findings=tuple(f.told for f in told),
        go_on=judgement.go_on,
        judgement=judgement.to_plain(),
    )


# --- the page of a pass ------------------------------------------------------------------------------------------------


GAP_MODES = ("bridged", "balanced", "rocked")
_HOW = {
    "bridged": "straightedge resting on both ends",
    "balanced": "straightedge level, same blade at both ends",
    "rocked": "straightedge down at one end",
}

_CHANGES = ("head", "survey", "pass", "sand", "strike", "settle")


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """A pass to print: the dossier as it stood before it, its set-up or None, and the page or the refusal to plan one.

    `entered` true where the card was planned and put into the book just now.
    """

    dossier: Dossier
    setup: PassSetup | None
    page: PassSheet | Refusal
    entered: bool = False


def next_sheet(book: Book | None, job: Job, now: datetime) -> Found:
    """Return the page of the next pass.

    The last card in the book stands as long as nothing was measured or done after it; else the pass is planned now and
    entered, as the next log asks for what was planned; without a `book` nothing is.
    """
    dossier = job.dossier
    entry = None if job.forbidden else dossier.planned
    if book is not None and entry is not None and _stands(book, dossier, entry):
        return _booked(dossier, entry)
    planned = plan_card(job, now)
    if book is not None:
        record_card(book, dossier, planned)
    page: PassSheet | Refusal
    if isinstance(planned.printed, Refusal):
        page = planned.printed
    else:
        assert planned.setup is not None  # noqa: S101 - a card stands for a set-up
        page = _gathered(dossier, planned.printed, planned.setup, planned.stages)
    return Found(dossier=dossier, setup=planned.setup, page=page, entered=book is not None)


def _stands(book: Book, dossier: Dossier, card: Entry) -> bool:
    """Return whether a card still holds: same head file, and nothing after it that changes the head or what is known of it."""
    entries = book.entries(dossier.name)
    later = next(e for e in reversed(entries) if e.kind in _CHANGES or e.number == card.number)
    text = next(e.record["text"] for e in reversed(entries) if e.kind == "head")
    return later.number == card.number and text == dossier.text


def earlier_sheet(book: Book, job: Job, number: int) -> Found:
    """Return the page of a pass as it was planned, from its last card in the book; none of a forbidden head.

    Raises:
        BadInput: no card of that pass was made.
    """
    dossier = job.dossier
    if job.forbidden:
        return Found(dossier=dossier, setup=None, page=refusal_of(job.judgement))
    cards = [e for e in book.entries(dossier.name, "plan") if e.record["card"].get("pass_number") == number]
    if not cards:
        made = sorted({e.record["card"].get("pass_number") for e in book.entries(dossier.name, "plan")})
        known = (
            f"Cards are kept of pass {', '.join(map(str, made))}." if made else "No card has been made yet."
        )
        raise BadInput(f"no card of pass {number} is in the book", where="--pass", fix=known)
    return _booked(dossier_before(dossier, number), cards[-1])


def dossier_before(dossier: Dossier, number: int) -> Dossier:
    """Return the dossier as it stood before a pass, sandings since then undone; before pass 1 where it is as it came."""
    stretch = next(s for s in dossier.stretches if number <= s.passes_done or s is dossier)
    return stretch.after(number - len(stretch.earlier) - 1)


def _booked(dossier: Dossier, entry: Entry) -> Found:
    with held_by(entry):
        card = card_from_plain(entry.record["card"])
        setup = setup_from_plain(entry.record["setup"])
    return Found(dossier=dossier, setup=setup, page=_gathered(dossier, card, setup))


def _gathered(dossier: Dossier, card: Card, setup: PassSetup, stages: Stages | None = None) -> PassSheet:
    return PassSheet(
        card=card,
        sketch=sketch_data(dossier),
        rows=box_rows(dossier.head, dossier.survey, foretold(dossier, setup, stages=stages)),
    )


# --- where things sit --------------------------------------------------------------------------------------------


def sketch_data(dossier: Dossier) -> SketchData:
    """Return the head as it is drawn, with the places that its passes have heated."""
    head = dossier.head
    return SketchData(
        length=head.casting.length,
        width=head.casting.width,
        towers=head.towers,
        webs=tuple(web.station for web in head.casting.webs),
        holes=head.bolts,
        rows=head.spot_rows,
        keep_off=keep_off_lines(head),
        used=tuple(
            UsedPlace(station=spot.station, side=spot.side)
            for done in (*dossier.earlier, *dossier.passes)
            for spot in done.spots
        ),
    )


# --- what each box should hold -----------------------------------------------------------------------------------


def box_rows(head: Head, survey: Readings, found: Forecast) -> tuple[BoxRow, ...]:
    """Return the boxes of deck and cam line with what the blade should find after the pass.

    Each line is read again as it was last time; lines that were not, at the usual places.
    """
    cams = ("single",) if head.cam_lines == 1 else ("exhaust", "inlet")
    wanted: list[tuple[Part, str]] = [("deck", n) for n in LONG_LINES] + [("cam", n) for n in cams]
    return tuple(_row(head, _line(head, survey, part, name), found) for part, name in wanted)


def _line(head: Head, survey: Readings, part: Part, name: str) -> Line:
    """Return the line to read again, its brackets wide open."""
    before = [
        line for line in survey.lines
        if (line.part, line.name) == (part, name) and line.mode in GAP_MODES and line.across_at is None
    ]  # fmt: skip
    if before:
        stations = tuple(b.station for b in before[0].brackets)
        return replace(before[0], brackets=_open(stations))
    stations = deck_stations(head) if part == "deck" else head.towers
    return Line(
        part=part, name=name, mode="bridged" if part == "deck" else "balanced", brackets=_open(stations)
    )


def _open(stations: tuple[float, ...]) -> tuple[Bracket, ...]:
    return tuple(Bracket(station=x, low=0.0, high=1.0) for x in stations)


def _row(head: Head, line: Line, found: Forecast) -> BoxRow:
    (block,) = line_block(line, head, Gauges())
    gaps = block.seats.gaps(found.after)
    return BoxRow(
        part="Deck" if line.part == "deck" else "Cam line",
        title="cam" if line.name == "single" else line.name,
        how=_HOW[line.mode],
        boxes=tuple(
            Box(station=bracket.station, expected=range_of(gaps[:, n], found.weights))
            for n, bracket in enumerate(line.brackets)
        ),
    )
