import math
import statistics

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from straighten.book import open_book
from straighten.errors import BadInput


def log_pass(book, head, entry):
    if not book.has_head(head):
        book.append(head, "head", {})
    return book.append(head, "pass", {"outcome": entry.to_plain()}).number


def test_an_outcome_comes_back_as_it_went_in(book, outcome):
    number = log_pass(book, "pump", outcome(1, shrinkage=(-0.1, 0.2), kept=(0.3, 0.1)))
    [found] = book.outcomes()
    assert (found.head, found.entry, found.pass_number, found.measured_set_mm) == ("pump", number, 1, 0.1)
    assert found.factors == {"shrinkage": (-0.1, 0.2), "kept": (0.3, 0.1)}


def test_each_head_speaks_once_with_its_last_pass_newest_head_first(book, outcome):
    for head, number in [("a", 1), ("b", 1), ("a", 2), ("c", 1)]:
        log_pass(book, head, outcome(number))
    assert [(o.head, o.pass_number) for o in book.outcomes()] == [("c", 1), ("a", 2), ("b", 1)]
    assert [o.head for o in book.outcomes(newest=2)] == ["c", "a"]
    assert [(o.head, o.pass_number) for o in book.outcomes(every_pass=True)] == [
        ("c", 1),
        ("a", 2),
        ("b", 1),
        ("a", 1),
    ]
    assert [o.head for o in book.outcomes(every_pass=True, newest=1)] == ["c"]


def test_outcomes_are_chosen_by_family_and_source(book, outcome):
    log_pass(book, "a", outcome(1))
    log_pass(book, "b", outcome(1, source="oven"))
    log_pass(book, "c", outcome(1, family="Al-Si-Cu"))
    assert [o.head for o in book.outcomes(family="Al-Si-Mg")] == ["b", "a"]
    assert [o.head for o in book.outcomes(source="torch")] == ["c", "a"]
    assert [o.head for o in book.outcomes(family="Al-Si-Mg", source="torch")] == ["a"]
    groups = [(g.alloy_family, g.heat_source, g.heads, g.passes) for g in book.groups()]
    assert groups == [("Al-Si-Cu", "torch", 1, 1), ("Al-Si-Mg", "oven", 1, 1), ("Al-Si-Mg", "torch", 1, 1)]


def test_a_group_tells_its_mean_set(book, outcome):
    log_pass(book, "a", outcome(1, predicted=0.1, measured=0.2))
    log_pass(book, "a", outcome(2, predicted=0.3, measured=0.1))
    [group] = book.groups()
    assert (group.heads, group.passes) == (1, 2)
    assert math.isclose(group.mean_predicted_set_mm, 0.2)
    assert math.isclose(group.mean_measured_set_mm, 0.15)


def test_a_struck_pass_teaches_nothing_and_the_one_before_speaks_again(book, outcome):
    log_pass(book, "a", outcome(1, kept=(0.1, 0.2), skew=(0.0, 0.1)))
    second = log_pass(book, "a", outcome(2, kept=(0.9, 0.2)))
    assert book.pools("Al-Si-Mg", "torch")["kept"].median == 0.9
    assert book.pools("Al-Si-Mg", "torch")["skew"].median == 0.0
    book.strike(second, "read on the wrong side")
    assert book.pools("Al-Si-Mg", "torch")["kept"].median == 0.1
    assert [o.pass_number for o in book.outcomes()] == [1]
    assert book.check() == []


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(st.tuples(st.floats(-3, 3), st.floats(0, 2)), min_size=2, max_size=12))
def test_pools_are_what_the_statistics_of_the_standard_library_say(tmp_path_factory, outcome, taught):
    with open_book(tmp_path_factory.mktemp("book") / "book.db") as book, book.together():
        for place, pair in enumerate(taught):
            log_pass(book, f"head-{place}", outcome(1, kept=(9.0, 9.0)))
            log_pass(book, f"head-{place}", outcome(2, kept=pair))
        pool = book.pools("Al-Si-Mg", "torch")["kept"]
    means = [mean for mean, _ in taught]
    quartiles = statistics.quantiles(means, n=4, method="inclusive")
    assert pool.heads == len(taught)
    assert (pool.lower_quartile, pool.median, pool.upper_quartile) == pytest.approx(quartiles, abs=1e-12)
    assert pool.mean == pytest.approx(statistics.fmean(means), abs=1e-12)
    assert pool.spread == pytest.approx(statistics.pstdev(means), abs=1e-7)
    assert pool.own_sd == pytest.approx(math.sqrt(statistics.fmean(sd**2 for _, sd in taught)), abs=1e-12)


def test_a_thin_book_has_pools_too(book, outcome):
    assert book.pools("Al-Si-Mg", "torch") == {}
    log_pass(book, "a", outcome(1, kept=(0.5, 0.2)))
    pool = book.pools("Al-Si-Mg", "torch")["kept"]
    assert (pool.heads, pool.lower_quartile, pool.median, pool.upper_quartile, pool.spread) == (
        1,
        0.5,
        0.5,
        0.5,
        0.0,
    )


@pytest.mark.parametrize(
    "change",
    [
        {"alloy_family": ""}, {"alloy_family": None}, {"heat_source": 3}, {"heat_source": "\ud800"}, {"pass": 0},
        {"pass": True}, {"pass": "1"}, {"predicted_set_mm": "0.1"}, {"measured_set_mm": True}, {"factors": None},
        {"factors": {"kept": 1.0}}, {"factors": {"kept": [1.0]}}, {"factors": {"kept": [1.0, -0.1]}},
        {"factors": {"kept": ["1", 0.1]}}, {"factors": {"a\nb": [1.0, 0.1]}},
    ],
    ids=str,
)  # fmt: skip
def test_an_outcome_of_another_form_is_refused(book, outcome, change):
    book.append("pump", "head", {})
    with pytest.raises(BadInput) as caught:
        book.append("pump", "pass", {"outcome": outcome(1).to_plain() | change})
    assert caught.value.where == "record.outcome"
    assert book.heads()[0].last == 1


def test_an_outcome_that_is_no_object_is_refused(book):
    book.append("pump", "head", {})
    with pytest.raises(BadInput, match="alloy_family"):
        book.append("pump", "pass", {"outcome": [1]})


def test_grouped_reading_goes_by_index(shop):
    asked = []
    shop._connection.set_trace_callback(asked.append)
    shop.outcomes(family="Al-Si-Mg", source="torch")
    shop.pools("Al-Si-Mg", "torch")
    shop._connection.set_trace_callback(None)
    for query in asked:
        steps = [row["detail"] for row in shop._connection.execute(f"EXPLAIN QUERY PLAN {query}")]
        assert not any(step.startswith(("SCAN", "USE TEMP")) for step in steps), steps
    assert len(asked) == 5
