"""What the vector of unknowns says of a head that came bowed and was never faced."""

import numpy as np
import pytest

from straighten.belief.priors import FACTORS, NAMES, PUBLISHED, Unknowns
from straighten.shape.modes import INDEX, prior_sd

RATIO = NAMES.index("cam_ratio")


def unknown(ratio, deck, cam):
    """One vector: the factor cam line over deck, and the bows with which the head came [mm]."""
    u = np.zeros((1, Unknowns(priors=PUBLISHED, passes=()).size))
    u[0, RATIO] = np.log(ratio / PUBLISHED[RATIO].centre) / PUBLISHED[RATIO].spread
    for name, bow in (("deck_bow", deck), ("cam_bow", cam)):
        u[0, FACTORS + INDEX[name]] = 1e-3 * bow / prior_sd()[INDEX[name]]
    return u


@pytest.mark.parametrize(
    ("ratio", "deck", "cam", "off"),
    [
        (1.0, 0.2, 0.2, 0.0),
        (
            1.7,
            0.2,
            0.44,
            np.log(1.7 / 2.2) / 0.25,
        ),  # one job of the trade: came with 2.2, moved by 1.7; 0.25 apart
        (1.0, 0.1, 0.4, -0.9 / 0.25),  # so unlike that it was faced, whatever is told
        (1.3, 0.01, 0.02, np.log(1.3) / 0.25),  # bows too small to tell a ratio count as alike
        (1.3, 0.2, -0.2, 0.0),  # bowed against one another: no ratio at all
    ],
)
def test_heat_moves_the_lines_about_as_the_heat_that_bowed_them_did(ratio, deck, cam, off):
    # common practice, no source
    came = Unknowns(priors=PUBLISHED, passes=(), came=True)
    assert came.as_it_went(unknown(ratio, deck, cam)) == pytest.approx(np.array([[off]]), abs=1e-9)
    assert Unknowns(priors=PUBLISHED, passes=()).as_it_went(unknown(ratio, deck, cam)).shape == (1, 0)
