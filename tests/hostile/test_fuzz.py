"""A few thousand spoilt files and answers: each understood or refused in one sentence, and nothing recorded by a refused one.

`python -m tests.benchmarks.fuzz` does the same with a hundred thousand.
"""

from random import Random

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.hostile.doors import Bench, Doors, settled
from tests.hostile.spoilt import KINDS, made_of_keys, spoilt, written
from tests.slow import slow_after

FEW = {"surface": 12}  # fitting one takes as long as reading thirty heads
SETTINGS = settings(database=None, deadline=None, suppress_health_check=list(HealthCheck))


@pytest.fixture(scope="module")
def doors(tmp_path_factory):
    folder = tmp_path_factory.mktemp("doors")
    with settled(folder):
        yield Doors(folder)


@pytest.fixture(scope="module")
def bench(tmp_path_factory):
    folder = tmp_path_factory.mktemp("bench")
    with settled(folder):
        yield Bench(folder)


@pytest.mark.parametrize("kind", KINDS)
def test_a_spoilt_file_is_understood_or_refused_in_one_sentence(doors, kind):
    rng = Random(kind)
    for _ in range(FEW.get(kind, 250)):
        assert doors.through(kind, spoilt(kind, rng)) is None


@SETTINGS
@given(
    kind=st.sampled_from([kind for kind in KINDS if kind not in ("csv", "surface")]), tables=made_of_keys()
)
def test_tables_of_known_keys_and_any_values(doors, kind, tables):
    assert doors.through(kind, written(kind, tables)) is None


@SETTINGS
@given(rng=st.randoms(use_true_random=False), count=st.integers(1, 30))
def test_whatever_is_typed_in_the_dialogues(doors, rng, count):
    assert doors.typed(rng, count) is None
    assert doors.seated(rng, count) is None


@pytest.mark.parametrize("kind", slow_after(3, ["csv", "finish", "export", "head", "survey"]))
def test_a_refused_command_leaves_the_book_as_it_was(bench, kind):
    rng = Random(f"whole {kind}")
    for _ in range(12):
        assert bench.whole(kind, spoilt(kind, rng), rng) is None


def test_names_that_no_head_has(bench):
    rng = Random("names")
    for _ in range(40):
        assert bench.named(rng) is None


def test_the_watch_itself_sees_what_it_should(bench, monkeypatch):
    """A program that records and then refuses, or breaks, is found out."""
    from straighten.desk import deciding
    from straighten.errors import BadInput

    def refuses(*_):
        raise BadInput("no")

    def breaks(*_):
        raise KeyError("no")

    sound = (bench.folder / "pump" / "survey-1.toml").read_bytes()
    line = ("measure", "pump", "spoilt.toml")
    (bench.folder / "spoilt.toml").write_bytes(sound)
    monkeypatch.setattr("straighten.sheet.verdict.check_text", refuses)
    assert bench.judged(line, "survey", sound).what == "recorded"
    monkeypatch.setattr(deciding, "check_report", breaks)
    assert bench.judged(line, "survey", sound).what == "traceback"
