"""The pass page one step at a time on a phone: the frame, and the block of data from which its script plays the card.

The script shows the printed steps one by one; between heat and cooling it leads from place to place and up the ladder.
What it needs beside the printed page stands in the block: seconds, the ladder, the words of buttons, what `log` takes.
"""

from __future__ import annotations

import json
from importlib.resources import files
from typing import Any, Final
from xml.etree.ElementTree import Element

from straighten.errors import in_shell
from straighten.head.equipment import TIMES
from straighten.plan.stages import STOP
from straighten.sheet.card import Card, RungLine, SpotLine
from straighten.sheet.card_words import WHATEVER, do_words, rung_words, spot_words
from straighten.sheet.markup import clean, node
from straighten.sheet.sides import NONE_GOES
from straighten.units import THOU, show, told_duration

_WORDS: Final = {
    "open": "One step at a time",
    "close": "Whole page",
    "next": "Next",
    "back": "Back",
    "heated": "Heated",
    "out": "Left out",
    "on": "Flame on: start the clock",
    "off": "Flame off: stop the clock",
    "start": "Start the clock",
    "clear": "Clear the clock",
    "read": "Gap read",
    "done": "What was done",
    "lost": "This page keeps nothing: closed or loaded anew, it begins again.",
    "take": "Copy or save it before you close the page. What begins with # straighten is typed at the program, in this order.",
}


def live_parts(card: Card) -> tuple[Element, ...]:
    """Return the frame, hidden until the script runs, and the block of data; nothing for a card that does not tell its flame."""
    if any(spot.flux_radius is None for spot in (*card.spots, *card.reserve)):
        return ()
    told = json.dumps(live_data(card), ensure_ascii=False, separators=(",", ":")).replace("<", "\\u003c")
    return (
        node("div", class_="live", hidden="hidden"),
        node("script", told, type="application/json", id="steps"),
    )


def live_script() -> str:
    """Return the script that plays the block."""
    return files("straighten.sheet").joinpath("live.js").read_text(encoding="utf-8")


def live_data(card: Card) -> dict[str, Any]:
    """Return what the script needs, as JSON scalars: times [s], and finished sentences."""
    name = clean(" ".join(card.name.split()))
    file = f"pass-{card.pass_number}.toml"
    return {
        "words": {**_WORDS, "save": f"Save {file}"},
        "timed": {
            **({} if card.soak is None else {"3": ["soak", told_duration(card.soak.hold)]}),
            "4": ["cool", told_duration(card.unclamp_wait)],
            "6": ["cool", told_duration(card.wait)],
        },
        "pause": None if card.spot_pause is None else round(card.spot_pause),
        "wait": card.stage_wait,
        "shortest": TIMES.value[0],
        "stop": do_words(STOP, 0),
        "spots": {spot.order: _spot(spot, card) for spot in (*card.spots, *card.reserve)},
        "stages": _stages(card),
        "file": file,
        "top": f"Pass {card.pass_number}, head {name}, card of {card.made_at[:16].replace('T', ' ')}",
        "stage": f"straighten stage {in_shell(name)}",
        "log": f"straighten log {in_shell(name)} survey.toml --done {file}",
        "unheated": "heated = false",
    }


def _spot(spot: SpotLine, card: Card) -> dict[str, Any]:
    """Return a place in words, its seconds, and its table in a set-up file without them."""
    assert spot.flux_radius is not None  # noqa: S101 - `live_parts` has looked
    # The first place of a stage has cooled long since the one before: the pause of a set-up file that tells none.
    first = {rung.places[0] for rung in card.ladder if rung.places}
    pause = "" if card.spot_pause is None or spot.order in first else f'pause = "{card.spot_pause:.6g} s"\n'
    table = (
        f'[[spots]]\nstations = ["{1e3 * spot.station:.6g} mm"]\nside = "{spot.side}"\n'
        f'flame_radius = "{1e3 * spot.flux_radius:.6g} mm"\npeak = "{spot.peak:.6g} C"\n{pause}dwell = '
    )
    return {"words": spot_words(spot, card.system), "dwell": float(f"{spot.dwell:.6g}"), "table": table}


def _stages(card: Card) -> list[dict[str, Any]]:
    """Return the rungs; where there are none, all places as one stage after which nothing is read; none of a soak."""
    if card.soak is not None:
        return []
    if card.ladder:
        return [_stage(rung, card) for rung in card.ladder]
    places = [spot.order for spot in card.spots]
    return [{"number": 1, "places": places, "lines": []}] if places else []


def _stage(rung: RungLine, card: Card) -> dict[str, Any]:
    thicker: float | None = None
    lines = []
    for line in rung.lines:
        lines.append(
            {
                "when": _when(line.goes, rung, card),
                "do": line.do,
                "then": do_words(line.do, rung.number),
                "gap": _bracket(line.goes, thicker, card),
            }
        )
        thicker = line.goes
    return {
        "number": rung.number,
        "name": do_words(rung.number, rung.number - 1),
        "places": list(rung.places),
        "words": rung_words(rung, card.system),
        "lines": lines,
    }


def _when(goes: float | None, rung: RungLine, card: Card) -> str:
    if goes is not None:
        return f"{show(goes, card.system)} goes"
    return NONE_GOES if len(rung.lines) > 1 else WHATEVER


def _bracket(goes: float | None, stops: float | None, card: Card) -> str:
    """Return a gap as `stage --gap` takes it: the blade that goes and the one tried before it, which does not."""
    unit, size = ("mm", 1e-3) if card.system == "mm" else ("thou", THOU)
    low, high = (None if blade is None else f"{blade / size:.4g}" for blade in (goes, stops))
    if high is None:
        return "" if low is None else f"goes {low} {unit}"
    return f"{low or 0}-{high} {unit}"
