"""Learning over more than one pass: what each pass is worked out about."""

from types import SimpleNamespace

import numpy as np
import pytest

from straighten.belief import learn
from straighten.belief.priors import priors_for
from straighten.shape.modes import INDEX
from tests.belief.cases import HEAD

BOW = INDEX["deck_bow"]


def test_a_second_pass_is_worked_out_about_what_the_first_one_left(monkeypatch):
    # after = before - set; measured at 0.30 mm, 0.10 mm taken, not measured in between: 0.20 mm; derived
    about = []

    def pass_taker(head, section, setup, states, response, past):
        about.append(float(states[:, BOW].mean()))
        return lambda states, response: np.where(np.arange(11) == BOW, 0.1e-3, 0.0) + 0 * states

    monkeypatch.setattr(learn, "pass_taker", pass_taker)
    mean = np.where(np.arange(11) == BOW, 0.3e-3, 0.0)
    measured = SimpleNamespace(posterior=SimpleNamespace(mean=mean, covariance=1e-12 * np.eye(11)))
    learn._takers(HEAD, priors_for(HEAD), [SimpleNamespace(spots=())] * 3, [measured, None, None, None])
    assert about == pytest.approx([0.3e-3, 0.2e-3, 0.1e-3], abs=1e-6)
