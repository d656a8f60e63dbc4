"""Every name of the rooms that chain, arrange and print is used by the program itself, not by tests alone."""

import ast
import re
from collections import Counter
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[2] / "straighten"
WORDS = Counter(word for path in PACKAGE.rglob("*.py") for word in re.findall(r"\w+", path.read_text()))


def names(path):
    """Functions, methods, classes and constants that a module defines."""
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.FunctionDef | ast.ClassDef) and not node.name.startswith("__"):
            yield node.name
    for node in ast.parse(path.read_text()).body:
        if isinstance(node, ast.Assign):
            yield from (target.id for target in node.targets if isinstance(target, ast.Name))
        elif isinstance(node, ast.AnnAssign) and isinstance(node.target, ast.Name):
            yield node.target.id


@pytest.mark.parametrize("room", ["desk", "sheet", "cli"])
def test_no_name_is_there_for_tests_alone(room):
    unused = [
        f"{path.name}: {name}"
        for path in sorted((PACKAGE / room).rglob("*.py"))
        for name in names(path)
        if WORDS[name] == 1
    ]
    assert unused == []
