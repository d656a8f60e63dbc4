"""What lies ahead of a head, boiled down for the stop decision: bow left, what a pass takes, and how surely."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from straighten.shape.modes import INDEX

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from straighten.plan.forecast import Forecast

    Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlook:
    """The bow now and the reach of a pass, counted positive in the direction still to go [m].

    `cam`, `cam_sd` cam-line bow and its standard deviation; `deck_less_cam` how much further the deck stands;
    `full_set` mean set of the strongest pass on hand; `doubt` log-sd of a pass's set from not knowing the response;
    `scatter` log-sd from pass to pass, which no learning removes; `passes_left`.
    """

    cam: float
    cam_sd: float
    deck_less_cam: float
    full_set: float
    doubt: float
    scatter: float
    passes_left: int


def outlook_of(strongest: Forecast, direction: int, *, passes_left: int) -> Outlook:
    """Return the outlook from the forecast of the strongest pass that may be planned.

    Args:
        strongest: forecast without scatter put in, so that its spread is doubt alone.
        direction: +1 where the middle comes down.
        passes_left: that the trade or the owner allows.

    Source: Moments of the weighted draws (derived).
    Valid: A set that is nearly log-normal over the draws.
    """
    w = strongest.weights
    before, after = (direction * s for s in (strongest.before, strongest.after))
    cam, deck = before[:, INDEX["cam_bow"]], before[:, INDEX["deck_bow"]]
    taken = np.maximum(cam - after[:, INDEX["cam_bow"]], 1e-7)
    logs = np.log(taken)
    middle = float(w @ logs)
    mean_cam = float(w @ cam)
    return Outlook(
        cam=mean_cam,
        cam_sd=float(np.sqrt(w @ (cam - mean_cam) ** 2)),
        deck_less_cam=float(w @ (deck - cam)),
        full_set=float(np.exp(middle)),
        doubt=float(np.sqrt(w @ (logs - middle) ** 2)),
        scatter=0.15,
        passes_left=passes_left,
    )
