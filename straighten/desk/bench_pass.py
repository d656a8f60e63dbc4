"""The guided session inside one pass: clamp it, tighten round by round, heat in order, let it cool, release it."""

from __future__ import annotations

from collections.abc import Callable, Generator
from dataclasses import replace
from typing import TYPE_CHECKING

from straighten.clamp.tightening_log import Reading, check_blade, check_log
from straighten.desk import bench_pass_words as words
from straighten.desk.bench_otherwise import laid_otherwise, left_otherwise, soaked_otherwise
from straighten.desk.bench_records import (
    NAY,
    Answer,
    Ask,
    Facts,
    Work,
    agreed,
    begun,
    confirmed,
    done_or_skipped,
    read_as,
    reasoned,
)
from straighten.desk.bench_stages import in_stages, spotted
from straighten.desk.bench_words import reason
from straighten.desk.kept import card_from_plain, stages_from_plain
from straighten.desk.tightening import same_clamp
from straighten.errors import BadInput, BookError
from straighten.plan.records import PassSetup, setup_from_plain
from straighten.sheet.card import Card
from straighten.units import System, parse

if TYPE_CHECKING:
    from straighten.clamp import ClampSetup
    from straighten.desk.dossier import Dossier
    from straighten.heat import Soak

_SHORTEST_SOAK, _LONGEST_SOAK = 60.0, 300 * 3600.0  # s


def through_pass(facts: Facts, dossier: Dossier, system: System) -> Generator[Ask, Answer, Work | PassSetup]:
    """Lead through the pass in hand and return what was done, or the work to do before it goes on.

    Raises:
        BookError: the plan's entry holds no card that can be read.
    """
    card, planned = _card(facts, dossier, system)
    number = facts.passes + 1
    clamp = _laid_clamp(facts, planned)
    if facts.stage is None and planned.clamp is not None and planned.clamp.gap is not None:
        held = yield from _tightened(facts, dossier, (card, planned), number)
        if isinstance(held, Work):
            return held
        clamp = held
    if clamp != planned.clamp:  # the gaps on the card are for the card's clamp
        card, planned = replace(card, ladder=()), replace(planned, clamp=clamp)
    plain = facts.plan.record.get("stages") if facts.plan is not None else None
    if plain is None:
        done, last_heat = yield from _heated(dossier, (card, planned), number)
    else:
        stages = stages_from_plain(plain)
        stages = replace(stages, setup=replace(stages.setup, clamp=planned.clamp))
        staged = yield from in_stages(facts, dossier, card, stages)
        if isinstance(staged, Work):
            return staged
        done, last_heat = staged
    if last_heat:
        yield from _cooled(card, number, last_heat)
    else:
        yield from done_or_skipped(words.release_cold(number))
    return done


def _card(facts: Facts, dossier: Dossier, system: System) -> tuple[Card, PassSetup]:
    assert facts.plan is not None  # noqa: S101 - the caller has looked
    record = facts.plan.record
    try:
        card = card_from_plain(record["card"])
    except (ValueError, KeyError) as fault:
        raise BookError(
            f"entry {facts.plan.number} holds no card that can be read ({fault})",
            where="book",
            fix=f"Plan the pass again: straighten plan {dossier.name}",
        ) from None
    return replace(card, system=system), setup_from_plain(record["setup"])


def _laid_clamp(facts: Facts, planned: PassSetup) -> ClampSetup | None:
    """Return the clamp as the book says it was laid; the card's where that is the same."""
    card, laid = planned.clamp, facts.laid
    return card if laid is None or (card is not None and same_clamp(laid, card)) else laid


def _tightened(
    facts: Facts, dossier: Dossier, plan: tuple[Card, PassSetup], number: int
) -> Generator[Ask, Answer, Work | ClampSetup]:
    """Lead through shims and rounds; return the clamp as it holds, or the work to do before it goes on."""
    (card, planned), rounds = plan, facts.rounds
    assert planned.clamp is not None  # noqa: S101 - the caller has looked
    clamp = _laid_clamp(facts, planned) or planned.clamp
    if facts.withdrawn:
        return _rounds(number, (rounds or ())[:-1], clamp, planned)
    if rounds is None:
        yield from done_or_skipped(words.card_read(card))
        if card.before:
            yield from agreed(words.before(card))
    elif facts.verdict is None:
        return replace(_rounds(number, rounds, clamp, planned), deed="read tightening")
    if not rounds:
        clamp = yield from read_as(words.shims(card), _laid(dossier, planned))
    verdict = str((facts.verdict or {}).get("verdict", "go on"))
    if verdict.startswith("hold"):
        return clamp
    said = str((facts.verdict or {}).get("words", ""))
    if "over the most" in verdict:  # no reason is enough: what such a bolt holds hot nobody knows
        yield from _anew(words.over_the_most(card, (number, len(rounds or ())), said))
        return _rounds(number, (), clamp, planned)
    if verdict.startswith("stop"):
        yield from reasoned(reason(f"clamp/{number}/stop/{len(rounds or ())}", "TIGHTEN", said))
    more = (
        None
        if verdict.startswith("stop") and "proof" in verdict
        else (yield from _one_round(facts, card, number, _otherwise(dossier, planned, clamp, card)))
    )
    if more is not None:
        return _rounds(number, more, clamp, planned)
    left = replace(planned, clamp=clamp)
    return (yield from read_as(words.gap_left(card, number), _left(dossier, left)))


def _laid(dossier: Dossier, planned: PassSetup) -> Callable[[Answer], ClampSetup]:
    """Return a reader of the clamp as it was laid; as on the card where nothing else is said."""

    def read(given: Answer) -> ClampSetup:
        assert planned.clamp is not None  # noqa: S101 - the caller has looked
        if confirmed(given) or given.typed.strip().lower() == NAY:
            return planned.clamp
        return laid_otherwise(dossier.head, planned, given)

    return read


def _left(dossier: Dossier, planned: PassSetup) -> Callable[[Answer], ClampSetup]:
    """Return a reader of the gap or the torque that was left where no round says that the gap is reached."""

    def read(given: Answer) -> ClampSetup:
        assert planned.clamp is not None  # noqa: S101 - the caller has looked
        return planned.clamp if confirmed(given) else left_otherwise(dossier.head, planned, given)

    return read


def _rounds(number: int, rounds: tuple[Reading, ...], clamp: ClampSetup, planned: PassSetup) -> Work:
    """Return rounds as work, with the clamp they were read in."""
    return Work(
        deed="tighten", key=_told(number, len(rounds)), rounds=rounds, setup=replace(planned, clamp=clamp)
    )


def _anew(ask: Ask) -> Generator[Ask, Answer, None]:
    """Ask until the tightening is to begin anew; "back" is all else there is."""
    while True:
        given = yield ask
        if given.typed.strip().lower() == "anew":
            return
        ask = replace(ask, echo="It does not go on from here: anew, or back where the torque was mistyped.")


def _told(number: int, count: int) -> str:
    return f"round/{number}/{count}"


def _otherwise(dossier: Dossier, planned: PassSetup, clamp: ClampSetup, card: Card) -> str:
    """Return in words how it was laid, where otherwise than on the card."""
    return "" if clamp == planned.clamp else words.laid_words(clamp, dossier.head, card.system)


def _one_round(
    facts: Facts, card: Card, number: int, laid: str
) -> Generator[Ask, Answer, tuple[Reading, ...] | None]:
    """Ask for torque and blades of one more round; None where the person goes on to the heat with a reason."""
    rounds, said = facts.rounds or (), facts.verdict or {}
    given = words.RoundFacts(card=card, number=number, count=len(rounds) + 1, said=said, laid=laid)
    torque = yield from read_as(words.torque(given), _torque_after(rounds, given.suggested))
    if torque is None:
        yield from reasoned(words.untold_gap(given))
        return None
    goes, stops = yield from read_as(words.goes(given, torque), _goes)
    if stops is None:
        stops = yield from read_as(words.stops(given, goes), _stops(goes))
    return (*rounds, Reading(torque=torque, goes=goes, does_not=stops))


def _torque_after(rounds: tuple[Reading, ...], suggested: float | None) -> Callable[[Answer], float | None]:
    def read(given: Answer) -> float | None:
        word = given.typed.strip()
        if word.lower() == NAY:
            return None
        if not word and suggested is None:
            raise BadInput("a torque is due here; skip leaves the rounds")
        torque = suggested if not word and suggested is not None else parse(word, "torque", given.system)
        try:
            check_log((*rounds, Reading(torque=torque, goes=0.0, does_not=None)), given.system)
        except BadInput as fault:
            fix = fault.fix or "back takes the round before back, where that one was mistyped."
            raise BadInput(fault.problem, fix=fix) from None
        return torque

    return read


def _goes(given: Answer) -> tuple[float, float | None]:
    """Return the largest blade that goes [m], and the one that does not where both were typed; Enter says nothing."""
    word = given.typed.strip().lower()
    if not word:
        raise BadInput("Enter says nothing here", fix="Type 0 where no blade goes.")
    if word in (NAY, "-", "none"):
        return 0.0, None
    low, dash, high = word.partition("-")
    if not dash:
        return _blade(given), None
    unit = high.strip().lstrip("0123456789., ")
    both = tuple(
        replace(given, typed=part) for part in (low if low.strip()[-1:].isalpha() else low + unit, high)
    )
    goes = _blade(both[0])
    return goes, _stops(goes)(both[1])


def _stops(goes: float) -> Callable[[Answer], float | None]:
    """Return a reader of the smallest blade that does not go [m], None where every blade does; Enter says nothing."""

    def read(given: Answer) -> float | None:
        word = given.typed.strip().lower()
        if not word:
            raise BadInput("Enter says nothing here", fix="Type all where every blade goes.")
        if word in (NAY, "-", "none", "all"):
            return None
        blade = _blade(given)
        if blade <= goes:
            raise BadInput("the blade that does not go must be thicker than the one that does")
        return blade

    return read


def _blade(given: Answer) -> float:
    blade = parse(given.typed.strip(), "gap", given.system)
    if blade:
        check_blade(blade)
    return blade


def _heated(
    dossier: Dossier, plan: tuple[Card, PassSetup], number: int
) -> Generator[Ask, Answer, tuple[PassSetup, str]]:
    """Lead through the heat; return what was done and when the last heat ended, "" where there was none."""
    card, planned = plan
    if planned.soak is None and not planned.spots:
        return planned, ""
    yield from agreed(words.ready_to_heat(card, number))
    if planned.soak is not None:
        soak, ended = yield from _soaked(dossier, card, planned.soak, number)
        return replace(planned, soak=soak), ended
    spots, ended = yield from spotted(dossier, card, list(enumerate(planned.spots, start=1)), number)
    return replace(planned, spots=spots), ended


def _soaked(
    dossier: Dossier, card: Card, planned: Soak, number: int
) -> Generator[Ask, Answer, tuple[Soak, str]]:
    def read(given: Answer) -> tuple[Soak, str]:
        done = planned if confirmed(given) else soaked_otherwise(dossier.head, planned, given)
        if not _SHORTEST_SOAK <= done.hold <= _LONGEST_SOAK:
            raise BadInput(
                f"found {given.typed.strip()[:40]!r}; a soak lasts 1 min to 300 h",
                fix="Write it like 3 h or 90 min.",
            )
        return done, given.at

    into = yield from _until_on(words.into_oven(card, number))
    return (yield from read_as(words.out_of_oven(card, number, into.at), read))


def _until_on(ask: Ask) -> Generator[Ask, Answer, Answer]:
    while True:
        given = yield from begun(ask)
        if given is not None:
            return given
        ask = replace(ask, echo="This one is not skipped: " + ask.hint)


def _cooled(card: Card, number: int, ended: str) -> Generator[Ask, Answer, None]:
    """Count down to the release and to an honest reading; going on before takes a reason.

    Released after the wait, a reading that needs no longer one is not waited for again.
    """
    if (yield from _waited(words.release(card, number, ended))) and card.wait <= card.unclamp_wait:
        return
    yield from _waited(words.honest(card, number, ended))


def _waited(ask: Ask) -> Generator[Ask, Answer, bool]:
    waited = yield from done_or_skipped(ask)
    if not waited:
        yield from reasoned(reason(f"{ask.key}/early", ask.part, ask.why))
    return waited
