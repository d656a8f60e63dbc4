"""Tightening step by step: log a round, learn from it, say go on, hold or stop.

Rounds that cannot be, or that belong to no card, are refused with `BadInput`, a head that must not be clamped with
`NoPlan`; nothing is recorded then.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Annotated

import numpy as np
from pydantic import Field

from straighten.belief.learn import Belief
from straighten.belief.tightened import TighteningLog, with_tightenings
from straighten.book import Book
from straighten.clamp.clamped import ClampSetup
from straighten.clamp.tightening_log import Reading, Weighed, check_log, next_step, replay
from straighten.desk.dossier import Dossier
from straighten.desk.job import Job, believed, foretold
from straighten.desk.kept import card_in_hand, record, tightening_to_plain
from straighten.errors import BadInput, NoPlan, located
from straighten.filecheck import Force, Gap, Table, Torque, checked, load_text, parse_toml, system_of
from straighten.plan.records import PassSetup, setup_from_plain
from straighten.quantiles import tenths
from straighten.sheet.plain import Triple
from straighten.sheet.tightening import StepLine, TighteningReport
from straighten.units import parse


@dataclass(frozen=True, slots=True, kw_only=True)
class Logged:
    """A tightening as far as it is logged.

    `rounds`, and the `load` where one was weighed after one of them; `laid` the clamp where it was laid otherwise than on the card.
    """

    rounds: tuple[Reading, ...] = ()
    load: Weighed | None = None
    laid: ClampSetup | None = None


class RoundTable(Table):
    """One round: torque of every bolt, blades in the middle."""

    torque: Torque
    goes: Gap = 0.0
    stops: Gap | None = None


class TighteningFile(Table):
    """A tightening log as a file."""

    units: str = "mm"
    load: Force | None = None
    load_doubt: Force | None = None
    rounds: Annotated[list[RoundTable], Field(max_length=100)]


def read_log(path: Path, dossier: Dossier) -> Logged:
    """Return the rounds of a tightening file and the load weighed after the last of them, if any."""
    where = str(path)
    data = parse_toml(load_text(path), where)
    file = checked(TighteningFile, data, where=where, system=system_of(data, where, dossier.head.system))
    rounds = tuple(Reading(torque=r.torque, goes=r.goes, does_not=r.stops) for r in file.rounds)
    if not rounds:
        raise BadInput(
            "no round in it", where=where, fix="One [[rounds]] table a round: torque, goes, stops."
        )
    with located(where):
        check_log(rounds, dossier.head.system)
    return Logged(rounds=rounds, load=_load_of(file, where))


def _load_of(file: TighteningFile, where: str) -> Weighed | None:
    if file.load is None:
        return None
    doubt = 0.1 * file.load if file.load_doubt is None else file.load_doubt
    if not (file.load > 0 and doubt > 0):
        raise BadInput("a load and its doubt are more than nothing", where=f"{where}: load")
    return Weighed(load=file.load, doubt=doubt, after=len(file.rounds))


# A number with a decimal point or comma, a fraction, and its unit; or that no blade goes, or none is stopped.
_PART = re.compile(
    r"(?:[0-9]+\s*/\s*[0-9]+|[0-9]*[.,]?[0-9]+)(?:\s*(?!none\b)(?:[^\W\d_]|[\"°])[^\s;,]*)?|none\b|-"
)
_BETWEEN = re.compile(r"\s*,\s+|\s+|$")
LINE = "torque; blade that goes; blade that does not"


def round_parts(line: str) -> tuple[str, str, str | None]:
    """Return torque and the two blades of a round typed in one line, parted by semicolons or blanks.

    A comma between digits is a decimal comma; one before a blank parts.

    Raises:
        BadInput: more or less than that.

    Example:
        >>> round_parts("10 Nm, 0,10, 0,12")
        ('10 Nm', '0,10', '0,12')
    """
    parts = [part.strip() for part in line.split(";")] if ";" in line else _parted(line)
    if not 1 <= len(parts) <= 3 or not parts[0]:
        raise BadInput(
            f"found {line.strip()[:40]!r}; due is {LINE}", fix="Write it like 10 Nm; 0.10; 0.12 (or 0,10)."
        )
    goes, stops = (*parts[1:], "", "")[:2]
    return parts[0], "0" if goes in _NONE else goes, None if stops in _NONE else stops


_NONE = ("", "-", "none")


def _parted(line: str) -> list[str]:
    """Return the parts of a line without semicolons; none where it can be read in two ways."""
    parts, place, text = [], 0, line.strip()
    while place < len(text):
        part = _PART.match(text, place)
        gap = None if part is None else _BETWEEN.match(text, part.end())
        if part is None or gap is None:
            return []
        parts.append(part[0].strip())
        place = gap.end()
    return parts


def one_more(book: Book, dossier: Dossier, logged: Logged, typed: tuple[str, str, str | None]) -> Logged:
    """Return a log with one more round as typed; of a torque not above the one before is told how to put right either."""
    found = replace(logged, rounds=(*logged.rounds, one_round(dossier, *typed)))
    try:
        check_log(found.rounds, dossier.head.system)
    except BadInput as fault:
        if fault.fix or not logged.rounds or found.rounds[-1].torque > logged.rounds[-1].torque:
            raise
        raise BadInput(fault.problem, where=fault.where, fix=_way_back(book, dossier)) from None
    return found


def _way_back(book: Book, dossier: Dossier) -> str:
    anew = "Slackened and started over: add --again."
    kept = book.latest(dossier.name, "tighten")
    if kept is None:
        return anew
    return f'If the round before was mistyped: straighten strike {kept.number} --reason "mistyped". {anew}'


def one_round(dossier: Dossier, torque: str, goes: str, stops: str | None) -> Reading:
    """Return one round as typed: torque and blades with or without units."""
    system = dossier.head.system
    return Reading(
        torque=parse(torque, "torque", system),
        goes=parse(goes, "gap", system),
        does_not=None if stops is None else parse(stops, "gap", system),
    )


def planned_setup(dossier: Dossier) -> PassSetup:
    """Return the set-up of the card in hand."""
    entry = card_in_hand(dossier, "tighten", "what is being tightened is not known")
    return setup_from_plain(entry.record["setup"])


def _set_up(dossier: Dossier, logged: Logged) -> PassSetup:
    card = planned_setup(dossier)
    return card if logged.laid is None else replace(card, clamp=logged.laid)


def tightening_report(dossier: Dossier, logged: Logged) -> TighteningReport:
    """Return what to do next in a tightening, and what the rounds so far have taught."""
    if forbidden := Job(dossier).forbidden_to_clamp:
        raise NoPlan(forbidden[0].told, where=dossier.name)
    setup = _set_up(dossier, logged)
    clamp, head = setup.clamp, dossier.head
    if clamp is None:
        raise BadInput("the last card has no clamp", where="tighten")
    rounds = logged.rounds
    before = believed(replace(dossier, tightenings=earlier(dossier)))
    log = TighteningLog(stage=len(dossier.passes), setup=clamp, readings=rounds, load=logged.load)
    after = with_tightenings(head, before, (log,))
    played = replay(head, before.history[-1], clamp, before.draws.response, rounds)
    step = next_step(head, clamp, played, rounds, before.draws.weights)
    product = before.draws.response.stiffness * before.draws.response.friction
    usual = float(before.draws.weights @ product)
    return TighteningReport(
        name=dossier.name,
        system=head.system,
        verdict=step.verdict,
        words=step.words,
        next_torque=step.torque,
        closing=step.closing,
        steps=tuple(
            StepLine(
                torque=r.torque,
                goes=r.goes,
                stops=r.does_not,
                believed=tenths(played.gap[:, k], after.draws.weights),
            )
            for k, r in enumerate(rounds)
        ),
        ratio=tenths(product / usual, after.draws.weights),
        stiffness=tenths(after.draws.response.stiffness, after.draws.weights),
        friction=tenths(after.draws.response.friction, after.draws.weights),
        parted=logged.load is not None,
        deck_before=_deck_after(dossier, before, setup),
        deck_after=_deck_after(dossier, after, setup),
    )


def record_rounds(book: Book, dossier: Dossier, logged: Logged) -> TighteningReport:
    """Enter the rounds so far and return what they say."""
    report = tightening_report(dossier, logged)
    plain = tightening_to_plain(_set_up(dossier, logged), logged.rounds, logged.load)
    record(book, dossier, "tighten", plain)
    return report


def _deck_after(dossier: Dossier, belief: Belief, setup: PassSetup) -> Triple:
    after = foretold(dossier, setup, belief)
    return tenths(after.column("deck_bow"), after.weights)


def earlier(dossier: Dossier) -> tuple[TighteningLog, ...]:
    """Return the tightening logs of the passes before the one in hand."""
    return dossier.after(len(dossier.passes)).tightenings


def logged_so_far(dossier: Dossier) -> Logged:
    """Return what is already logged for the card in hand, so that a log can be typed in piece by piece.

    A card with other shims, bolts or gap begins a log of its own: the rounds of the one before say nothing of this gap.
    """
    latest = dossier.tightenings[-1] if dossier.tightenings else None
    if dossier.stages:  # slackened for the gap: the rounds begin anew
        latest = dossier.retightened
    if latest is None or latest.stage != len(dossier.passes) or dossier.planned is None:
        return Logged()
    clamp = planned_setup(dossier).clamp
    if clamp is None or not same_clamp(clamp, latest.setup):
        return Logged()
    return Logged(rounds=latest.readings, load=latest.load)


def same_clamp(one: ClampSetup, other: ClampSetup) -> bool:
    """Return whether two clamps are the same but for the rounding of the book."""
    first, second = ((*setup.shims, setup.gap or 0.0, setup.tension or 0.0) for setup in (one, other))
    return (
        one.bolts == other.bolts
        and one.reverse == other.reverse
        and bool(np.allclose(first, second, atol=1e-6))
    )


def with_its_load(dossier: Dossier, rounds: tuple[Reading, ...]) -> Logged:
    """Return rounds of the card in hand with the load that the book knows of them; one round taken back takes its own."""
    known = logged_so_far(dossier)
    after = 0 if known.load is None else known.load.after
    same = [r.torque for r in rounds[:after]] == [r.torque for r in known.rounds[:after]]
    return Logged(rounds=rounds, load=known.load if same else None)
