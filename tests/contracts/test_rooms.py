"""The house plan holds: a room imports only rooms to its left and the ground; packages stay in their rooms."""

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[2] / "straighten"
GROUND = ("errors", "units", "sources", "quantiles", "sobol", "filecheck", "searches")
WAY = (
    "head", "readings", "shape", "clamp", "heat", "plan", "belief", "decide", "sanding", "closing", "book", "sheet",
)  # fmt: skip
LAST = ("desk", "cli")
# Who may load what beyond the standard library and numpy.
MAY_LOAD = {
    "typer": {"cli"},
    "rich": {"cli"},
    "sqlite3": {"book"},
    "sympy": {"theory"},
    "matplotlib": {"sheet"},
    "pydantic": {"filecheck", "head", "readings", "desk"},
}


def room_of(path: Path) -> str:
    first = path.relative_to(PACKAGE).parts[0]
    return first.removesuffix(".py")


def imports(path: Path) -> Iterator[str]:
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            yield node.module
            if node.module == "straighten":
                yield from (f"straighten.{alias.name}" for alias in node.names)


def allowed_rooms(room: str) -> set[str]:
    ground = set(GROUND) | {"__version__"}
    if room in GROUND:
        return ground
    if room == "theory":
        return ground | {"theory"}
    if room == "book":
        return ground | {"book"}
    if room == "desk":
        return ground | set(WAY) | {"desk", "theory"}
    if room in ("cli", "__main__"):
        return ground | {"desk", "cli", "head", "readings", "sheet", "book"}
    return ground | set(WAY[: WAY.index(room) + 1]) - {"book"} if room != "sheet" else ground | set(WAY)


def faults(path: Path, room: str) -> list[str]:
    found = []
    for name in imports(path):
        top, _, rest = name.partition(".")
        inner = rest.partition(".")[0]
        if top == "straighten" and inner and inner not in allowed_rooms(room):
            found.append(f"{path.name} in {room} imports {name}")
        if top in MAY_LOAD and room not in MAY_LOAD[top]:
            found.append(f"{path.name} in {room} loads {top}")
        if name.startswith("scipy.stats"):
            found.append(f"{path.name} in {room} loads scipy.stats at run time")
    return found


@pytest.mark.parametrize("path", sorted(PACKAGE.rglob("*.py")), ids=lambda p: str(p.relative_to(PACKAGE)))
def test_a_room_imports_only_what_stands_to_its_left(path):
    if path.parent == PACKAGE and path.stem in ("__init__",):
        assert not list(imports(path))
        return
    assert faults(path, room_of(path)) == []


def test_a_wrong_arrow_and_a_package_in_the_wrong_room_are_caught(tmp_path):
    planted = tmp_path / "planted.py"
    planted.write_text("import sqlite3\nfrom straighten.plan import search\nimport scipy.stats\n")
    assert len(faults(planted, "clamp")) == 3


def test_only_cli_prints_prompts_or_reads_the_environment():
    for path in PACKAGE.rglob("*.py"):
        if room_of(path) in ("cli", "__main__"):
            continue
        calls = {
            ast.unparse(node.func)
            for node in ast.walk(ast.parse(path.read_text()))
            if isinstance(node, ast.Call)
        }
        assert not calls & {"print", "input", "sys.exit", "os.getenv", "os.environ.get"}, path


def test_no_file_is_longer_than_it_can_be_read():
    long = {str(p): n for p in PACKAGE.rglob("*.py") if (n := len(p.read_text().splitlines())) > 400}
    assert long == {}
