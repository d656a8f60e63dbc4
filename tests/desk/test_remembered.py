"""What the tests remember of the search is what it finds."""

from dataclasses import replace

import numpy as np
import pytest

from straighten.desk.dossier import default_dossier
from straighten.desk.job import Job
from straighten.errors import NoPlan
from tests.remembered import AFRESH, FOLDER, once


def test_what_is_remembered_is_what_is_found_afresh(monkeypatch):
    own = default_dossier()
    named = replace(own, head=replace(own.head, name="another"))
    first, again, other = (Job(dossier).next_pass for dossier in (own, own, named))
    monkeypatch.setenv(FOLDER, AFRESH[FOLDER])
    afresh = Job(named).next_pass
    for kept in (first, again, other):
        assert (kept.best, kept.chances) == (afresh.best, afresh.chances)
        assert np.array_equal(kept.forecast.before, afresh.forecast.before)
        assert np.array_equal(kept.forecast.after, afresh.forecast.after)


def test_each_question_is_worked_out_once_and_a_refusal_is_kept_in_its_words(monkeypatch, tmp_path):
    worked = []

    def finds(number):
        worked.append(number)
        if number < 0:
            raise NoPlan("nothing helps", fix="Hand it on.")
        return [number]

    monkeypatch.setenv(FOLDER, str(tmp_path))
    kept = once(finds)
    assert [kept(1), kept(2), kept(1)] == [[1], [2], [1]]
    for _ in range(2):
        with pytest.raises(NoPlan, match="nothing helps") as fault:
            kept(-1)
        assert fault.value.fix == "Hand it on."
    assert worked == [1, 2, -1]
    monkeypatch.setenv(FOLDER, "")
    kept(1)
    assert worked == [1, 2, -1, 1]
