"""Write the figures of the irrigation pump's example anew.

Run as ``python -m tests.journeys.regenerate``: rewrites expected.json with what the program says today. With ``--sand``
the hidden head is sanded anew first, by the counts the program gives today: survey-4, the sand logs, survey-5 and
the sanding in truth.json are rewritten too. With ``--heat`` it is straightened anew before that, by the cards of today:
pass-1, pass-2, survey-2, survey-3 and the bows in truth.json are rewritten, and it is sanded anew. Look at the change
before you commit it.
"""

from __future__ import annotations

import json
import sys
import tempfile
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from straighten.desk.setup_file import setup_file, setup_of
from straighten.filecheck import parse_toml
from straighten.heat import nominal
from straighten.plan.forecast import NOISE_SIZE, forecast
from straighten.plan.records import Draws
from straighten.readings import read_survey
from straighten.sanding.learning import Stop
from straighten.shape import fit_shape
from straighten.shape.modes import INDEX, STATE
from tests.benchmarks.sanding import truth as strokes_left
from tests.journeys.pump import (
    BEFORE_SANDING,
    FOLDER,
    HEAD,
    LINES,
    RIM,
    STATIONS,
    STRAIGHTENING,
    HiddenHead,
    answered,
    hidden_head,
    kept,
    paper,
    sanding,
    steps,
)
from tests.simulated.surveys import survey_text

BESIDE = 3  # mm: the outer spots came out so far from the card's
THIN = 0.05  # mm: in the second pass the stacks are one blade lower
HARDNESS = {2: (82, 83, 88, 88), 3: (81, 82, 87, 88)}
INTAKE = '[intake]\ncracks = "none found"\nmagnesium = "no"\nskimmed = "{skimmed}"\n'
CAM = '[[cam]]\nline = "single"\nmode = "balanced"\ngaps = [{gaps}]\n'
CAM_BOWED = '"0.05-0.06", "0-0.04", "0-0.04", "0-0.04", "0.05-0.06"'
CAM_HONED = '"0-0.01", "0-0.01", "0-0.01", "0-0.01", "0-0.01"'


FINE = (0.02e-3, 0.03e-3, *HEAD.gauge_blades)  # the shop that honed owns thinner blades
TO_THE_ENDS = (30, *STATIONS, 390)  # sanding lowers the ends: a last survey reads near them
BY_SHOP = {"cam": CAM_HONED, "skimmed": "yes", "blades": FINE, "stations": TO_THE_ENDS}
BY_OWNER = {"cam": CAM_BOWED, "skimmed": "no", "blades": HEAD.gauge_blades, "stations": STATIONS}


def survey(
    head: HiddenHead,
    title: str,
    *,
    cam: str,
    skimmed: str,
    blades: tuple[float, ...],
    stations: tuple[int, ...],
) -> str:
    """Return a survey file of the head as it is."""
    lines = [f'[[deck]]\nline = "{name}"\ngaps = [{head.cells(name, stations, blades)}]\n' for name in LINES]
    heights = "".join(f"{key} = {value:.3f}\n" for key, value in zip(RIM, head.heights(), strict=True))
    return "\n".join(
        [
            f'# {title}\nunits = "mm"\nmode = "bridged"\nstations = {list(stations)}\n',
            INTAKE.format(skimmed=skimmed), *lines, CAM.format(gaps=cam),
            '[[hardness]]\nside = "exhaust"\nvalues = [81, 82]\n', '[[hardness]]\nside = "inlet"\nvalues = [87, 88]\n',
            "[heights]\n" + heights,
        ]
    )  # fmt: skip


def log(head: HiddenHead, number: int, strokes: int, answer: dict) -> str:
    """Return the log of one run."""
    check = head.bench.read(strokes, paper(answer["next_grit"]))
    gaps = "".join(
        f"{name.replace(' ', '_')} = {head.cells(name, (max(STATIONS, key=_middle),))}\n" for name in LINES
    )
    heights = "".join(f"{key} = {value:.3f}\n" for key, value in zip(RIM, head.heights(), strict=True))
    return (
        f"# Run {number}: {'stopped by the look, as the plan says' if number == 1 else 'as many strokes as the plan gave'}.\n"
        f'units = "mm"\nstrokes = {strokes}\nsheets = {check.sheets}\ngrit = "{answer["next_grit"]}"\n'
        f"cleaned_percent = {100 * (check.cleaned or 0):.0f}      # squares of the pen grid counted\n\n"
        f"[gaps]                    # largest on each line\n{gaps}\n[heights]                 # the six places of survey 4\n{heights}"
    )


def _middle(station: int) -> int:
    return -abs(station - 210)


def sand_anew(book: Path) -> None:
    """Sand the hidden head by the counts the program gives, and write what is seen."""
    for old in FOLDER.glob("sand-*.toml"):
        old.unlink()
    head = hidden_head()
    title = "Survey before sanding: the diagonals and six heights, which the plate needs."
    _write("survey-4.toml", survey(head, title, **BY_OWNER))
    for words in (*STRAIGHTENING.values(), *BEFORE_SANDING.values()):
        answer = answered(words, book)
    told: dict[str, Any] = {"removed_mm": [], "hollow_mm": [], "strokes_left": []}
    number = 0
    while answer["state"] == "go on" and number < 6:
        number += 1
        stop = Stop(share=answer["stop_at_shining_share"], fall=1e-3 * answer["stop_at_fall_mm"])
        strokes = head.bench.run(answer["next_strokes"], paper(answer["next_grit"]), stop)
        _write(f"sand-{number}.toml", log(head, number, strokes, answer))
        goal = 1e-3 * answer["hollow_aimed_at_mm"]
        told["removed_mm"].append(round(1e3 * head.bench.depth(), 4))
        told["hollow_mm"].append(round(1e3 * head.hollow(), 4))
        told["strokes_left"].append(round(strokes_left(head.bench, paper(answer["next_grit"]), goal)[0]))
        answer = answered(sanding(f"sand-{number}.toml"), book)
    head.fine_papers()
    title = "Survey after sanding and the finer papers, washed, cold; by the licensed shop that honed the cam line, with its thinner blades."
    _write("survey-5.toml", survey(head, title, **BY_SHOP))
    truth = json.loads((FOLDER / "truth.json").read_text(encoding="utf-8"))
    end = {"removed": head.bench.depth(), "hollow": head.hollow(), "bow": head.bow()}
    told |= {f"final_{key}_mm": round(1e3 * value, 4) for key, value in end.items()}
    truth["sanding"] = {**{k: v for k, v in truth["sanding"].items() if k in _GIVEN}, **told}
    _write("truth.json", json.dumps(truth, indent=1) + "\n")


_GIVEN = ("rate_over_table", "worn_over_fresh", "fading_strokes")


def _write(name: str, text: str) -> None:
    (FOLDER / name).write_text(text, encoding="utf-8")


def heat_anew(book: Path) -> None:
    """Straighten the hidden head by the cards of today, nearly as they say, and write what is done and read."""
    truth = json.loads((FOLDER / "truth.json").read_text(encoding="utf-8"))
    one = np.ones(1)
    response = replace(nominal(), **{name: value * one for name, value in truth["response"].items()})
    seen = fit_shape(read_survey(FOLDER / "survey-1.toml", HEAD), HEAD)
    state = np.zeros(len(STATE))
    state[INDEX["deck_bow"]], state[INDEX["cam_bow"]] = (1e-3 * v for v in truth["bow_mm"][0])
    for name in (
        "deck_skew",
        "cam_skew",
    ):  # a plain bow that leans: the rest of what survey 1 shows is its blades
        state[INDEX[name]] = seen.value(name)
    bows, words = truth["bow_mm"][:1], list(STRAIGHTENING.values())
    answered(words[0], book)
    for number, (plan, log) in enumerate((words[1:3], words[3:5]), start=1):
        card = answered(plan, book)
        text = done_beside(card, number)
        _write(f"pass-{number}.toml", text)
        setup = setup_of(
            setup_file(parse_toml(text, "pass"), where="pass", system="mm"), HEAD, f"pass-{number}.toml"
        )
        draws = Draws(states=state[None, :], response=response, weights=one)
        state = forecast(HEAD, draws, setup, np.zeros((1, NOISE_SIZE))).after[0]
        bows.append([round(1e3 * state[INDEX[name]], 4) for name in ("deck_bow", "cam_bow")])
        found = survey_text(HEAD, state, number, hardness=HARDNESS[number + 1])
        _write(f"survey-{number + 1}.toml", f"# Survey after pass {number}, the head cold and free.\n{found}")
        answered(log, book)
    told = {"bow_mm": bows, "shape_mm": [round(1e3 * v, 5) for v in state]}
    _write("truth.json", json.dumps({**truth, **told}, indent=1) + "\n")


def done_beside(card: dict[str, Any], number: int) -> str:
    """Return what was done as a set-up file: the outer spots a little further out, later stacks one blade lower."""
    lower = THIN if number > 1 else 0.0
    corners = [round(max(stack["height_mm"] - lower, 0.0), 3) for stack in card["stacks"]]
    pull = sorted({bolt["station_mm"] for bolt in card["bolts"]})
    why = "stacks one 0.05 blade under the card's, " if lower else "the card's stacks, "
    lines = [
        f"# What was done in pass {number}: {why}the outer spots {BESIDE} mm further out.",
        f'units = "mm"\n\n[clamp]\ncorners = {corners}   # front exhaust, front inlet, rear exhaust, rear inlet',
        f"pull_at = {pull}\ngap = {card['gap_mm']:g}               # what is left under the middle\n",
    ]
    for side in ("exhaust", "inlet"):
        spots = sorted((s for s in card["spots"] if s["side"] == side), key=lambda s: s["station_mm"])
        told = [s["station_mm"] for s in spots]
        done = [told[0] - BESIDE, *told[1:-1], told[-1] + BESIDE] if len(told) > 1 else told
        lines.append(
            f'[[spots]]\nstations = {[round(x, 1) for x in done]}\nside = "{side}"\nflux_radius = {spots[0]["flux_radius_mm"]:g}\n'
            f'dwell = "{spots[0]["dwell_s"]:g} s"\npeak = "{spots[0]["peak_C"]:.0f} C"\n'
            'together = false      # one torch, one spot after another\npause = "55 s"\n'
        )
    return "\n".join(lines)


def expect_anew(book: Path) -> None:
    """Write what the program says at every step."""
    found = {step: kept(step, answered(words, book)) for step, words in steps().items()}
    _write("expected.json", json.dumps(found, indent=1) + "\n")


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as folder:
        if "--heat" in sys.argv:
            heat_anew(Path(folder) / "heat.book")
        if {"--sand", "--heat"} & set(sys.argv):
            sand_anew(Path(folder) / "sand.book")
        expect_anew(Path(folder) / "expected.book")
