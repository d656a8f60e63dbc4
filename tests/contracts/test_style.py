"""Lint, format and types, as part of the one test command."""

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


@pytest.mark.parametrize(
    "words",
    [
        ("ruff", "check", "straighten", "tests"),
        ("ruff", "format", "--check", "straighten", "tests"),
        ("mypy", "--strict", "straighten"),
    ],
    ids=" ".join,
)
def test_is_clean(words):
    done = subprocess.run(
        [sys.executable, "-m", *words], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout[-3000:] + done.stderr[-1000:]
