"""One command works out a shape and a belief once for each survey, however many parts of it ask."""

from pathlib import Path

import pytest

from straighten.cli import main
from straighten.desk import job
from straighten.shape.suspects import examine
from tests.remembered import FOLDER

EXAMPLE = Path(__file__).parents[2] / "worked_examples" / "irrigation-pump-four"


@pytest.fixture(scope="module")
def logged(tmp_path_factory):
    """A book in which a head has been through one pass and is measured after it."""
    folder = tmp_path_factory.mktemp("shop")
    book = str(folder / "shop.book")
    assert main(["measure", str(EXAMPLE), "survey-1.toml", "--book", book]) == 0
    done = ["log", str(EXAMPLE), "survey-2.toml", "--done", str(EXAMPLE / "pass-1.toml")]
    assert main([*done, "--book", book]) == 0
    return folder, book


@pytest.fixture
def asked(monkeypatch):
    """What the belief was learned from, each time it was."""
    monkeypatch.setenv(FOLDER, "")  # what is remembered is not worked out at all
    job._believed.cache_clear()
    job._learned.cache_clear()
    examine.cache_clear()
    found = []

    def learn(head, surveys, passes, **others):
        found.append((surveys, passes))
        return taught(head, surveys, passes, **others)

    taught = job.learn
    monkeypatch.setattr(job, "learn", learn)
    return found


@pytest.mark.parametrize(
    "words",
    [
        ("check",),
        ("decide",),
        ("sheet", "--report", "--out", "report.html"),
        ("sheet", "--out", "card.html", "--figure", "bow.svg"),
        ("log", "survey-3.toml", "--done", str(EXAMPLE / "pass-2.toml"), "--figure", "passes.svg"),
    ],
    ids=lambda words: words[0] + words[1][:8] if len(words) > 1 else words[0],
)
def test_a_shape_and_a_belief_at_most_once_for_each_survey(logged, asked, words, tmp_path):
    _, book = logged
    command, *rest = [str(tmp_path / w) if w.endswith((".html", ".svg")) else w for w in words]
    assert main([command, str(EXAMPLE), *rest, "--book", book]) == 0
    surveys = 3 if command == "log" else 2
    assert 1 <= len(asked) <= surveys
    assert len(asked) == len(set(asked))
    assert 1 <= examine.cache_info().misses <= surveys
