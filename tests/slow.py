"""Long lists of cases: the one command takes the first few, the others are slow."""

from collections.abc import Iterable
from typing import Any

import pytest


def slow_after(count: int, cases: Iterable[Any]) -> list[Any]:
    """Return the cases of a parametrization, all after the first few marked slow; ids stay as they were."""
    return [case if n < count else _slow(case) for n, case in enumerate(cases)]


def _slow(case: Any) -> Any:
    return pytest.param(*(case if isinstance(case, tuple) else (case,)), marks=pytest.mark.slow)
