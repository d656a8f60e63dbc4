"""docs/verification/report.md says what the tests of today found; runs last, with the rows they left."""

import re

import pytest

from tests.report import LIMITS, PAGE, Row, Rows, elements_table, page, stale, table_of, using


def test_the_report_holds_the_figures_of_this_run(report_rows):
    if report_rows.missing():
        written = {source for source, _ in table_of(PAGE.read_text(encoding="utf-8"))}
        assert len(written) >= len(using())
        pytest.skip("only a part of the checks ran: " + ", ".join(report_rows.missing()))
    faults = stale(report_rows, PAGE.read_text(encoding="utf-8"))
    assert not faults, "run python -m tests.report\n" + "\n".join(faults[:10])
    table = elements_table(report_rows)
    written = (
        LIMITS.read_text(encoding="utf-8")
        .partition("<!-- elements -->\n")[2]
        .partition("\n<!-- /elements")[0]
    )
    written, table = (
        "\n".join(sorted(text.splitlines())) for text in (written, table)
    )  # workers mix their order
    assert re.sub(r"\d+ %", "%", written) == re.sub(r"\d+ %", "%", table)
    assert percents(written) == pytest.approx(percents(table), abs=1.01)


def percents(text):
    return [int(n) for n in re.findall(r"(\d+) %", text)]


def row(**changes):
    known = {
        "module": "test_report_is_current.py", "source": "a book", "mark": "seen", "quantity": "a length",
        "unit": "mm", "printed": 1.25, "ours": 1.251, "tolerance": 0.005,
    }  # fmt: skip
    return Row(**(known | changes))


@pytest.mark.parametrize(
    "change", [{"printed": 1.26}, {"ours": 1.253}, {"tolerance": 0.05}, {"mark": "derived"}]
)
def test_a_figure_that_moved_is_noticed(change):
    written = page(Rows([row()]))
    assert stale(Rows([row()]), written) == []
    assert len(stale(Rows([row(**change)]), written)) == 1


def test_a_check_that_came_or_went_is_noticed():
    written = page(Rows([row()]))
    assert len(stale(Rows([row(), row(quantity="another")]), written)) == 1
    assert len(stale(Rows([]), written)) == 1
