"""A result that was not thought possible is told in words; one that was is not."""

import numpy as np
import pytest

from straighten.belief.learn import surprises
from straighten.shape.modes import INDEX

N = 400


def told(now_mm, sd_mm=0.01):
    rng = np.random.default_rng(1)
    before, after = np.zeros((N, 11)), np.zeros((N, 11))
    for name in ("deck_bow", "cam_bow"):
        before[:, INDEX[name]] = 0.2e-3
        after[:, INDEX[name]] = 0.12e-3 + 0.012e-3 * rng.standard_normal(N)
    mean = np.zeros(11)
    mean[[INDEX["deck_bow"], INDEX["cam_bow"]]] = now_mm * 1e-3
    return surprises((before, after, np.full(N, 1 / N)), (mean, np.eye(11) * (sd_mm * 1e-3) ** 2))


def test_a_result_in_the_range_raises_no_flag():
    assert told(0.13) == ()


@pytest.mark.parametrize(
    ("now", "words"), [(0.19, "slipped"), (0.26, "released or measured while hot"), (0.02, "a crack")]
)
def test_each_kind_of_surprise_names_its_likely_causes(now, words):
    flags = told(now)
    assert len(flags) == 2
    assert all(words in flag for flag in flags)


def test_a_rough_survey_is_no_surprise():
    assert told(0.19, sd_mm=0.05) == ()
