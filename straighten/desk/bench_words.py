"""The words of the guided session: every question once, with its hint and its reason, as a table of steps."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, Final

from straighten.book import Entry
from straighten.desk.bench_work import Ask
from straighten.errors import closed, in_shell
from straighten.sheet.card import Card
from straighten.sheet.layout import percent
from straighten.sheet.verdict import passes_told
from straighten.units import System, show, show_duration, show_temperature, show_torque

CLAMP, _HEAT, _COOL, _SAND = "TIGHTEN pass {n}", "HEAT pass {n}", "COOL pass {n}", "SAND stretch {n}"
_LIST: Final = "FINAL LIST"

# What stands in braces is filled in where the question is asked; see `of_card` for what a card fills in.
STEPS: Final[Mapping[str, Ask]] = {
    "card": Ask(
        key="pass/{n}/read", part="PLAN of pass {n}", prompt="This is the card of pass {n}.",
        hint="Enter = begin; the whole card: straighten sheet {name}, in another window",
        why="{reason} Decided by {decided_by}. {learned}",
    ),
    "before": Ask(
        key="clamp/{n}/before", part="BEFORE YOU CLAMP, pass {n}", prompt="All of step 0 done, nobody in the way?",
        hint="type yes",
        why="Trapped water, sodium, magnesium and unseen cracks have hurt people; once clamped it is too late to look.",
    ),
    "shims": Ask(
        key="clamp/{n}/shims", part=CLAMP, prompt="Shims laid, nuts finger tight in this order. Anything different?",
        hint="Enter = as on the card; else like {laid}",
        why="Shims at the wrong place bend the wrong way and double the bow: read the arrow line again.",
    ),
    "torque": Ask(
        key="round/{n}/{count}/torque", part=CLAMP, shown=("NEVER OVER {most}",),
        prompt="Round {count}: {advised}, middle pair first. Torque reached?",
        hint="{enter}like {torque}; its blades may follow at once: {both}; skip = no more rounds, asks why",
        why="Torque and gap together tell how stiff this head is on these bolts; stop at the gap, not at the torque.",
    ),
    "goes": Ask(
        key="round/{n}/{count}/goes", part=CLAMP,
        prompt="Blades under the middle, the largest that goes and the smallest that does not?",
        hint="both at once, like {blades}; 0 = none goes; one alone, and the other is asked for",
        why="The gap wanted is {gap}.",
    ),
    "stops": Ask(
        key="round/{n}/{count}/stops", part=CLAMP, prompt="Smallest blade that does not go?",
        hint="like {blade}; all = every blade goes; back = the other one was mistyped",
        why="The gap lies between the two blades; one alone leaves the other side open.",
    ),
    "over the most": Ask(
        key="clamp/{n}/over/{count}", part=CLAMP, prompt="Slackened, bolts and threads checked or new?",
        shown=("STOP: {said}",), hint="anew = begin the rounds anew; back = the torque was mistyped",
        why="A bolt that has yielded can break when it gets hot. No blade reading and no reason changes that.",
    ),
    "left": Ask(
        key="clamp/{n}/left", part=CLAMP, prompt="{reached}, anything different?",
        hint="Enter = as on the card; else the gap or the torque, like {left}",
        why="What the clamp really held decides what the heat takes out; the next plan learns from it.",
    ),
    "ready": Ask(
        key="heat/{n}/ready", part=_HEAT, shown=("TARGET {target}", "NEVER ABOVE {ceiling}"),
        prompt="All of this seen to, nobody in the way?", hint="type yes",
        why="Hot aluminium looks cold and the clamp holds tonnes; the lines above are what has hurt people.",
    ),
    "light": Ask(
        key="heat/{n}/spot/{order}/light", part=_HEAT, prompt="Flame on the spot? Type on",
        shown=("SPOT {order} of {spots}: {side} side at {at} from the front, {dwell} s to {peak}", "NEVER ABOVE {ceiling}"),
        hint="on starts the clock; skip = leave this spot out", waiting="pause before spot {order}",
        why="The order spreads the heat; a pause lets the spot before cool in still air, no water and no fan.",
    ),
    "held": Ask(
        key="heat/{n}/spot/{order}/held", part=_HEAT, prompt="Flame off. Anything different? ({following})",
        hint="Enter = {dwell} s as on the card; else time, place, heat: {burnt}; skip = it was not heated",
        why="The pass is logged as it was done; the next plan learns from the time really held.",
        waiting="flame on spot {order}, off at 0",
    ),
    "stage gap": Ask(
        key="heat/{n}/stage/{stage}/gap", part=_HEAT, prompt="Stage {stage}: gap in the middle?",
        hint="like {stage_gap}; skip = not read", waiting="roof cools, read at 0",
        why="On its shims with slack nuts the head shows shims and bow at once: the next stage is chosen by it.",
    ),
    "tighten again": Ask(
        key="heat/{n}/stage/{stage}/tighten", part=_HEAT, shown=("Next: {said}", "NEVER OVER {most}"),
        prompt="Tightened again in rounds until {until}?",
        why="Every stage is heated under the same bend; the gap, not the torque, says when it is reached.",
    ),
    "in": Ask(
        key="heat/{n}/in", part=_HEAT, prompt="Type on once the metal is at {metal}", hint="on starts the clock",
        shown=("Clamped head in the oven; the METAL at {metal}, by a thermocouple in the middle of it",),
        why="The dial is not the metal; the soak counts from when the metal is there.",
    ),
    "out": Ask(
        key="heat/{n}/out", part=_HEAT, prompt="Oven off. Metal at temperature so long, anything different?",
        hint="Enter = {hold} as on the card; else time, heat: {soaked}", waiting="soak, oven off at 0",
        why="Time at temperature decides both what stays straight and how soft the casting gets.",
    ),
    "release": Ask(
        key="cool/{n}/release", part=_COOL, shown=("Leave it clamped in still air: no water, no fan.",),
        prompt="Cool to the hand? Slacken outside to middle, a quarter turn at a time. Head free?",
        hint="Enter = free; skip before the time asks why", waiting="cools, unclamp at 0", strict=True,
        why="It stays clamped {unclamp} after the last heat: released warm, it ends with another bow than it shows then.",
    ),
    "honest": Ask(
        key="cool/{n}/honest", part=_COOL, prompt="Ready to measure?", strict=True,
        hint="Enter = measure; skip before the time asks why", waiting="evens out, measure at 0",
        why="Read it {wait} after the last heat: {wait_reason}.",
    ),
    "release cold": Ask(
        key="cool/{n}/cold", part="RELEASE pass {n}",
        prompt="Slacken outside to middle, a quarter turn at a time. Head free?",
        why="The clamp holds tonnes: stand clear of the stud ends.",
    ),
    "keep": Ask(
        key="survey/{n}/keep", part="{part}", prompt="Keep these {count} readings?",
        hint="Enter = into the book; back = change the last one",
        why="Once in the book they are not changed, only struck with a reason (straighten strike).",
    ),
    "as before": Ask(
        key="survey/{n}/same", part="MEASURE after pass {n}", prompt="Were they really read again?",
        shown=("Every reading equals the survey before the pass.",), hint="type yes; back = change them",
        why="The next plan would learn that the pass did next to nothing.",
    ),
    "again": Ask(
        key="survey/{n}/again", part="READ AGAIN", prompt="{place}: what does it read now?",
        hint="{like}; sure = it reads the same",
        why="The other readings stay. What reads the same twice is no slip: its line is marked as read twice.",
    ),
    "reason": Ask(
        key="{key}", part="{part}", shown=("STOP RULE: {rule}",), hint="a few words; back = do not",
        prompt="Why go on all the same? The reason is kept with the job.",
        why="The rule: {rule} Going past it can cost the head or hurt someone.",
    ),
    "end": Ask(
        key="{key}", part="END", prompt="Next: {command}", hint="Enter = leave; back = change the answer before",
        why="All of it is in the book; straighten bench goes on from there.", last=True,
    ),
    "sand cautions": Ask(
        key="sand/ready", part="BEFORE YOU SAND", prompt="All of this seen to?",
        hint="type yes; surface DIN 876/1 {plate} = what it is sanded on; why = how it is done", why="{method}",
    ),
    "strokes": Ask(
        key="sand/{n}/strokes", part=_SAND, prompt="Strokes done, there and back: anything different?",
        hint="Enter = {strokes} with {grit} as planned; like 200, or 200 P120 2 sheets; measure = {measure}",
        why="The next count is learned from the strokes really made and what they took off.",
    ),
    "shine": Ask(
        key="sand/{n}/shine", part=_SAND, prompt="How much of the face shines?",
        hint="like 60 %; skip = not looked at",
        why="Counted by the squares of the pen grid; how fast it grows tells how fast the paper cuts.",
    ),
    "sand gap": Ask(
        key="sand/{n}/gap", part=_SAND, prompt="Largest gap left under the straightedge?",
        hint="like {hollow}, or exhaust edge, centre, inlet edge and both diagonals at once: {hollows}; skip = not read",
        why="The gap says how far it is to the limit, and ends the sanding.",
    ),
    "heights": Ask(
        key="sand/{n}/heights", part=_SAND, prompt="Heights now: {places}?",
        hint="all in this order, by the micrometer; skip = not measured",
        why="What the heights fell by teaches most: it is the metal that is gone.",
    ),
    "washed": Ask(
        key="sand/washed", part="WASH", prompt="Washed, a white rag stays white, head as warm as the room?",
        hint="Enter = done, measure all of it",
        why="Grit ruins bearings and lifts the straightedge; the survey shows what the sanding left.",
    ),
    "list line": Ask(
        key="final/{key}", part=_LIST, prompt="{title}?", shown=("To reach: {reach}",),
        hint="y = seen and good; n = not good; or what was found; skip and why = left out; Enter = not seen yet; done = "
        "leave the rest",
        why="Only the person at the bench sees it; what is left out stays on the list.",
    ),
    "close": Ask(
        key="final/close", part=_LIST, prompt="Close the head in the book?",
        hint="{how}; stop = leave it open; measure = measure again; back = change an answer",
        why="The list as it stands is kept with the job; measuring again opens the head.",
    ),
}  # fmt: skip

LIKE: Final[Mapping[System, Mapping[str, str]]] = {  # examples that are answers in the units shown first
    "mm": {
        "laid": "shims 0.15, front 0.10, corners 0.1 0.1 0.15 0.15, pull 111 309", "torque": "18 Nm",
        "crayon": "crayon 250 C 1.2 s", "blade": "0.12", "stage_gap": "0.30-0.35",
        "both": "18 Nm 0.10-0.12", "blades": "0.10-0.12 or 0-0.04", "left": "0.10-0.12 or 30 Nm",
        "burnt": "6 s at 165 mm 480 C", "soaked": "3 h 190 C", "plate": "600 x 400 mm",
        "hollow": "0.04-0.05", "hollows": "0.05 0.05-0.06 0.05 0.04 0.04",
    },
    "inch": {
        "laid": "shims 6, front 4, corners 4 4 6 6, pull 4.4 12.2", "torque": "13 ft-lb",
        "crayon": "crayon 480 F 1.2 s", "blade": "5", "stage_gap": "12-14",
        "both": "13 ft-lb 4-5", "blades": "4-5 or 0-1.5", "left": "4-5 or 22 ft-lb",
        "burnt": "6 s at 6.5 in 900 F", "soaked": "3 h 375 F", "plate": "24 x 16 in",
        "hollow": "1.5-2", "hollows": "2 2-3 2 1 1",
    },
}  # fmt: skip


def ask(step: str, *first: str, **told: object) -> Ask:
    """Return the question of a step with what is `told` filled in, and lines to read `first` before its own."""
    row = STEPS[step]
    words = {
        name: getattr(row, name).format(**told)
        for name in ("key", "part", "prompt", "hint", "why", "waiting")
    }
    return replace(row, **words, shown=(*first, *(line.format(**told) for line in row.shown)))


def of_card(card: Card) -> dict[str, object]:
    """Return what a card fills in: number of the pass, its figures in words, examples in its units."""
    soaked = {}
    if card.soak is not None:
        metal, hold = show_temperature(card.soak.temperature, card.system), show_duration(card.soak.hold)
        soaked = {"metal": metal, "hold": hold, "target": f"metal at {metal} for {hold}"}
    return {
        "n": card.pass_number,
        "name": in_shell(card.name),
        "gap": show(card.gap, card.system),
        "until": f"{show(card.gap, card.system)} is left" if card.gap > 0 else "the gap is closed",
        "reached": f"Left at {show(card.gap, card.system)}" if card.gap > 0 else "Gap closed",
        "most": show_torque(card.most_torque, card.system),
        "ceiling": show_temperature(card.ceiling, card.system),
        "spots": len(card.spots),
        "target": f"{len(card.spots)} spots on the cam side, one at a time",
        "unclamp": show_duration(card.unclamp_wait),
        "wait": show_duration(card.wait),
        "wait_reason": card.wait_reason,
        **soaked,
        **LIKE[card.system],
    }


def measuring(stage: int) -> str:
    """Return the part of the work in which a survey is read, after so many passes."""
    return f"MEASURE after pass {stage}" if stage else "MEASURE"


KIND_WHY: Final = {
    "units": "A bare number means nothing without it; a written unit (4 thou, 0.10 mm) always wins.",
    "yes or no": "A deck faced while the head was bowed is flat over a bent cam line: deck and cam line then disagree.",
    "cracks": "A cracked head is neither clamped nor heated; it goes to a specialist.",
    "magnesium": "Magnesium burns: such a casting is neither heated nor sanded.",
    "seat": "The same gap means one thing under an edge that rests on both ends and another under one that rocks.",
    "end": "The gaps of a rocking edge are counted from the end that touches.",
    "gap": "The shape is drawn through these brackets; a blank is fair and costs width in the range of the plan.",
    "hardness": "Heat softens the casting; a first figure is what later ones are judged by.",
    "height": "The height says how much metal may still come off the deck.",
}

_ONWARD = {  # next step: what is asked, what Enter does
    "heat": ("Go on to the plan?", "Enter = plan the pass"),
    "sand": ("Go on to the sanding?", "Enter = plan the strokes"),
    "finish": ("Go on to the final list?", "Enter = the final list"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Onward:
    """What may be typed where the next step is decided.

    The `step` the judgement names; the word that goes `past` its advice with a reason, "" for none; the warnings of
    what does not fit (`doubts`); the flame's `trial` where it is still due; whether a shape was `measured`; the `system`
    that examples are told in.
    """

    step: str
    past: str
    doubts: tuple[str, ...]
    trial: tuple[str, ...]
    measured: bool
    system: System

    @property
    def listed(self) -> bool:
        """Whether the final list is to be had although another step is next."""
        return self.measured and self.step not in ("heat", "finish")

    def asked(self, key: str, part: str, shown: tuple[str, ...], why: str) -> Ask:
        """Return the question, below what was found and the warnings of what does not fit, numbered if several."""
        many = len(self.doubts) > 1
        prompt, enter = _ONWARD.get(self.step, ("No pass is advised now.", "Enter = leave"))
        hint = [enter, "measure = the whole survey again"]
        if self.doubts:
            which = f" 1 to {len(self.doubts)}" if many else ""
            hint.append(f"again{which} = read only the place that does not fit")
        if self.listed:
            hint.append("finish = the final list as it stands")
        if self.trial:
            hint.append(f"{LIKE[self.system]['crayon']} = what the flame trial told, kept in the head file")
        if self.past:
            hint.append(f"{self.past} = go on against the advice, asks why; the reason is kept")
        unfit = (f"DOES NOT FIT{f' ({n})' if many else ''}: {told}" for n, told in enumerate(self.doubts, 1))
        trial = (f"BEFORE THE CARD: {told}" for told in self.trial)
        return Ask(
            key=key, part=part, shown=(*shown, *unfit, *trial), prompt=prompt, hint="; ".join(hint), why=why
        )


def check(told: Mapping[str, Any], stage: int, onward: Onward) -> Ask:
    """Return the question after the go / no-go."""
    lines = (f"VERDICT {str(told['verdict']).upper()}: {told['reason']}", str(told["direction"]))
    why = " ".join([f"Decided by {told['decided_by']}.", *map(str, told["findings"])])
    return onward.asked(f"check/{stage}/go", "CHECK", tuple(filter(None, lines)), why)


def decision(record: Mapping[str, Any], stage: int, onward: Onward) -> Ask:
    """Return the question after the decision."""
    options = tuple(
        f"{o['choice']}: expected cost {o['expected_cost_money']:.0f}, in limits {percent(o['chance_in_limits'])}"
        for o in record["options"]
    )
    why = "; ".join(
        [*(str(o["reason"]) for o in record["options"]), "prices: " + ", ".join(record["prices"])]
    )
    return onward.asked(f"decide/{stage}/next", "DECIDE", (str(record["reason"]), *options), why)


def left(what: str, command: str, key: str = "end") -> Ask:
    """Return the last question: nothing follows."""
    return ask("end", closed(f"The session ends here: {what}"), key=key, command=command)


def reason(key: str, part: str, rule: str) -> Ask:
    """Return the question for a reason to go on past a stop rule."""
    return ask("reason", key=key, part=part, rule=rule)


def how_closed(entry: Entry, name: str) -> Ask:
    """Return the last words: when and how the head was closed."""
    final, because = entry.record["final"], str(entry.record.get("because", ""))
    told = [
        closed(f"closed as entry {entry.number} on {entry.at[:10]}, {passes_told(final['passes'])}"),
        *([closed(f"Sanded: {final['sanded']}")] if final["sanded"] else []),
        *([closed(f"Left out or not seen: {'; '.join(final['skipped'])}")] if final["skipped"] else []),
        *([f'Closed all the same because: "{because}".'] if because else []),
    ]
    return left(" ".join(told), f"straighten sheet {in_shell(name)} --report", key="closed")
