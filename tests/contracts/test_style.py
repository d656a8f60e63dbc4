"""Lint, format and types, as part of the one test command."""

import ast
import subprocess
import sys
from pathlib import Path
from statistics import median

import pytest

ROOT = Path(__file__).parents[2]
LONGEST = 50  # lines of a function without its docstring


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


def _lengths():
    """Lines of each function's body without its docstring, with where it stands."""
    for path in sorted((ROOT / "straighten").rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.FunctionDef):
                body = node.body[1:] if ast.get_docstring(node) else node.body
                yield (body[-1].end_lineno - body[0].lineno + 1 if body else 0), f"{path.name}: {node.name}"


def test_functions_are_one_thought_long():
    lengths = sorted(_lengths())
    assert median(length for length, _ in lengths) < 10
    assert [name for length, name in lengths if length > LONGEST] == []


def test_files_are_short():
    ours = [path for room in ("straighten", "tests") for path in (ROOT / room).rglob("*.py")]
    long = {path.name: len(path.read_text(encoding="utf-8").splitlines()) for path in ours}
    assert [name for name, lines in long.items() if lines > 400] == []
