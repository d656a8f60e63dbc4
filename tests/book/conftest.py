"""A book on the disk, one with a small shop in it, and ways to do it harm from outside the program."""

import sqlite3
from contextlib import closing
from datetime import UTC, datetime, timedelta

import pytest

from straighten.book import Outcome, open_book


class Ticking:
    """A clock that moves on a minute at each look, from a set time."""

    def __init__(self):
        self.now = datetime(2026, 3, 1, 9, 0, tzinfo=UTC)

    def __call__(self):
        self.now += timedelta(minutes=1)
        return self.now


@pytest.fixture
def clock():
    return Ticking()


@pytest.fixture
def path(tmp_path):
    return tmp_path / "shop" / "book.db"


@pytest.fixture
def book(path, clock):
    with open_book(path, clock=clock) as opened:
        yield opened


def outcome(number=1, *, family="Al-Si-Mg", source="torch", predicted=0.12, measured=0.1, **factors):
    return Outcome(
        alloy_family=family,
        heat_source=source,
        pass_number=number,
        predicted_set_mm=predicted,
        measured_set_mm=measured,
        factors=factors or {"shrinkage": (-0.1 * number, 0.2)},
    )


@pytest.fixture(name="outcome")
def outcome_fixture():
    return outcome


def fill(book, *, text="bow 0.2 mm, " * 60):
    """Two heads of an invented shop: one with two passes, the first of them struck; one just opened."""
    head = book.append("pump-four", "head", {"name": "pump-four", "text": text})
    survey = book.append("pump-four", "survey", {"gaps_mm": [0.05, 0.1], "text": text}, inputs=[head.number])
    inputs = [head.number, survey.number]
    plan = book.append("pump-four", "plan", {"shims_mm": [0.2, 0.2], "text": text}, inputs=inputs)
    first = book.append("pump-four", "pass", {"outcome": outcome(1).to_plain()}, inputs=[plan.number])
    book.append("saw-six", "head", {"name": "saw-six", "text": text})
    book.append("pump-four", "pass", {"outcome": outcome(2).to_plain(), "text": text}, inputs=[plan.number])
    book.strike(first.number, "a shim had slipped")
    return book


@pytest.fixture
def shop(book):
    return fill(book)


@pytest.fixture(name="fill")
def fill_fixture():
    return fill


@pytest.fixture
def harm():
    """Run SQL on a closed book as a stranger would: no triggers, no constraints; the definitions stay as they were."""

    def run(path, *statements):
        with closing(sqlite3.connect(path, isolation_level=None)) as connection:
            triggers = connection.execute(
                "SELECT name, sql FROM sqlite_schema WHERE type = 'trigger'"
            ).fetchall()
            connection.execute("PRAGMA ignore_check_constraints = ON")
            for name, _ in triggers:
                connection.execute(f"DROP TRIGGER {name}")
            for statement in statements:
                connection.execute(statement)
            for _, definition in triggers:
                connection.execute(definition)

    return run
