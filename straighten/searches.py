"""What searches have found: the same question is searched once, by this process and by the commands that come after it."""

from __future__ import annotations

import json
import os
from collections import OrderedDict
from contextlib import suppress
from dataclasses import fields, is_dataclass
from functools import cache
from hashlib import blake2b
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from straighten.errors import NoPlan

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

KEPT: Final = 64  # answers, in memory and as many in files
_SUFFIX: Final = ".json"


class Searches:
    """Answers of searches by what was asked, the newest ones. A resource: it may keep them in files as well.

    A file that cannot be read or written is left alone: the search is done again.
    """

    def __init__(self) -> None:
        self._known: OrderedDict[str, dict[str, Any]] = OrderedDict()
        self._folder: Path | None = None

    def keep_in(self, folder: Path | None) -> None:
        """Keep answers in files of a folder from now on, or in memory only."""
        self._folder = folder

    def forget(self) -> None:
        """Let go of the answers in memory."""
        self._known.clear()

    def once(self, asked: tuple[object, ...], search: Callable[[], Any]) -> Any:
        """Return what a search found, JSON scalars; it is called where nobody has asked the same before.

        Args:
            asked: all that the answer depends on: records, arrays, scalars.
            search: what to do.

        Raises:
            NoPlan: as the search, also where the answer was known.
        """
        key = fingerprint((*asked, _program() if self._folder else ""))
        answer = self._known.get(key) or self._read(key)
        if answer is None:
            answer = _answer(search)
            self._write(key, answer)
        self._known[key] = answer
        self._known.move_to_end(key)
        while len(self._known) > KEPT:
            self._known.popitem(last=False)
        if "none" in answer:
            raise NoPlan(**answer["none"])
        return answer["found"]

    def _read(self, key: str) -> dict[str, Any] | None:
        if self._folder is None:
            return None
        with suppress(OSError, ValueError):
            answer = json.loads((self._folder / (key + _SUFFIX)).read_text(encoding="utf-8"))
            return answer if isinstance(answer, dict) and len({"found", "none"} & set(answer)) == 1 else None
        return None

    def _write(self, key: str, answer: dict[str, Any]) -> None:
        if self._folder is None:
            return
        import tempfile  # here: every command opens the book, few search

        with suppress(OSError):
            self._folder.mkdir(mode=0o700, exist_ok=True)
            handle, name = tempfile.mkstemp(dir=self._folder)
            with os.fdopen(handle, "w", encoding="utf-8") as file:
                json.dump(answer, file)
            Path(name).replace(self._folder / (key + _SUFFIX))
            old = sorted(self._folder.iterdir(), key=lambda path: path.stat().st_mtime)[:-KEPT]
            for path in old:
                path.unlink()


SEARCHES: Final = Searches()


def _answer(search: Callable[[], Any]) -> dict[str, Any]:
    try:
        return {"found": search()}
    except NoPlan as fault:
        return {"none": {"problem": fault.problem, "where": fault.where, "fix": fault.fix}}


def fingerprint(asked: object) -> str:
    """Return a digest of records, arrays and scalars: alike only where all of them are.

    Source: BLAKE2 (RFC 7693).
    """
    digest = blake2b(digest_size=16)
    _feed(digest, asked)
    return digest.hexdigest()


def _feed(digest: blake2b, one: object) -> None:
    import numpy as np  # here: commands that search nothing do without it

    if isinstance(one, np.ndarray):
        array: NDArray[Any] = np.ascontiguousarray(one)
        digest.update(f"{array.dtype}{array.shape}".encode())
        digest.update(array.tobytes())
    elif is_dataclass(one):
        digest.update(type(one).__name__.encode())
        for field in fields(one):
            _feed(digest, getattr(one, field.name))
    elif isinstance(one, tuple | list):
        digest.update(f"({len(one)}".encode())
        for part in one:
            _feed(digest, part)
    else:
        digest.update(f"{type(one).__name__}:{one!r};".encode())


@cache
def _program() -> str:
    """What this program is: sizes and times of its files, so that another version searches anew."""
    files = sorted(Path(__file__).parent.rglob("*.py"))
    return fingerprint([(str(path), path.stat().st_size, path.stat().st_mtime_ns) for path in files])
