"""Learning over more than one pass: what each pass is worked out about."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from straighten.belief import learn
from straighten.belief.learn import prior_factors
from straighten.belief.priors import ALIKE, priors_for
from straighten.desk.dossier import default_dossier
from straighten.shape.modes import INDEX, STATE, prior_sd
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


def test_a_head_that_was_faced_before_tells_nothing_by_how_its_lines_stand_to_one_another():
    # what a mill took off the deck came off no cam line: common practice, no source; the survey bows the deck further
    survey = default_dossier().surveys[0]
    fresh, faced = (replace(HEAD.limits, removed_before=off) for off in (0.0, 0.1e-3))
    ratios = [
        learn.learn(replace(HEAD, limits=one), [survey], [], count=512).factors["cam_ratio"]
        for one in (fresh, faced)
    ]
    width = [np.log(high / low) for low, _, high in ratios]
    told = prior_factors(priors_for(HEAD))["cam_ratio"]
    assert ratios[1] == pytest.approx(told, rel=0.02)
    assert width[0] < 0.9 * width[1]


def test_what_a_survey_alone_says_is_its_posterior_with_the_prior_taken_out():
    # normals: precisions add up, and so do precision times mean; what every survey misreads alike is no part of its own
    # variance: by hand, number by number
    sd, seen = np.linspace(8e-6, 20e-6, 11), np.linspace(-5e-5, 8e-5, 11)
    precision = prior_sd() ** -2.0 + sd**-2.0
    posterior = SimpleNamespace(mean=seen * sd**-2.0 / precision, covariance=np.diag(1 / precision))
    centre, root = learn._site(SimpleNamespace(posterior=posterior))
    own = sd**2 - np.array([ALIKE.get(name, 0.0) for name in STATE]) ** 2
    assert centre == pytest.approx(seen, rel=1e-6)
    assert 1 / np.diag(root @ root.T) == pytest.approx(np.maximum(own, sd**2 / 4), rel=1e-6)
