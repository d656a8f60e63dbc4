"""Write the figures of the irrigation pump's example anew.

Run as ``python -m tests.journeys.regenerate``: rewrites expected.json with what the program says today. With ``--sand``
the hidden head is sanded anew first, by the counts the program gives today: survey-4, the sand logs, survey-5 and
the sanding in truth.json are rewritten too. Look at the change before you commit it.
"""

from __future__ import annotations

import json
import sys
import tempfile
from pathlib import Path
from typing import Any

from straighten.finish.first_run import Stop
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

INTAKE = '[intake]\ncracks = "none found"\nmagnesium = "no"\nskimmed = "{skimmed}"\n'
CAM = '[[cam]]\nline = "single"\nmode = "balanced"\ngaps = [{gaps}]\n'
CAM_BOWED = '"0.05-0.06", "0-0.04", "0-0.04", "0-0.04", "0.05-0.06"'
CAM_HONED = '"0-0.02", "0-0.02", "0-0.02", "0-0.02", "0-0.02"'


FINE = (0.02e-3, 0.03e-3, *HEAD.gauge_blades)  # the shop that honed owns thinner blades
BY_SHOP = {"cam": CAM_HONED, "skimmed": "yes", "blades": FINE}
BY_OWNER = {"cam": CAM_BOWED, "skimmed": "no", "blades": HEAD.gauge_blades}


def survey(head: HiddenHead, title: str, *, cam: str, skimmed: str, blades: tuple[float, ...]) -> str:
    """Return a survey file of the head as it is."""
    lines = [f'[[deck]]\nline = "{name}"\ngaps = [{head.cells(name, blades=blades)}]\n' for name in LINES]
    heights = "".join(f"{key} = {value:.3f}\n" for key, value in zip(RIM, head.heights(), strict=True))
    return "\n".join(
        [
            f'# {title}\nunits = "mm"\nmode = "bridged"\nstations = {list(STATIONS)}\n',
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


def expect_anew(book: Path) -> None:
    """Write what the program says at every step."""
    found = {step: kept(step, answered(words, book)) for step, words in steps().items()}
    _write("expected.json", json.dumps(found, indent=1) + "\n")


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as folder:
        if "--sand" in sys.argv:
            sand_anew(Path(folder) / "sand.book")
        expect_anew(Path(folder) / "expected.book")
