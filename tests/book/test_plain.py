import json
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from straighten.book.seals import checked_name, checked_stamp, text_of, utc_now
from straighten.errors import BadInput

scalars = (
    st.none()
    | st.booleans()
    | st.integers(-(2**63) + 1, 2**63 - 1)
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text()
)
plain = st.recursive(
    scalars,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(), inner, max_size=4),
    max_leaves=20,
)


@given(plain)
def test_text_gives_the_value_back_and_is_ascii(value):
    text = text_of(value)
    assert json.loads(text) == value
    assert text.isascii()


@given(st.dictionaries(st.text(), plain, min_size=2, max_size=5))
def test_the_order_of_keys_does_not_change_the_text(record):
    assert text_of(dict(reversed(record.items()))) == text_of(record)


def test_tuples_are_lists():
    assert text_of({"gap_mm": (0.1, 0.2)}) == '{"gap_mm":[0.1,0.2]}'


@pytest.mark.parametrize(
    ("record", "where"),
    [
        ({"a": math.nan}, "record.a"),
        ({"a": [1, math.inf]}, "record.a[1]"),
        ({"a": {"b": {1, 2}}}, "record.a.b"),
        ({"a": b"x"}, "record.a"),
        ({"a": 2**63}, "record.a"),
        ({3: 1}, "record"),
        ({"a": "x" * 9_000_000}, "record"),
    ],
    ids=str,
)
def test_what_cannot_be_kept_is_refused_and_its_place_told(record, where):
    with pytest.raises(BadInput) as caught:
        text_of(record)
    assert caught.value.where == where


def test_a_number_too_long_to_print_is_refused_without_printing_it():
    with pytest.raises(BadInput, match=r"^record.a: int cannot be kept"):
        text_of({"a": 10**5000})


def test_nesting_ends_before_the_stack_does():
    deep: object = 1
    for _ in range(100_000):
        deep = [deep]
    with pytest.raises(BadInput, match="deeper"):
        text_of({"a": deep})


@pytest.mark.parametrize("name", ["", " x", "x ", "a\nb", "a\x00b", "\ud800", "x" * 121, "a\u202eb", None, 3])
def test_impossible_names_are_refused(name):
    with pytest.raises(BadInput):
        checked_name(name)


def test_a_name_typed_in_either_unicode_form_is_the_same_name():
    assert checked_name("re\u0301gie-4") == checked_name("r\u00e9gie-4") == "régie-4"


@pytest.mark.parametrize("name", ["../../etc/passwd", "pump four", "=1+1", "Насос 4", "泵四"])
def test_a_name_is_only_a_name(name):
    assert checked_name(name) == name


@pytest.mark.parametrize(
    ("text", "kept"),
    [
        ("2026-03-01T09:30:00Z", "2026-03-01T09:30:00.000Z"),
        ("2026-03-01T09:30:00.1239+02:00", "2026-03-01T07:30:00.123Z"),
    ],
)
def test_times_are_kept_in_utc_to_the_millisecond(text, kept):
    assert checked_stamp(text) == kept


@pytest.mark.parametrize(
    "text", ["2026-03-01T09:30:00", "yesterday", "", None, 5, "0001-01-01T00:00:00+05:00"]
)
def test_a_time_without_its_zone_is_refused(text):
    with pytest.raises(BadInput):
        checked_stamp(text)


def test_the_clock_knows_its_zone():
    assert utc_now().utcoffset().total_seconds() == 0
