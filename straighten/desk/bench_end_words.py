"""What the guided session asks after the heat, in words: strokes and what was seen, the final list, how it was closed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from straighten.desk.bench_records import Ask
from straighten.desk.bench_words import left
from straighten.errors import closed as ended

if TYPE_CHECKING:
    from straighten.book import Entry


def _part(number: int) -> str:
    return f"SAND stretch {number}"


def cautions(told: Mapping[str, Any]) -> Ask:
    """Return the cautions before the first stroke, to be agreed to."""
    return Ask(
        key="sand/ready",
        part="BEFORE YOU SAND",
        shown=tuple(told["cautions"]),
        prompt="All of this seen to?",
        hint="type yes; why = how it is done",
        why=" ".join(map(str, told["method"])),
    )


def strokes(told: Mapping[str, Any], number: int) -> Ask:
    """Return the question for the strokes of a stretch."""
    return Ask(
        key=f"sand/{number}/strokes",
        part=_part(number),
        shown=tuple(told["do"]),
        prompt="Strokes done, there and back: anything different?",
        hint=f"Enter = {told['next_strokes']} with {told['next_grit']} as planned; like 200, or 200 P120 2 sheets; "
        f"measure = {'no more strokes' if number > 1 else 'read the head again first'}",
        why="The next count is learned from the strokes really made and what they took off.",
    )


def shine(number: int, run: Mapping[str, Any]) -> Ask:
    """Return the question for the share that shines."""
    return Ask(
        key=f"sand/{number}/shine",
        part=_part(number),
        prompt="How much of the face shines?",
        hint="like 60 %; skip = not looked at",
        why="Counted by the squares of the pen grid; how fast it grows tells how fast the paper cuts.",
        echo=f"{run['strokes']} strokes with {run['grit']}",
    )


def gap(number: int) -> Ask:
    """Return the question for the gaps after a stretch."""
    return Ask(
        key=f"sand/{number}/gap",
        part=_part(number),
        prompt="Largest gap left under the straightedge?",
        hint="like 0.04-0.05, or exhaust edge, centre, inlet edge and both diagonals at once: 2 2-3 2 1 1; skip = not read",
        why="The gap says how far it is to the limit, and ends the sanding.",
    )


def heights(number: int, places: Sequence[str]) -> Ask:
    """Return the question for the heights after a stretch."""
    return Ask(
        key=f"sand/{number}/heights",
        part=_part(number),
        prompt=f"Heights now: {', '.join(places)}?",
        hint="all in this order, by the micrometer; skip = not measured",
        why="What the heights fell by teaches most: it is the metal that is gone.",
    )


def washed(told: Mapping[str, Any]) -> Ask:
    """Return the question before the survey after sanding."""
    return Ask(
        key="sand/washed",
        part="WASH",
        shown=(str(told["sentence"]), str(told["method"][-1])),
        prompt="Washed, a white rag stays white, head as warm as the room?",
        hint="Enter = done, measure all of it",
        why="Grit ruins bearings and lifts the straightedge; the survey shows what the sanding left.",
    )


def item(key: str, title: str, reach: str) -> Ask:
    """Return the question for one line of the final list that only the person sees."""
    return Ask(
        key=f"final/{key}",
        part="FINAL LIST",
        shown=(f"To reach: {reach}",),
        prompt=f"{title[:1].upper()}{title[1:]}?",
        hint="y = seen and good; n = not good; or what was found; skip and why = left out; Enter = not seen yet; done = "
        "leave the rest",
        why="Only the person at the bench sees it; what is left out stays on the list.",
    )


def close(refused: str) -> Ask:
    """Return the question whether the head is closed; `refused` says what speaks against it."""
    how = "close = close it all the same, asks why" if refused else "close = close it"
    return Ask(
        key="final/close",
        part="FINAL LIST",
        shown=(refused,) if refused else (),
        prompt="Close the head in the book?",
        hint=f"{how}; stop = leave it open; measure = measure again; back = change an answer",
        why="The list as it stands is kept with the job; measuring again opens the head.",
    )


def closed(entry: Entry, name: str) -> Ask:
    """Return the last words: when and how the head was closed."""
    final, because = entry.record["final"], str(entry.record.get("because", ""))
    left_out = "; ".join(final["skipped"])
    told = [
        f"closed as entry {entry.number} on {entry.at[:10]}, {final['passes']} passes of heat",
        *([ended(f"Sanded: {final['sanded']}")] if final["sanded"] else []),
        *([ended(f"Left out or not seen: {left_out}")] if left_out else []),
        *([f'Closed all the same because: "{because}".'] if because else []),
    ]
    return left(" ".join([ended(told[0]), *told[1:]]), f"straighten sheet {name} --report", key="closed")
