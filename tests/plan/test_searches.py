"""The same question is searched once: in memory, and in files for the commands that follow."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from straighten.errors import NoPlan
from straighten.searches import KEPT, Searches, fingerprint


@dataclass(frozen=True)
class Asked:
    """Something asked."""

    name: str
    values: Any
    inner: Any = None


class Counted:
    """A search that counts how often it is called."""

    def __init__(self, found: Any = None, fault: NoPlan | None = None) -> None:
        self.calls, self.found, self.fault = 0, found, fault

    def __call__(self) -> Any:
        self.calls += 1
        if self.fault is not None:
            raise self.fault
        return self.found


def test_a_question_is_searched_once() -> None:
    searches, search = Searches(), Counted([1.5, "a"])
    asked = (Asked("x", np.arange(3.0)), 7)
    assert (
        searches.once(asked, search) == searches.once((Asked("x", np.arange(3.0)), 7), search) == [1.5, "a"]
    )
    assert search.calls == 1
    searches.forget()
    searches.once(asked, search)
    assert search.calls == 2


@pytest.mark.parametrize(
    "other",
    [
        Asked("y", np.arange(3.0)),
        Asked("x", np.array([0.0, 1.0, np.nextafter(2.0, 3.0)])),
        Asked("x", np.arange(3.0)[:, None]),
        Asked("x", np.arange(3)),
        Asked("x", (0.0, 1.0, 2.0)),
        Asked("x", np.arange(3.0), inner=Asked("x", 1)),
        Asked("x", np.arange(3.0), inner=False),
    ],
)
def test_what_differs_at_all_is_another_question(other: Asked) -> None:
    assert fingerprint(other) != fingerprint(Asked("x", np.arange(3.0)))


@given(st.lists(st.text(max_size=4), max_size=4), st.lists(st.text(max_size=4), max_size=4))
def test_texts_do_not_run_together(one: list[str], other: list[str]) -> None:
    assert (fingerprint(one) == fingerprint(other)) == (one == other)


def test_that_no_pass_helps_is_known_too(tmp_path: Path) -> None:
    search = Counted(fault=NoPlan("nothing helps", where="spots", fix="Sand it."))
    for _ in range(2):
        searches = Searches()
        searches.keep_in(tmp_path / "kept")
        with pytest.raises(NoPlan, match="nothing helps") as told:
            searches.once(("head",), search)
        assert (told.value.where, told.value.fix) == ("spots", "Sand it.")
    assert search.calls == 1


def test_the_next_command_reads_what_was_found(tmp_path: Path) -> None:
    folder, search = tmp_path / "kept", Counted({"loss": 0.1 + 0.2, "names": ["a"]})
    for _ in range(3):
        searches = Searches()
        searches.keep_in(folder)
        assert searches.once(("head", 1.0), search) == {"loss": 0.1 + 0.2, "names": ["a"]}
    assert search.calls == 1
    assert folder.stat().st_mode & 0o077 == 0
    assert all(path.stat().st_mode & 0o077 == 0 for path in folder.iterdir())


@pytest.mark.parametrize("text", ["", "{", "[]", "{}", '{"found": 1, "none": {}}', "\x00"])
def test_a_damaged_file_is_searched_anew(tmp_path: Path, text: str) -> None:
    folder, search = tmp_path / "kept", Counted(4)
    for _ in range(2):
        searches = Searches()
        searches.keep_in(folder)
        assert searches.once(("head",), search) == 4
        (file,) = folder.iterdir()
        assert json.loads(file.read_text()) == {"found": 4}
        file.write_text(text)
    assert search.calls == 2


def test_a_folder_that_cannot_be_written_stops_nothing(tmp_path: Path) -> None:
    taken = tmp_path / "kept"
    taken.write_text("a file, no folder")
    searches, search = Searches(), Counted(4)
    searches.keep_in(taken)
    assert searches.once(("head",), search) == searches.once(("head",), search) == 4
    assert search.calls == 1


def test_only_the_newest_answers_are_kept(tmp_path: Path) -> None:
    searches = Searches()
    searches.keep_in(tmp_path / "kept")
    for number in range(KEPT + 5):
        searches.once((number,), Counted(number))
    assert len(list((tmp_path / "kept").iterdir())) == KEPT
    last, first = Counted(), Counted()
    searches.once((KEPT + 4,), last)
    searches.once((0,), first)
    assert (last.calls, first.calls) == (0, 1)
