"""Heads made up for the question whether the commands are of one mind: what is written, and what was told of the metal."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from straighten.head import template_head
from straighten.head.records import Head
from straighten.readings.records import Line
from tests.shape.builders import DIAGONALS
from tests.shape.builders import state as shape_of
from tests.shape.builders import survey as read_on
from tests.simulated.surveys import lines_text

NAME = "state"

# First melting [C]: Al-Si-Mg 355 to 361 castings 555 to 560; with copper and magnesium 505, J. Mater. Sci. 33 (1998) 2283.
FIRST_MELTING = {
    "A356-T6": 550,
    "AlSi7Mg-T6": 550,
    "319-T6": 505,
    "355-T6": 505,
    "AlSi8Cu3-F": 505,
    "unknown": 505,
}
MELTING_KEPT = 25
# ISO 898-1: stress area [mm2], pitch, pitch diameter, mean bearing diameter [mm]; proof stress [MPa] (from memory).
THREADS = {"M8x1.25": (36.6, 1.25, 7.188, 10.3), "M10x1.5": (58.0, 1.5, 9.026, 12.8), "M12x1.75": (84.3, 1.75, 10.863, 15.05)}  # fmt: skip
PROOF = {"8.8": 580, "10.9": 830, "12.9": 970}
SLIPPERY = 0.10  # the lowest friction of a greased thread that the program says it believes


@dataclass
class Told:
    """What was told of the head so far, as the benchmark knows it."""

    alloy: str
    thread: str
    grade: str
    all_stretch: bool
    reject: float
    magnesium: bool = False
    crack: bool = False
    softest: float = math.inf

    @property
    def forbidden(self) -> set[str]:
        """What nothing may pass, by what was told."""
        found = {"magnesium"} if self.magnesium else set()
        found |= {"crack"} if self.crack else set()
        return found | ({"hardness level"} if self.softest < self.reject else set())


def _changed(text: str, *changes: tuple[str, str]) -> str:
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new, 1)
    return text


def head_text(rng: np.random.Generator) -> tuple[str, Told]:
    """Return the head file of a made-up head, and what it tells."""
    told = Told(
        alloy=str(rng.choice(list(FIRST_MELTING))),
        thread=str(rng.choice(list(THREADS), p=[0.15, 0.7, 0.15])),
        grade=str(rng.choice(list(PROOF), p=[0.25, 0.6, 0.15])),
        all_stretch=bool(rng.random() < 0.06),
        reject=float(rng.choice([65, 65, 58])),
        magnesium=bool(rng.random() < 0.05),
    )
    limits = (
        f'deck_overall = "{rng.choice([0.05, 0.08, 0.10]):.2f} mm"',
        f'cam_line = "{rng.choice([0.03, 0.05, 0.08]):.2f} mm"',
    )
    text = _changed(
        template_head(NAME),
        ('alloy = "A356-T6"', f'alloy = "{told.alloy}"' + ("\nmagnesium = true" if told.magnesium else "")),
        ('deck_overall = "0.08 mm"', limits[0]),
        ('cam_line = "0.05 mm"', limits[1]),
        ('least_height = "91.6 mm"', f'least_height = "{92 - rng.choice([0.1, 0.3, 0.4, 0.6]):.1f} mm"'),
        ('largest_removal = "0.25 mm"', f'largest_removal = "{rng.choice([0.10, 0.25, 0.50]):.2f} mm"'),
        ('removed_before = "0 mm"', f'removed_before = "{rng.choice([0.0, 0.0, 0.1]):.1f} mm"'),
        ('thread = "M10x1.5"', f'thread = "{told.thread}"'),
        ('grade = "10.9"', f'grade = "{told.grade}"'),
        ("stretch = false", f"stretch = {str(told.all_stretch).lower()}"),
        ('kind = "plate"', f'kind = "{rng.choice(["plate", "plate", "block", "rigid"])}"'),
        ('material = "steel"', f'material = "{rng.choice(["steel", "steel", "iron", "aluminium"])}"'),
        ("thickness = 60", f"thickness = {rng.choice([25, 40, 60, 80])}"),
        ('peak = "500 C"', f'peak = "{rng.choice([380, 450, 500, 520, 560])} C"'),
        ("lines = 1 ", f"lines = {rng.choice([1, 1, 1, 2])} "),
    )  # fmt: skip
    if rng.random() < 0.12:
        start, end = text.index("[torch]"), text.index("[spots]")
        text = text[:start] + '[oven]\nhottest = "230 C"\nlongest = "5 h"\n\n' + text[end:]
    text += f"\n[thresholds]\nhardness_reject = {told.reject:g}\nmost_passes = {rng.integers(1, 5)}\n"
    if rng.random() < 0.3:
        text += f"\n[prices]\nhour = {rng.choice([10, 50, 120])}\nreplacement_head = {rng.choice([60, 400, 2000])}\nline_boring = {rng.choice([20, 250, 900])}\n"
    return text, told


def bent(rng: np.random.Generator) -> np.ndarray:
    """Return a shape [m]: mostly hollow and high, some crowned, some inside, some of opposite signs, some twisted."""
    kind = rng.choice(["bowed", "inside", "deck only", "reverse", "flat deck", "opposite"], p=[0.5, 0.12, 0.12, 0.1, 0.1, 0.06])  # fmt: skip
    cam = {"bowed": rng.uniform(0.05, 0.6), "inside": rng.uniform(0, 0.025), "deck only": rng.uniform(0, 0.02)}.get(kind, rng.uniform(0.06, 0.4))  # fmt: skip
    deck = {"inside": rng.uniform(0, 0.035), "deck only": rng.uniform(0.07, 0.2), "flat deck": rng.uniform(0, 0.03)}.get(kind, cam / rng.lognormal(0.11, 0.3))  # fmt: skip
    way = -1.0 if kind == "reverse" else 1.0
    found: np.ndarray = shape_of(
        deck_bow=way * deck, cam_bow=(-1.0 if kind == "opposite" else way) * cam, cam_skew=rng.normal(0, 0.008),
        deck_side=rng.normal(0, 0.006), twist=rng.choice([0.0, rng.normal(0, 0.03)]), dish=rng.normal(0, 0.004),
    )  # fmt: skip
    return found


def survey_text(head: Head, shape: np.ndarray, kept: str, particulars: str) -> str:
    """Return a survey file of the lines `kept` ("all", "long", "few", "deck", "cam")."""
    lines = [line for line in read_on(shape, head).lines if _is_kept(line, kept)]
    return f'units = "mm"\nhead = "{NAME}"\n{particulars}{lines_text(lines)}'


def _is_kept(line: Line, kept: str) -> bool:
    if line.part == "cam":
        return kept != "deck"
    if kept == "few":
        return line.name == "centre"
    return kept in ("all", "deck") or (kept == "long" and line.name not in DIAGONALS)


def particulars(rng: np.random.Generator, told: Told, *, grave: float) -> str:
    """Return intake and hardness as a survey tells them, `grave` the chance of each that ends the job; keep what was told."""
    answers = []
    draw = rng.random()
    if draw < grave:
        answers.append('cracks = "found"')
        told.crack = True
    elif draw < grave + 0.08:
        answers.append('cracks = "repaired, leak test passed"')
        told.crack = False
    elif draw < 0.8:
        answers.append('cracks = "none found"')  # a second look that missed it takes nothing back
    draw = rng.random()
    if draw < grave:
        answers.append('magnesium = "yes"')
        told.magnesium = True
    elif draw < 0.8:
        answers.append('magnesium = "no"')
    text = "[intake]\n" + "\n".join(answers) + "\n" if answers else ""
    if rng.random() < 0.8:
        soft = rng.random() < grave
        values = [float(rng.integers(48, 57)) if soft else float(rng.integers(70, 96)), float(rng.integers(80, 96))]  # fmt: skip
        told.softest = min(values)
        for side, value in zip(("exhaust", "inlet"), values, strict=True):
            text += f'[[hardness]]\nside = "{side}"\nvalue = {value:g}\n'
    return text
