"""The search and the learning, pure functions both, answer the same question once in a run, for all its processes.

Most tests ask what many asked before: the card of the example's first survey, say. What was found lies in a folder under the
digest of all that went in but the head's name, which no search reads; a session forked from a test finds it there too. A
command started as a process of its own computes afresh, so does everything with `--afresh`, and where the variable that
names the folder is empty.
"""

from __future__ import annotations

import functools
import os
import pickle
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from hashlib import sha256
from pathlib import Path
from typing import Any

from straighten.desk import job, pass_card
from straighten.errors import NoPlan
from straighten.head.records import Head

FOLDER = "STRAIGHTEN_TESTS_REMEMBERED"
AFRESH = {FOLDER: ""}  # the environment of one who is to see a computation take its time
ASKED = (
    *((job, name) for name in ("learn", "choose_pass", "strongest_pass", "decide")),
    (pass_card, "plan_turns"),
)


@contextmanager
def remembering() -> Iterator[None]:
    """Answer from the folder what was asked before; put there what was not."""
    whole = [(module, name, getattr(module, name)) for module, name in ASKED]
    for module, name, work in whole:
        setattr(module, name, once(work))
    try:
        yield
    finally:
        for module, name, work in whole:
            setattr(module, name, work)


def once(work: Callable[..., Any]) -> Callable[..., Any]:
    """Return a pure function that keeps what it finds, the reason where it finds no plan included."""

    @functools.wraps(work)
    def answer(*given: Any, **more: Any) -> Any:
        folder = os.environ.get(FOLDER)
        if not folder:
            return work(*given, **more)
        given = tuple(replace(part, name="") if isinstance(part, Head) else part for part in given)
        path = Path(folder) / sha256(pickle.dumps((work.__name__, given, more))).hexdigest()
        if not path.exists():
            _put(path, pickle.dumps(_tried(work, given, more)))
        found = pickle.loads(
            path.read_bytes()
        )  # the first time too: what is found from it has one digest then
        if isinstance(found, NoPlan):
            raise found
        return found

    return answer


def _tried(work: Callable[..., Any], given: tuple[Any, ...], more: dict[str, Any]) -> Any:
    try:
        return work(*given, **more)
    except NoPlan as fault:
        return fault


def _put(path: Path, raw: bytes) -> None:
    """Write a file that is whole whenever it is there: another process may look, or the power be cut."""
    part = path.with_suffix(f".{os.getpid()}")
    part.write_bytes(raw)
    part.replace(path)
