import pytest

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


def test_a_struck_pass_teaches_nothing_and_the_one_before_speaks_again(book, outcome):
    log_pass(book, "a", outcome(1, kept=(0.1, 0.2)))
    second = log_pass(book, "a", outcome(2, kept=(0.9, 0.2)))
    assert book.outcomes()[0].factors == {"kept": (0.9, 0.2)}
    book.strike(second, "read on the wrong side")
    assert book.outcomes()[0].factors == {"kept": (0.1, 0.2)}
    assert [o.pass_number for o in book.outcomes()] == [1]
    assert book.check() == []


@pytest.mark.parametrize(
    "change",
    [
        {"alloy_family": ""}, {"alloy_family": None}, {"heat_source": 3}, {"heat_source": "\ud800"}, {"pass": 0},
        {"pass": True}, {"pass": "1"}, {"predicted_set_mm": "0.1"}, {"measured_set_mm": True}, {"factors": None},
        {"factors": {"kept": 1.0}}, {"factors": {"kept": [1.0]}}, {"factors": {"kept": [1.0, -0.1]}},
        {"factors": {"kept": ["1", 0.1]}}, {"factors": {"a\nb": [1.0, 0.1]}}, {"factors": {"kept": [1e308, 0.1]}},
        {"factors": {"kept": [-1e308, 0.1]}}, {"factors": {"kept": [0.0, 1e308]}}, {"predicted_set_mm": 1e9},
        {"measured_set_mm": -1e300}, {"pass": 10**6},
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


def test_an_outcome_that_no_head_can_teach_out_of_an_older_book_is_left_out_and_named(
    book, outcome, monkeypatch
):
    log_pass(book, "sound", outcome(1))
    with monkeypatch.context() as before:
        before.setattr("straighten.book.outcomes.LARGEST_LOG", 1e309)
        number = log_pass(book, "odd", outcome(1, kept=(1e308, 0.1)))
    assert [o.head for o in book.outcomes(family="Al-Si-Mg", source="torch")] == ["sound"]
    [fault] = book.check()
    assert fault.startswith(f"entry {number} of odd teaches what no head can")
