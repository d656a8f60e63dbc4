"""Nothing is left over: every constant is read, every public name has a caller, docs name what commands reach."""

import ast
import re
from collections import Counter
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PACKAGE = ROOT / "straighten"
MODULES = sorted(PACKAGE.rglob("*.py"))
PAGES = [*sorted((ROOT / "docs").rglob("*.md")), ROOT / "README.md", ROOT / "DEVELOPERS.md"]


@cache
def tree(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"))


def uses(node: ast.AST) -> Counter[str]:
    """Return how often a name is read, called as an attribute or imported in a piece of code."""
    found: Counter[str] = Counter()
    for part in ast.walk(node):
        if isinstance(part, ast.Name) and isinstance(part.ctx, ast.Load):
            found[part.id] += 1
        elif isinstance(part, ast.Attribute):
            found[part.attr] += 1
        elif isinstance(part, ast.ImportFrom):
            found.update(alias.name for alias in part.names)
    return found


@cache
def all_uses() -> Counter[str]:
    """Return the uses in the whole package; what a room's `__init__` only hands on is no use."""
    return sum((uses(tree(path)) for path in MODULES if path.name != "__init__.py"), Counter()) + sum(
        (uses(part) for path in MODULES if path.name == "__init__.py" for part in tree(path).body
         if not isinstance(part, ast.ImportFrom)), Counter(),
    )  # fmt: skip


def constants(path: Path) -> Iterator[str]:
    for node in tree(path).body:
        targets = node.targets if isinstance(node, ast.Assign) else [getattr(node, "target", None)]
        if isinstance(node, ast.Assign | ast.AnnAssign):
            yield from (t.id for t in targets if isinstance(t, ast.Name) and not t.id.startswith("__"))


def public_names(path: Path) -> Iterator[tuple[str, ast.AST]]:
    """Give the public functions, classes and methods of a module; decorated ones are called by their decorator."""
    plain = {"property", "staticmethod", "classmethod", "cache", "contextmanager"}
    for node in tree(path).body:
        if isinstance(node, ast.FunctionDef | ast.ClassDef) and not node.name.startswith("_"):
            made = {ast.unparse(d).partition("(")[0] for d in node.decorator_list}
            if made <= plain | {"dataclass", "lru_cache"}:
                yield node.name, node
            for part in node.body if isinstance(node, ast.ClassDef) else ():
                if isinstance(part, ast.FunctionDef) and not part.name.startswith("_"):
                    made = {ast.unparse(d).partition("(")[0] for d in part.decorator_list}
                    if made <= plain:
                        yield part.name, part


def without_reader(path: Path) -> list[str]:
    return [name for name in constants(path) if not all_uses()[name]]


def without_caller(path: Path) -> list[str]:
    """Return the names that only tests call."""
    return [name for name, node in public_names(path) if all_uses()[name] <= uses(node)[name]]


def place(path: Path) -> str:
    return path.relative_to(PACKAGE).as_posix()


@pytest.mark.parametrize("path", MODULES, ids=place)
def test_every_constant_is_read_and_every_public_name_called_outside_the_tests(path):
    found = {f"{place(path)}: {name}" for name in (*without_reader(path), *without_caller(path))}
    assert found == set()


@cache
def reached() -> set[Path]:
    """Return the modules that the command line loads, now or inside a function."""
    found, todo = set(), [PACKAGE / "__main__.py", PACKAGE / "cli" / "__init__.py"]
    while todo:
        path = todo.pop()
        if path in found or not path.exists():
            continue
        found.add(path)
        for node in ast.walk(tree(path)):
            names = (
                [alias.name for alias in node.names] if isinstance(node, ast.Import | ast.ImportFrom) else []
            )
            if isinstance(node, ast.ImportFrom) and node.module:
                names = [node.module, *(f"{node.module}.{name}" for name in names)]
            for name in names:
                if name.split(".")[0] == "straighten":
                    there = ROOT.joinpath(*name.split("."))
                    todo += [there.with_suffix(".py"), there / "__init__.py"]
    return found


NAMED = re.compile(
    r"`(?:straighten[/.])?((?:[a-z_]+/)+[a-z_]+)\.py\b|`(?:straighten\.)?([a-z_]+(?:\.[a-z_]+)+)(?:\.[A-Z]\w*)?`"
)
ROOMS = {p.name for p in PACKAGE.iterdir() if p.is_dir()}


def modules_named(page: Path) -> Iterator[str]:
    for by_path, dotted in NAMED.findall(page.read_text(encoding="utf-8")):
        name = by_path or dotted.replace(".", "/")
        if name.split("/")[0] in ROOMS and not name.endswith("/toml"):
            yield name


@pytest.mark.parametrize(
    "page", [p for p in PAGES if p.parent.name != "reference"], ids=lambda p: p.relative_to(ROOT).as_posix()
)
def test_docs_name_modules_that_are_there_and_that_commands_reach(page):
    for name in modules_named(page):
        paths = [
            PACKAGE / f"{name}.py",
            PACKAGE / f"{name.rpartition('/')[0]}.py",
        ]  # the second: `room.module.function`
        there = next((path for path in paths if path.exists()), None)
        assert there, f"no module {name}"
        assert there in reached(), f"no command reaches {name}"


def test_what_is_left_over_is_found(tmp_path):
    """A planted constant, function and method that nothing uses are named."""
    planted = tmp_path / "planted.py"
    planted.write_text("LEFT_OVER_HERE = 1\ndef called_by_none_of_them(): return called_by_none_of_them\n")
    assert without_reader(planted) == ["LEFT_OVER_HERE"]
    assert [n for n, node in public_names(planted) if all_uses()[n] <= uses(node)[n]] == [
        "called_by_none_of_them"
    ]
