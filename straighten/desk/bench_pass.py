"""The guided session inside one pass: clamp it, tighten round by round, heat in order, let it cool, release it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import partial

from straighten.clamp import ClampSetup
from straighten.clamp.tightening_log import Reading
from straighten.desk import typed
from straighten.desk.bench_words import (
    NAY,
    Answer,
    Ask,
    Asking,
    Facts,
    Work,
    agreed,
    anew,
    ask,
    begun,
    done_or_skipped,
    of_card,
    read_as,
    reason,
    reasoned,
)
from straighten.desk.dossier import Dossier
from straighten.desk.kept import all_done, card_from_plain, rungs_of, stages_from_plain
from straighten.desk.logging import same_clamp
from straighten.desk.words import broken_limits
from straighten.errors import BookError, in_shell
from straighten.heat import Soak, Treatment
from straighten.plan.records import PassSetup, setup_from_plain
from straighten.plan.stages import READ_AGAIN, STOP, Stages
from straighten.sheet.card import Card
from straighten.sheet.card_words import (
    bolt_words,
    expected_rows,
    held_words,
    if_words,
    rung_words,
    stack_words,
)
from straighten.sheet.layout import percent
from straighten.units import System, show, show_likely, show_temperature, show_torque

Heated = tuple[PassSetup, str]  # what was done, and when the last heat ended, "" where there was none


@dataclass(frozen=True, slots=True, kw_only=True)
class InHand:
    """The pass in hand: where the head stands, its dossier, its card, the set-up on the card."""

    facts: Facts
    dossier: Dossier
    card: Card
    planned: PassSetup

    @property
    def laid(self) -> ClampSetup | None:
        """The clamp as the book says it was laid; the card's where that is the same."""
        card, laid = self.planned.clamp, self.facts.laid
        return card if laid is None or (card is not None and same_clamp(laid, card)) else laid

    def held(self, clamp: ClampSetup | None) -> InHand:
        """Return the pass in another clamp; the gaps on the card are for the card's clamp."""
        if clamp == self.planned.clamp:
            return self
        return replace(self, card=replace(self.card, ladder=()), planned=replace(self.planned, clamp=clamp))

    def ask(self, step: str, *first: str, **told: object) -> Ask:
        """Return the question of a step, what the card says filled in."""
        return ask(step, *first, **of_card(self.card) | told)


def through_pass(facts: Facts, dossier: Dossier, system: System) -> Asking[Work | PassSetup]:
    """Lead through the pass in hand and return what was done, or the work to do before it goes on.

    Raises:
        BookError: the plan's entry holds no card that can be read.
    """
    hand = _in_hand(facts, dossier, system)
    clamp = hand.planned.clamp
    if facts.stage is None and clamp is not None and clamp.gap is not None:
        held = yield from _tightened(hand, clamp)
        if isinstance(held, Work):
            return held
        hand = hand.held(held)
    else:
        hand = hand.held(hand.laid)
    heated = yield from _heated(hand)
    if isinstance(heated, Work):
        return heated
    done, ended = heated
    if ended:
        yield from _cooled(hand, ended)
    else:
        yield from done_or_skipped(hand.ask("release cold"))
    return done


def _in_hand(facts: Facts, dossier: Dossier, system: System) -> InHand:
    assert facts.plan is not None  # noqa: S101 - the caller has looked
    record = facts.plan.record
    try:
        card = card_from_plain(record["card"])
    except (ValueError, KeyError) as fault:
        raise BookError(
            f"entry {facts.plan.number} holds no card that can be read ({fault})",
            where="book",
            fix=f"Plan the pass again: straighten plan {in_shell(dossier.name)}",
        ) from None
    card = replace(card, system=system, pass_number=facts.passes + 1)
    return InHand(facts=facts, dossier=dossier, card=card, planned=setup_from_plain(record["setup"]))


# --- the clamp ---------------------------------------------------------------------------------------------------------


def _tightened(hand: InHand, planned: ClampSetup) -> Asking[Work | ClampSetup]:
    """Lead through shims and rounds; return the clamp as it holds, or the work to do before it goes on."""
    facts, clamp = hand.facts, hand.laid or planned
    if facts.withdrawn:
        return _rounds(hand, (facts.rounds or ())[:-1], clamp)
    if facts.rounds is None:
        yield from _card_read(hand)
    elif facts.verdict is None:
        return replace(_rounds(hand, facts.rounds, clamp), deed="read tightening")
    if not facts.rounds:
        clamp = yield from _laid(hand, planned)
    told = facts.verdict or {}
    verdict, said = str(told.get("verdict", "go on")), str(told.get("words", ""))
    if verdict.startswith("hold"):
        return clamp
    number, count = hand.card.pass_number, len(facts.rounds or ())
    if "over the most" in verdict:  # no reason is enough: what such a bolt holds hot nobody knows
        yield from anew(hand.ask("over the most", count=count, said=said))
        return _rounds(hand, (), clamp)
    if verdict.startswith("stop"):
        yield from reasoned(reason(f"clamp/{number}/stop/{count}", hand.ask("left").part, said))
    if not (verdict.startswith("stop") and "proof" in verdict):
        more = yield from _one_round(
            hand, "" if clamp == planned else typed.laid_words(hand.dossier.head, clamp, hand.card.system)
        )
        if more is not None:
            return _rounds(hand, more, clamp)
    return (yield from _left(hand, clamp))


def _card_read(hand: InHand) -> Asking[None]:
    card = hand.card
    expect = (
        f"after it {line} bow: {show_likely(*after, card.system)}; "
        f"overall limit {show(limit, card.system)}, inside {percent(chance)}"
        for line, after, limit, chance in expected_rows(card)
    )
    shown = (f">>> {card.direction}", held_words(card), *expect)
    why = {"reason": card.reason, "decided_by": card.decided_by, "learned": card.learned}
    yield from done_or_skipped(hand.ask("card", *shown, **why))
    if card.before:
        yield from agreed(hand.ask("before", *card.before))


def _laid(hand: InHand, planned: ClampSetup) -> Asking[ClampSetup]:
    """Ask for the clamp as it was laid; as on the card where nothing else is said."""
    card = hand.card
    stacks = (stack_words(stack, card.system) for stack in card.stacks)
    bolts = (bolt_words(bolt, card.system) for bolt in card.bolts)

    def read(given: Answer) -> ClampSetup:
        if given.confirms or given.word == NAY:
            return planned
        return typed.laid_otherwise(hand.dossier.head, hand.planned, given)

    return read_as(hand.ask("shims", f">>> {card.direction}", *stacks, *bolts), read)


def _left(hand: InHand, clamp: ClampSetup) -> Asking[ClampSetup]:
    """Ask for the gap or the torque that was left where no round says that the gap is reached."""
    planned = replace(hand.planned, clamp=clamp)

    def read(given: Answer) -> ClampSetup:
        return clamp if given.confirms else typed.left_otherwise(hand.dossier.head, planned, given)

    return read_as(hand.ask("left"), read)


def _rounds(hand: InHand, rounds: tuple[Reading, ...], clamp: ClampSetup) -> Work:
    """Return rounds as work, with the clamp they were read in."""
    key = f"round/{hand.card.pass_number}/{len(rounds)}"
    return Work(deed="tighten", key=key, rounds=rounds, setup=replace(hand.planned, clamp=clamp))


def _one_round(hand: InHand, laid: str) -> Asking[tuple[Reading, ...] | None]:
    """Ask for torque and blades of one more round; None where the person goes on to the heat with a reason."""
    rounds = hand.facts.rounds or ()
    question, suggested = _torque(hand, laid, len(rounds) + 1)
    head, here = hand.dossier.head, {"count": len(rounds) + 1}
    torque, blades = yield from read_as(
        question, lambda given: typed.round_at_once(head, rounds, suggested, given)
    )
    if torque is None:
        wanted = show(hand.card.gap, hand.card.system)
        rule = (
            f"no round says that the gap of {wanted} is reached; the bend that is heated in would be unknown."
        )
        yield from reasoned(reason(question.key.replace("torque", "untold"), question.part, rule))
        return None
    reached = f"{show_torque(torque, hand.card.system)} reached"
    if blades is None:
        both = replace(hand.ask("goes", **here), echo=reached)
        blades = yield from read_as(both, partial(typed.blade_that_goes, head))
    goes, stops = blades
    if stops is None:
        echo = f"{show(goes, hand.card.system)} goes" if goes else "no blade goes"
        other = replace(hand.ask("stops", **here), echo=echo)
        stops = yield from read_as(other, partial(typed.blade_that_stops, head, goes))
    return (*rounds, Reading(torque=torque, goes=goes, does_not=stops))


def _torque(hand: InHand, laid: str, count: int) -> tuple[Ask, float | None]:
    """Return the question for the torque of a round, and the one suggested [N m]: the card's before anything was logged."""
    card, said = hand.card, hand.facts.verdict
    shown = [str(said["words"])] if said else [card.stop_rule]
    suggested = card.rounds[0].torque if card.rounds else None
    if count > 1 or said:
        told = (said or {}).get("next_torque_Nm")
        suggested = None if told is None else float(told)
    if count == 1 and card.rounds and not laid:  # the card's blades are for the card's shims
        first = card.rounds[0]
        goes = "no blade has to go" if first.goes is None else f"{show(first.goes, card.system)} should go"
        stops = "" if first.stops is None else f", {show(first.stops, card.system)} should not"
        shown.append(f"{first.times_round} times round at this torque; in the middle {goes}{stops}")
    advised, enter = "none is advised; your own", ""
    if suggested is not None:
        advised, enter = f"bring every nut to {show_torque(suggested, card.system)}", "Enter = as said, or "
    question = hand.ask("torque", *shown, count=count, advised=advised, enter=enter)
    return replace(question, echo=laid), suggested


# --- the heat ----------------------------------------------------------------------------------------------------------


def _heated(hand: InHand) -> Asking[Work | Heated]:
    """Lead through the heat: oven, spots in order, or the next stage, which may be work to enter first."""
    planned = hand.planned
    plain = hand.facts.plan.record.get("stages") if hand.facts.plan is not None else None
    if plain is not None:
        stages = stages_from_plain(plain)
        return (
            yield from _in_stages(hand, replace(stages, setup=replace(stages.setup, clamp=planned.clamp)))
        )
    if planned.soak is None and not planned.spots:
        return planned, ""
    yield from agreed(hand.ask("ready", *hand.card.cautions))
    if planned.soak is not None:
        soak, ended = yield from _soaked(hand, planned.soak)
        return replace(planned, soak=soak), ended
    spots, ended = yield from _spotted(hand, enumerate(planned.spots, start=1))
    return replace(planned, spots=spots), ended


def _soaked(hand: InHand, planned: Soak) -> Asking[tuple[Soak, str]]:
    into = yield from begun(hand.ask("in"), skips=False)
    out = replace(hand.ask("out"), since="" if into is None else into.at, seconds=planned.hold)
    return (yield from read_as(out, partial(typed.soak_as_held, hand.dossier.head, planned)))


def _spotted(
    hand: InHand, places: Iterable[tuple[int, Treatment]]
) -> Asking[tuple[tuple[Treatment, ...], str]]:
    """Lead through the places, each with its number on the card; return what was heated and when the last flame went out."""
    done: list[Treatment] = []
    ended = ""
    before: Treatment | None = None
    for order, spot in places:
        pause = 0.0 if before is None else max(spot.start - before.start - before.dwell, 0.0)
        before = spot
        question, held = _spot(hand, order, spot.dwell)
        lit = yield from begun(replace(question, since=ended, seconds=pause if ended else 0.0))
        if lit is None:
            continue
        held = replace(held, since=lit.at, seconds=spot.dwell)
        burnt, ended = yield from read_as(held, partial(typed.spot_as_heated, hand.dossier.head, spot))
        done += burnt
    return tuple(done), ended


def _spot(hand: InHand, order: int, dwell: float) -> tuple[Ask, Ask]:
    """Return the questions to light one spot, and how long the flame was held."""
    card = hand.card
    line = next(spot for spot in (*card.spots, *card.reserve) if spot.order == order)
    light = hand.ask(
        "light", order=order, side=line.side, at=show(line.station, card.system, big=True),
        dwell=f"{line.dwell:.0f}", peak=show_temperature(line.peak, card.system),
    )  # fmt: skip
    following = f"next is spot {order + 1}" if order < len(card.spots) else "this was the last spot"
    return light, hand.ask("held", order=order, dwell=f"{dwell:.0f}", following=following)


def _in_stages(hand: InHand, stages: Stages) -> Asking[Work | Heated]:
    """Lead through the next stage; return it as work to enter, or at the end what was done and when the heat ended."""
    told, logged = hand.facts.stage, hand.dossier.stages
    if told is None:
        return (yield from _stage(hand, stages, 1))
    done, do = int(told["stage"]), int(told["do"])
    hand = replace(hand, card=replace(hand.card, ladder=rungs_of(told.get("ladder", ()))))
    if do == READ_AGAIN:
        shown = _slackened(hand, done)[:1]
        question = hand.ask("stage gap", *shown, stage=done)
        question = replace(
            question,
            key=question.key.replace("/gap", "/again"),
            prompt="Read it once more. Gap in the middle?",
        )
        gap = yield from read_as(question, lambda given: typed.gap_after_stage(hand.dossier.head, given))
        if gap is not None:
            return Work(deed="stage", typed=gap, again=True)
    if do <= 0:
        return all_done(logged), str(told["at"])
    if do > done + 1:
        return Work(deed="stage")
    yield from done_or_skipped(hand.ask("tighten again", stage=do, said=told["words"]))
    return (yield from _stage(hand, stages, do))


def _stage(hand: InHand, stages: Stages, which: int) -> Asking[Work | Heated]:
    card = hand.card
    ready = hand.ask("ready", *card.cautions)
    yield from agreed(ready if which == 1 else replace(ready, key=f"{ready.key}/{which}"))
    places = _numbered(card, stages, stages.treatments(which))
    done, ended = yield from _spotted(hand, places)
    if not ended:  # every place was left out
        ended = card.made_at
    if broken := _broken(hand.dossier, replace(stages.setup, spots=done), tuple(s for _, s in places)):
        return broken, ended
    question = hand.ask("stage gap", *_slackened(hand, which), stage=which)
    question = replace(question, since=ended, seconds=card.stage_wait or 0.0)
    gap = yield from read_as(question, lambda given: typed.gap_after_stage(hand.dossier.head, given))
    if gap is None and which == 1:  # not read: the rest goes as one pass, as on the card
        rest = _numbered(card, stages, range(stages.ends[0], stages.planned))
        more, last = yield from _spotted(hand, rest)
        return replace(stages.setup, spots=(*done, *more)), last or ended
    return Work(deed="stage", setup=replace(stages.setup, spots=done), typed=gap or "")


def _slackened(hand: InHand, stage: int) -> tuple[str, ...]:
    """Return how the gap after a stage is read, and what the card says of it."""
    system = hand.card.system
    rung = next((r for r in hand.card.ladder if r.number == stage), None)
    lines = () if rung is None else (rung_words(rung, system), *if_words(rung, system))
    return ("Slacken the middle nuts, leave the end nuts nipped; blade under the deck in the middle.", *lines)


def _broken(dossier: Dossier, done: PassSetup, planned: tuple[Treatment, ...]) -> PassSetup | None:
    """Return all that was done where a stage broke a limit: then it is heated no further and teaches nothing."""
    if done.spots == planned or not broken_limits(dossier.head, done):
        return None
    before = all_done(dossier.stages).spots if dossier.stages else ()
    return replace(done, spots=(*before, *done.spots))


def _numbered(card: Card, stages: Stages, which: range) -> list[tuple[int, Treatment]]:
    """Return treatments with the numbers under which they stand on the card."""
    on_card = {(line.station, line.side): line.order for line in (*card.spots, *card.reserve)}

    def number(spot: Treatment) -> int:
        return on_card[min(on_card, key=lambda at: (at[1] != spot.side, abs(at[0] - spot.station)))]

    return [(number(stages.setup.spots[k]), stages.setup.spots[k]) for k in which]


# --- the cool-down -----------------------------------------------------------------------------------------------------


def _cooled(hand: InHand, ended: str) -> Asking[None]:
    """Count down to the release and to a reading that tells; going on before takes a reason.

    Released after the wait, a reading that needs no longer one is not waited for again.
    """
    card = hand.card
    told = hand.facts.stage or {}
    twice = told.get("doubted", False) and told["do"] == STOP
    odd = ("The gap was as odd twice: heat no further.",) if twice else ()
    release = replace(hand.ask("release", *odd), since=ended, seconds=card.unclamp_wait)
    if (yield from _waited(release)) and card.wait <= card.unclamp_wait:
        return
    yield from _waited(replace(hand.ask("honest"), since=ended, seconds=card.wait))


def _waited(question: Ask) -> Asking[bool]:
    waited = yield from done_or_skipped(question)
    if waited is None:
        yield from reasoned(reason(f"{question.key}/early", question.part, question.why))
    return waited is not None
