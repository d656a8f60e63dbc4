"""From readings to shape: the posterior of the eleven numbers, and what else the survey tells."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from straighten.shape.caveats import survey_caveats
from straighten.shape.flatness import Flatness, flatness
from straighten.shape.limits import Dip, check_limits, deck_with_dips
from straighten.shape.lines import Track, track
from straighten.shape.records import LineShape, Misfit, Shape
from straighten.shape.straightness import straightness
from straighten.shape.suspects import examine

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from straighten.head.records import Head
    from straighten.readings.records import Readings
    from straighten.shape.blocks import Equations

    Array = NDArray[np.float64]

_LENGTHWISE = (
    "exhaust edge",
    "centre",
    "inlet edge",
    "front exhaust to rear inlet",
    "front inlet to rear exhaust",
)


def fit_shape(readings: Readings, head: Head) -> Shape:
    """Return the shape of a head from all its readings at once.

    Prior and exact bracket probabilities give mean and covariance of the eleven numbers; readings that do not fit
    are named and left out; flatness and straightness are those of the mean shape with its local dips put back.

    Args:
        readings: the survey.
        head: the head.

    Source:
        Bayes' rule with interval-censored normal readings -- derived; combination of gauge errors by JCGM 100 (GUM).

    Valid:
        Bows up to a few millimetres that eleven smooth modes describe; places off the smooth shape count as dips.
    """
    seen = examine(readings, head)
    mean, covariance = seen.posterior.mean, seen.posterior.covariance
    dips = [_dip(m) for m in seen.misfits if m.part == "deck"]
    deck, cam = _counts(seen.equations)
    return Shape(
        mean=mean,
        covariance=covariance,
        evidence=seen.posterior.evidence,
        deck=_deck(mean, dips),
        lines=tuple(_line(run, mean) for run in _tracks(head)),
        limits=check_limits(head, mean, covariance, dips),
        suspects=seen.suspects,
        misfits=seen.misfits,
        deck_readings=deck,
        cam_readings=cam,
        caveats=survey_caveats(readings, head, mean, covariance),
    )


def shape_as_believed(fitted: Shape, head: Head, mean: Array, covariance: Array) -> Shape:
    """Return a survey's shape with the numbers that passes and earlier surveys taught in place of its own.

    Args:
        fitted: of the last survey: its dips, suspects and counts stay.
        head: the head.
        mean: `(11,)` [m].
        covariance: `(11, 11)` [m2].

    Source:
        As `fit_shape`.

    Valid:
        As `fit_shape`.
    """
    dips = [_dip(m) for m in fitted.misfits if m.part == "deck"]
    return replace(
        fitted,
        mean=mean,
        covariance=covariance,
        deck=_deck(mean, dips),
        lines=tuple(_line(run, mean) for run in _tracks(head)),
        limits=check_limits(head, mean, covariance, dips),
    )


def _dip(misfit: Misfit) -> Dip:
    return Dip(xi=misfit.xi, eta=misfit.eta, height=misfit.off)


def _counts(equations: Equations) -> tuple[int, int]:
    """Return how many readings of the deck and of the cam line say anything about the shape."""
    deck = cam = 0
    blocks = [np.abs(b.seats.rows).max(axis=0) for b in equations.blocks]
    for rows in [*blocks, *(s.rows for s in equations.swept)]:
        told = int(np.count_nonzero(np.abs(rows[:, :7]).max(axis=1) > 1e-6))
        deck += told
        cam += int(np.count_nonzero(np.abs(rows[:, 7:]).max(axis=1) > 1e-6))
    return deck, cam


def _tracks(head: Head) -> list[Track]:
    cams = ("single",) if head.cam_lines == 1 else ("exhaust", "inlet")
    deck = [track("deck", name, head) for name in _LENGTHWISE]
    return deck + [track("cam", name, head) for name in cams]


def _line(run: Track, mean: Array) -> LineShape:
    title = (
        f"deck, {run.name}"
        if run.part == "deck"
        else ("cam line" if run.name == "single" else f"{run.name} cam line")
    )
    return LineShape(
        title=title, straightness=straightness(run.supports * run.length, run.rows(run.supports) @ mean)
    )


def _deck(mean: Array, dips: Sequence[Dip]) -> Flatness:
    xi, eta, heights = deck_with_dips(mean, dips)
    return flatness(xi, eta, heights)
