"""The worked example of the irrigation pump: its steps, and the hidden head that is sanded in it."""

from __future__ import annotations

import contextlib
import io
import json
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from straighten.cli import main
from straighten.head import head_from_text
from straighten.sanding.lap import Grit, grade, read_grit
from straighten.sanding.learning import Stop
from straighten.shape.modes import INDEX
from tests.benchmarks.sanding import Bench
from tests.benchmarks.survey import Metal
from tests.simulated.surveys import cell

FOLDER = Path(__file__).parents[2] / "worked_examples" / "irrigation-pump-four"
HEAD = head_from_text((FOLDER / "head.toml").read_text(encoding="utf-8"), "head.toml")
STRAIGHTENING = {
    "intake": ["measure", "NAME", "survey-1.toml"],
    "first card": ["plan", "NAME"],
    "first pass": ["log", "NAME", "survey-2.toml", "--done", "pass-1.toml"],
    "second card": ["plan", "NAME"],
    "second pass": ["log", "NAME", "survey-3.toml", "--done", "pass-2.toml"],
    "decision": ["decide", "NAME"],
}
WHY_SAND = "a licensed shop hones the cam line in line"
BEFORE_SANDING = {
    "before sanding": ["measure", "NAME", "survey-4.toml"],
    "sanding plan": ["sand", "NAME", "--surface", "surface.toml", "--because", WHY_SAND],
}
AFTER_SANDING = {
    "after sanding": ["measure", "NAME", "survey-5.toml"],
    "final list": [
        "finish",
        "NAME",
        "--answers",
        "final.toml",
        "--close",
    ],
}
# What of every answer stands in expected.json.
KEPT = {
    "intake": ("verdict", "pattern"),
    "first card": ("verdict", "pass_number", "deck_after_mm", "cam_after_mm", "reverse"),
    "first pass": ("pass_number", "measured"),
    "second card": ("verdict", "pass_number", "deck_after_mm", "cam_after_mm", "reverse"),
    "second pass": ("pass_number", "measured"),
    "decision": ("choice",),
    "before sanding": ("verdict",),
    "sanding plan": ("state", "depth_mm", "removal_allowed_mm"),
    "after sanding": ("verdict",),
    "final list": ("passes", "shape"),
}
KEPT_OF_A_RUN = ("state", "removed_mm", "hollow_left_mm", "strokes_to_target")
LINES = (
    "exhaust edge",
    "centre",
    "inlet edge",
    "front exhaust to rear inlet",
    "front inlet to rear exhaust",
)
RIM = (
    "front_exhaust",
    "front_inlet",
    "rear_exhaust",
    "rear_inlet",
    "middle_exhaust",
    "middle_inlet",
)
STATIONS = (70, 140, 210, 280, 350)
BLADE_HAND = 3e-6  # [m]


def sand_logs() -> list[str]:
    return sorted(path.name for path in FOLDER.glob("sand-*.toml"))


def sanding(log):
    """Return the command that logs a run; the first one tells what is sanded on, which the book then knows."""
    return ["sand", "NAME", *(["--surface", "surface.toml"] if log == "sand-1.toml" else []), "--log", log]


def steps() -> dict[str, list[str]]:
    """Return every command of the example, in order."""
    runs = {f"sanding run {n}": sanding(name) for n, name in enumerate(sand_logs(), 1)}
    return {**STRAIGHTENING, **BEFORE_SANDING, **runs, **AFTER_SANDING}


def answered(words: list[str], book: Path) -> dict:
    """Return the JSON answer of one command."""
    out, err = io.StringIO(), io.StringIO()
    command = [str(FOLDER) if word == "NAME" else word for word in words]
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = main([*command, "--book", str(book), "--json"])
    assert code == 0, err.getvalue()
    return json.loads(out.getvalue())


def kept(step: str, answer: dict) -> dict:
    """Return what of an answer is compared."""
    return {key: rounded(answer[key]) for key in KEPT.get(step, KEPT_OF_A_RUN)}


def rounded(value: object, digits: int = 6) -> object:
    """Return a part of an answer with its numbers to so many figures."""
    if isinstance(value, dict):
        return {key: rounded(part, digits) for key, part in value.items()}
    return float(f"{value:.{digits}g}") if isinstance(value, float) else value


@dataclass
class HiddenHead:
    """The head as metal at the sanding plate: simulated lapping (see the sanding benchmark), read with real gauges."""

    bench: Bench
    rng: np.random.Generator
    offsets: np.ndarray  # of the six heights from 92 mm [m]
    honed: bool = False

    def fine_papers(self) -> None:
        """Take off what the finer papers take: a few microns of the lands."""
        for number, strokes in ((180, 60), (280, 60)):
            self.bench.run(strokes, grade(number), Stop())

    def heights(self) -> np.ndarray:
        """Six heights as a micrometer with thousandths reads them [mm]."""
        return np.round(1e3 * (92e-3 + self.offsets + self.bench.heights() - self.bench.start.max()), 3)

    def line(self, name: str) -> tuple[np.ndarray, np.ndarray]:
        """Return stations over the line and what lies away from a straightedge there [m]."""
        metal = np.where(self.bench.land, -self.bench.z, np.nan).reshape(43, 16)  # nothing over a chamber
        grid = np.apply_along_axis(_bridged_over, 0, metal)
        across = np.round(np.linspace(0, 15, 43)).astype(int)
        rows = {
            "exhaust edge": grid[:, 0], "centre": (grid[:, 7] + grid[:, 8]) / 2, "inlet edge": grid[:, 15],
            "front exhaust to rear inlet": grid[np.arange(43), across],
            "front inlet to rear exhaust": grid[np.arange(43), across[::-1]],
        }  # fmt: skip
        return np.linspace(0, 420, 43), rows[name]

    def gaps(self, name: str, stations: tuple[int, ...]) -> np.ndarray:
        """Return gaps under a straightedge bridged on the line [m], with a hand's error."""
        x, f = self.line(name)
        left, right = np.flatnonzero(x <= 210), np.flatnonzero(x >= 210)
        share = (210 - x[left][:, None]) / np.maximum(x[right][None, :] - x[left][:, None], 1e-9)
        rest = (1 - share) * f[left][:, None] + share * f[right][None, :]
        i, j = np.unravel_index(np.argmin(rest), rest.shape)
        a, b = left[i], right[j]
        edge = f[a] + (f[b] - f[a]) * (np.array(stations) - x[a]) / max(x[b] - x[a], 1e-9)
        gap = np.interp(stations, x, f) - edge + BLADE_HAND * self.rng.standard_normal(len(stations))
        return np.maximum(gap, 0.0)

    def cells(
        self, name: str, stations: tuple[int, ...] = STATIONS, blades: tuple[float, ...] = HEAD.gauge_blades
    ) -> str:
        """Return the readings of a line as a survey file has them."""
        return ", ".join(cell(float(gap), blades) for gap in self.gaps(name, stations))

    def hollow(self) -> float:
        """Return the largest hollow on the five lines [m]."""
        return float(max(self.bench.hollows()))

    def bow(self) -> float:
        """Return the middle of the deck over its ends, mean of the two edges [m]."""
        edges = [self.line(name)[1] for name in ("exhaust edge", "inlet edge")]
        return float(np.mean([f[21] - (f[0] + f[-1]) / 2 for f in edges]))


def _bridged_over(column: np.ndarray) -> np.ndarray:
    """Return a row of heights with the places over a chamber laid between their neighbours."""
    places, known = np.arange(column.size), np.isfinite(column)
    return np.interp(places, places[known], column[known])


def hidden_head(seed: int = 7) -> HiddenHead:
    """Return the head after the second pass, as truth.json tells its shape."""
    truth = json.loads((FOLDER / "truth.json").read_text(encoding="utf-8"))
    rng = np.random.default_rng(seed)
    state = 1e-3 * np.array(truth["shape_mm"])
    state[INDEX["twist"]] = 8e-6  # nobody has read it yet
    metal = Metal(
        state=state, field=rng.normal(0, 4e-6, (15, 6)), dips=[], towers=np.zeros(5),
        blades=np.array(HEAD.gauge_blades), edge=0.0, rng=rng,
    )  # fmt: skip
    sanding = truth["sanding"]
    bench = Bench(
        metal=metal, rng=rng, limit=0.25e-3, goal="limit", load=6.9 * 9.81, factor=sanding["rate_over_table"],
        used=sanding["worn_over_fresh"], fading=sanding["fading_strokes"], grain=1.0,
    )  # fmt: skip
    return HiddenHead(bench=bench, rng=rng, offsets=1e-6 * np.array([4.0, 2.0, -3.0, 1.0, 0.0, 3.0]))


def paper(name: str) -> Grit:
    return read_grit(name)
