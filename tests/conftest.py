"""The `published` fixture: a check against a figure from outside that also goes into the verification report.

`python -m pytest --write-report` (or `python -m tests.report` for the modules concerned alone) writes
docs/verification/report.md from the rows that the tests of that run left behind.
"""

from __future__ import annotations

import json
import os
import signal
import tempfile
import time
from dataclasses import asdict
from pathlib import Path

import pytest

from straighten.cli import THREADS
from tests.report import Row, Rows, write_report

for threads in THREADS:  # before numpy loads, as the program does it: idle threads would be counted as work
    os.environ.setdefault(threads, "1")

if (
    signal.getsignal(signal.SIGINT) is signal.SIG_IGN
):  # started in a shell's background; what tests start inherits it
    signal.signal(signal.SIGINT, signal.default_int_handler)

ROWS = pytest.StashKey[Rows]()
STARTED = time.monotonic()
LAST = "test_report_is_current.py"  # compares with the rows of this run, so it goes last
LAST_CHECKS = 30.0  # s: what the other workers still have in hand then is over by that time
WORKER = "PYTEST_XDIST_WORKER"


def pytest_addoption(parser):
    parser.addoption(
        "--write-report",
        action="store_true",
        help="Write docs/verification/report.md from this run's figures.",
    )
    parser.addoption(
        "--afresh", action="store_true", help="Compute every plan anew, see tests/remembered.py."
    )
    parser.addoption(
        "--within",
        type=float,
        default=float("inf"),
        metavar="SECONDS",
        help="Start no test later than this; those left out are told as skipped.",
    )


def pytest_configure(config):
    config.stash[ROWS] = Rows()
    if not config.getoption("--afresh"):
        _remember(config)


def _remember(config):
    """Share what is searched and learned among the tests; the workers of a run find the folder by its name."""
    from tests.remembered import FOLDER, remembering

    if FOLDER not in os.environ:
        made = tempfile.TemporaryDirectory(prefix="remembered-")
        config.add_cleanup(made.cleanup)
        config.add_cleanup(lambda: os.environ.pop(FOLDER))
        os.environ[FOLDER] = made.name
    sharing = remembering()
    sharing.__enter__()
    config.add_cleanup(lambda: sharing.__exit__(None, None, None))


def pytest_runtest_setup(item):
    if time.monotonic() - STARTED > item.config.getoption("--within"):
        pytest.skip("no time was left for it")


def pytest_collection_modifyitems(items):
    items.sort(key=lambda item: item.path.name == LAST)  # stable: the rest keeps its order


def pytest_sessionfinish(session, exitstatus):
    if not session.config.getoption("--write-report"):
        return
    rows = session.config.stash[ROWS]
    missing = rows.missing()
    teller = session.config.pluginmanager.get_plugin("terminalreporter")
    if exitstatus != 0 or missing:
        why = "a test failed" if exitstatus else f"no figures from {', '.join(missing)}"
        teller.write_line(f"report not written: {why}", red=True)
        session.exitstatus = exitstatus or 1
        return
    teller.write_line(f"wrote {write_report(rows)}")


@pytest.fixture
def published(request):
    """Assert that ours is the printed value within a tolerance, and keep the row for the report.

    Use: `published("what it is", ours, printed, unit="mm", abs=0.05)`; source and mark are the test module's
    SOURCE and MARK unless given. The tolerance is `rel`, of the printed value, or `abs`, in the unit.
    """

    def check(quantity, ours, printed, *, unit="", rel=None, abs=None, source=None, mark=None, case=""):  # noqa: A002
        assert (rel is None) != (abs is None), "one tolerance is due"
        row = Row(
            module=request.path.name,
            source=source or request.module.SOURCE,
            mark=mark or request.module.MARK,
            quantity=f"{quantity}, {case}" if case else quantity,
            unit=unit,
            printed=float(printed),
            ours=float(ours),
            tolerance=float(abs) if rel is None else float(rel) * float(printed if printed > 0 else -printed),
        )
        request.config.stash[ROWS].keep(row)
        if gathered := _all_rows():
            with gathered.open("a", encoding="utf-8") as file:
                file.write(json.dumps(asdict(row)) + "\n")
        assert ours == pytest.approx(printed, rel=rel, abs=abs), row.quantity

    return check


@pytest.fixture
def report_rows(request):
    """The rows kept so far in this run, by all of its workers; the last checks of another one are waited for."""
    rows = request.config.stash[ROWS]
    until = time.monotonic() + LAST_CHECKS
    while (gathered := _all_rows()) and gathered.exists():
        before = len(rows.kept)
        for line in gathered.read_text(encoding="utf-8").splitlines():
            rows.keep(Row(**json.loads(line)))
        if (not rows.missing() and len(rows.kept) == before) or time.monotonic() > until:
            break
        time.sleep(1.0)
    return rows


def _all_rows():
    """The file in which the workers of a run gather their rows; None where they share nothing, or there is one process."""
    from tests.remembered import FOLDER

    shared = WORKER in os.environ and os.environ.get(FOLDER)
    return Path(shared) / "rows.jsonl" if shared else None


@pytest.fixture(scope="session")
def repository():
    """The folder that holds pyproject.toml."""
    return Path(__file__).parents[1]
