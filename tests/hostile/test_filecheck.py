"""The reading of files at its edges: folders, other unit words, nesting that only a model meets."""

from typing import Annotated

import pytest
from pydantic import Field

from straighten.errors import BadInput
from straighten.filecheck import Table, checked, load_text, system_of


class Inner(Table):
    size: float = 0.0


class Outer(Table):
    parts: list[Inner] = Field(default=[])
    other: Inner | None = None
    count: Annotated[int, Field(ge=1)] = 1


def told(data):
    with pytest.raises(BadInput) as fault:
        checked(Outer, data, where="f.toml", system="mm")
    return str(fault.value)


def test_a_folder_is_no_file(tmp_path):
    with pytest.raises(BadInput, match="a folder or a device"):
        load_text(tmp_path)


def test_a_name_that_no_file_can_have():
    from pathlib import Path

    with pytest.raises(BadInput, match="cannot be read"):
        load_text(Path("a\0b"))


@pytest.mark.parametrize(
    ("word", "system"), [("thou", "inch"), ("in", "inch"), ("inch", "inch"), ("mm", "mm")]
)
def test_the_words_for_the_unit_systems(word, system):
    assert system_of({"units": word}, "f") == system
    assert system_of({}, "f", "inch") == "inch"


def test_another_word_for_the_units_is_refused():
    with pytest.raises(BadInput, match="Allowed"):
        system_of({"units": "furlong"}, "f")


def test_keys_are_counted_from_one_and_neighbours_named():
    assert told({"parts": [{}, {"sise": 1.0}]}).startswith(
        "f.toml: parts.2.sise: unknown key. Did you mean 'size'?"
    )
    assert "Known keys here: count, other, parts" in told({"zzzzzz": 1})
    assert "f.toml: count: found 0" in told({"count": 0})
    assert "found inf" in told({"other": {"size": float("inf")}})
    assert len(told({"count": "x" * 500})) < 200


def test_a_table_within_itself_ends():
    ring = {}
    ring["other"] = ring
    assert "f.toml" in told(ring)
