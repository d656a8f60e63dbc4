"""A straightedge and a set of blades in a hand: what is written down of the true lines.

The edge finds its own rests on the uneven metal; blades have steps and are off their thickness; the hand feels; one
reading in twenty is read a blade too thick or too thin.
"""

from __future__ import annotations

import bisect
from dataclasses import dataclass

import numpy as np

from tests.workshop.castings import XI, Truth

MISREAD = 0.05
ROCKS = 0.1  # of the line: an edge that rests on a place so near the middle rocks about it in the hand, and is balanced
SHARES = (1 / 6, 1 / 3, 1 / 2, 2 / 3, 5 / 6)
DECK_LINES = ("exhaust edge", "centre", "inlet edge")
DIAGONALS = {"front exhaust to rear inlet": (0, 2), "front inlet to rear exhaust": (2, 0)}


@dataclass(frozen=True)
class Line:
    """One line as written down: `goes` the thickest blade that goes, `stops` the next one (None over the thickest)."""

    part: str
    name: str
    mode: str
    stations: tuple[float, ...]
    goes: tuple[float, ...]
    stops: tuple[float | None, ...]

    @property
    def bow(self) -> float:
        """The bow a person takes from it: the middle of a bridged line, the mean of both ends of a balanced one [mm]."""
        told = [g if s is None else (g + s) / 2 for g, s in zip(self.goes, self.stops, strict=True)]
        high = told[len(told) // 2] if self.mode == "bridged" else (told[0] + told[-1]) / 2
        sign = 1 if (self.mode == "bridged") == (self.part == "deck") else -1
        return sign * high

    @property
    def most(self) -> float:
        return max(self.goes)


@dataclass(frozen=True)
class Survey:
    """What was written down after `passes` clampings."""

    lines: tuple[Line, ...]

    def part(self, part: str) -> tuple[Line, ...]:
        return tuple(line for line in self.lines if line.part == part)

    @property
    def deck_bow(self) -> float:
        return float(np.mean([line.bow for line in self.part("deck") if line.name in DECK_LINES]))

    @property
    def cam_bow(self) -> float:
        return float(np.mean([line.bow for line in self.part("cam")]))


def read(truth: Truth, again: int = 0) -> Survey:
    """Return the survey of the head as it stands; the errors depend on head, clampings so far and `again`."""
    rng = np.random.default_rng([truth.number, 3, truth.passes, again])
    lines = []
    for n, name in enumerate(DECK_LINES):
        lines.append(_read(truth, ("deck", name), (XI, truth.deck[n] + truth.rough[n]), SHARES, rng))
    for name, (a, b) in DIAGONALS.items():
        metal = truth.deck + truth.rough
        mean = (1 - XI) * metal[a] + XI * metal[b]
        across = np.abs(2 * XI - 1) * mean + (1 - np.abs(2 * XI - 1)) * metal[1]
        lines.append(_read(truth, ("deck", name), (XI, across), (0.5,), rng))
    towers = np.asarray(truth.casting.towers) / truth.casting.length
    names = ("single",) if truth.casting.cam_lines == 1 else ("exhaust", "inlet")
    for n, name in enumerate(names):
        away = -(
            np.interp(towers, XI, truth.cam[n]) + truth.tower_off[n]
        )  # the edge lies in the bores, from above
        lines.append(_read(truth, ("cam", name), (towers, away), tuple(towers), rng))
    return Survey(lines=tuple(lines))


def _read(
    truth: Truth,
    which: tuple[str, str],
    metal: tuple[np.ndarray, np.ndarray],
    shares: tuple[float, ...],
    rng: np.random.Generator,
) -> Line:
    x, away = metal
    chord = away[0] + (away[-1] - away[0]) * (x - x[0]) / (x[-1] - x[0])
    inner = (x > 0.2) & (x < 0.8)
    bridged = float(np.mean((away - chord)[inner])) >= 0 and not _rocks(x, away)
    if which[1] in DIAGONALS and not bridged:
        shares = (0.02, 0.98)
    if which[0] == "deck" and not bridged and len(shares) > 2:
        shares = (0.02, *shares, 0.98)
    at = np.asarray(shares)
    gaps = _bridged(x, away, at) if bridged else _balanced(x, away, at, rng)
    gaps = gaps + truth.hand["edge"] * 4 * at * (1 - at)
    cells = [_blade(truth, gap, rng) for gap in gaps]
    length = truth.casting.length
    return Line(
        part=which[0], name=which[1], mode="bridged" if bridged else "balanced",
        stations=truth.casting.towers if which[0] == "cam" else tuple(round(float(s) * length, 1) for s in at),
        goes=tuple(c[0] for c in cells), stops=tuple(c[1] for c in cells),
    )  # fmt: skip


def _rests(x: np.ndarray, away: np.ndarray) -> tuple[int, int]:
    """Where an edge rests: one place of either half."""
    middle = (x[0] + x[-1]) / 2
    left, right = np.flatnonzero(x <= middle), np.flatnonzero(x >= middle)
    share = (middle - x[left][:, None]) / np.maximum(x[right][None, :] - x[left][:, None], 1e-9)
    rest = (1 - share) * away[left][:, None] + share * away[right][None, :]
    i, j = np.unravel_index(np.argmin(rest), rest.shape)
    return int(left[i]), int(right[j])


def _rocks(x: np.ndarray, away: np.ndarray) -> bool:
    """Whether one of the rests lies so near the middle that the edge tips over it."""
    middle, rests = (x[0] + x[-1]) / 2, x[list(_rests(x, away))]
    return float(np.min(np.abs(rests - middle))) <= ROCKS * (x[-1] - x[0])


def _bridged(x: np.ndarray, away: np.ndarray, at: np.ndarray) -> np.ndarray:
    """Gaps under an edge that lies on its rests."""
    a, b = _rests(x, away)
    edge = away[a] + (away[b] - away[a]) * (at - x[a]) / max(x[b] - x[a], 1e-9)
    return np.interp(at, x, away) - edge


def _balanced(x: np.ndarray, away: np.ndarray, at: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Gaps under an edge that lies on the middle and is held so that both ends show the same, within 10 um."""
    chord = away[0] + (away[-1] - away[0]) * (x - x[0]) / (x[-1] - x[0])
    level = away[0] + (away[-1] - away[0]) * (at - x[0]) / (x[-1] - x[0])
    tilt = rng.normal(0, 0.010) * (2 * at - 1)
    return np.interp(at, x, away) - level - float(np.min(away - chord)) + tilt


def _blade(truth: Truth, gap: float, rng: np.random.Generator) -> tuple[float, float | None]:
    """Return the thickest blade that goes, and the next."""
    blades = stacked(truth.casting.gauge)
    place = bisect.bisect_right(blades, gap + rng.normal(0, truth.hand["feel"]))
    if rng.random() < truth.hand.get("misread", MISREAD):
        place = min(max(place + (1 if rng.random() < 0.5 else -1), 0), len(blades))
    goes = blades[place - 1] if place else 0.0
    return goes, (blades[place] if place < len(blades) else None)


def stacked(gauge: tuple[float, ...]) -> tuple[float, ...]:
    """The blades, and over half a millimetre two together: the thickest up to there with each of those under it."""
    base = max(blade for blade in gauge if blade <= 0.52)
    return tuple(
        sorted({b for b in gauge if b <= 0.52} | {round(base + b, 3) for b in gauge if 0.04 < b <= base})
    )


def read_slack(truth: Truth, gap: float, rng: np.random.Generator) -> str:
    """A gap under the middle of an edge, nuts slack, as it is typed."""
    goes, stops = _blade(truth, max(gap, 0.0), rng)
    return f"{goes:g}-{stops:g}" if stops is not None else f">{goes:g}"


def read_gap(truth: Truth, gap: float) -> float:
    """A gap left in the middle of the clamp as a blade tells it [mm]."""
    goes = [b for b in truth.casting.gauge if b <= gap]
    return goes[-1] if goes else 0.0
