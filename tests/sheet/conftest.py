"""Cards and pictures to print: the program's own head, planned once for all tests of a module."""

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from straighten.desk.dossier import default_dossier
from straighten.desk.job import Job
from straighten.desk.planning import next_sheet
from straighten.sheet.card import UsedPlace

NOW = datetime(2026, 3, 2, 9, 30, tzinfo=UTC)


@pytest.fixture(scope="package")
def dossier():
    return default_dossier()


@pytest.fixture(scope="package")
def found(dossier):
    return next_sheet(None, Job(dossier), NOW)


@pytest.fixture
def sheet(found):
    return found.page


@pytest.fixture
def second(sheet):
    """The same page with places of an earlier pass on it."""
    used = tuple(UsedPlace(station=s.station + 0.012, side=s.side) for s in sheet.card.spots)
    return replace(sheet, sketch=replace(sheet.sketch, used=used))
