"""Do the tests bite? Small faults, one at a time, in the rooms of physics and decisions.

    python -m tests.benchmarks.mutations [--each 30] [--seed 1] [--rooms heat clamp] [--map FOLDER] [--again FILE]

A fault is a comparison turned, + for -, * for /, a number doubled, halved or off by one, a `not` left out, min for max,
`and` for `or`, True for False, or a condition forced. Sentences, types, decorators, assertions and numbers under 1e-9
(guards against nought) are left alone. Each fault stands in a copy of the tree and meets the tests that run its line,
quickest first, then others of its file, up to `--most` seconds of tests; a run that takes five times as long counts as
killed. Which test runs which line is found once, by coverage, and kept in the folder `--map`; the room's test files changed
since then run first. `--again` takes the output of an earlier run and tries its survivors once more. Survivors are printed as they come;
the last line is one JSON object.
"""

from __future__ import annotations

import argparse
import ast
import json
import os
import random
import re
import shutil
import subprocess
import sys
import tempfile
import time
import xml.etree.ElementTree as ET
from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import asdict, dataclass, field
from hashlib import sha256
from itertools import pairwise
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
ROOMS = ("heat", "clamp", "plan", "decide", "belief", "sanding", "shape", "closing")
BESIDE = ("theory", "head", "units", "readings", "desk", "sheet", "against_published", "against_elements", "against_libraries")  # fmt: skip
LEFT = shutil.ignore_patterns(".git", "__pycache__", ".*cache", ".hypothesis")
GUARD = 1e-9
OTHERS = {
    "<": ">=", ">": "<=", "<=": ">", ">=": "<", "==": "!=", "!=": "==", "is": "is not", "is not": "is", "in": "not in",
    "not in": "in", "and": "or", "or": "and", "+": "-", "-": "+", "*": "/", "/": "*", "**": "*", "//": "*", "%": "*",
    "min": "max", "max": "min", "minimum": "maximum", "maximum": "minimum", "any": "all", "all": "any",
}  # fmt: skip
OPERATOR = re.compile(rb"<<|>>|not\s+in|is\s+not|\band\b|\bor\b|\bin\b|\bis\b|\*\*|//|[<>=!]=|[-+*/%<>]")
TIMED = re.compile(
    r"seconds?$|answered_from_memory$"
)  # tests that hold a time fail on a busy machine without a fault
JOINED = (ast.List, ast.Tuple, ast.JoinedStr)
UNTOUCHED = (ast.JoinedStr, ast.Raise, ast.Assert, ast.Import, ast.ImportFrom)
UNREAD = ("decorator_list", "annotation", "returns", "bases", "op", "ops", "ctx")


@dataclass(frozen=True, slots=True)
class Mutant:
    """A fault: bytes `first` to `last` of a file replaced; `lines` of its statement, the `name` it binds at module level."""

    file: str
    first: int
    last: int
    new: bytes
    lines: range
    name: str
    line: int
    told: str


class Finder:
    """Collects the faults that a file may have."""

    def __init__(self, file: str, source: bytes) -> None:
        self.file, self.source, self.found = file, source, []
        self.starts = [0, *(found.end() for found in re.finditer(rb"\n", source))]
        self.statement = range(1)

    def span(self, node: ast.expr) -> tuple[int, int]:
        first, last = self.starts[node.lineno - 1], self.starts[(node.end_lineno or 0) - 1]
        return first + node.col_offset, last + (node.end_col_offset or 0)

    def keep(self, first: int, last: int, new: str | bytes) -> None:
        new = new.encode() if isinstance(new, str) else new
        line, texts = self.source.count(b"\n", 0, first), self.source.decode().splitlines()
        bound = re.match(r"\w+(?=: Final|[: ].*=)", texts[self.statement.start - 1])
        told = f"{self.source[first:last].decode()} -> {new.decode()} at {first - self.starts[line]} in: {texts[line].strip()}"
        name = bound[0] if bound else ""
        self.found.append(Mutant(self.file, first, last, new, self.statement, name, line + 1, told))

    def between(self, *sides: ast.expr) -> None:
        for left, right in pairwise(sides):
            first, last = self.span(left)[1], self.span(right)[0]
            if found := OPERATOR.search(self.source, first, last):
                new = OTHERS.get(re.sub(r"\s+", " ", found[0].decode()))
                if new:
                    self.keep(found.start(), found.end(), new)

    def look(self, node: ast.AST) -> None:
        """Keep the faults of a node and of what lies under it."""
        sentence = isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)
        typing = isinstance(node, ast.If) and "TYPE_CHECKING" in ast.unparse(node.test)
        if sentence or typing or isinstance(node, UNTOUCHED) or getattr(node, "arg", "") == "strict":
            return
        before = self.statement
        if isinstance(node, ast.stmt):
            body = getattr(node, "body", None)
            self.statement = range(node.lineno, (body[0].lineno if body else (node.end_lineno or 0) + 1))
        self.change(node)
        for name, parts in ast.iter_fields(node):
            for part in parts if isinstance(parts, list) else [parts]:
                if isinstance(part, ast.AST) and name not in UNREAD:
                    self.look(part)
        self.statement = before

    def change(self, node: ast.AST) -> None:  # noqa: C901 - one case a kind of fault
        """Keep the faults of a node itself."""
        match node:
            case ast.Constant(value=bool() | int() | float() as value) if value == 0 or abs(value) > GUARD:
                for new in numbers(value):
                    self.keep(*self.span(node), repr(new))
            case ast.Compare():
                self.between(node.left, *node.comparators)
            case ast.BinOp() if not isinstance(node.left, JOINED) and not isinstance(node.right, JOINED):
                self.between(node.left, node.right)
            case ast.BoolOp():
                self.between(*node.values)
            case ast.UnaryOp(op=ast.Not()):
                self.keep(*self.span(node), b"(" + self.source[slice(*self.span(node.operand))] + b")")
            case ast.UnaryOp(op=ast.USub()) if not isinstance(node.operand, ast.Constant):
                first = self.span(node)[0]
                self.keep(first, first + 1, "+")
            case ast.Call(func=ast.Name(id=name) | ast.Attribute(attr=name)) if name in OTHERS:
                last = self.span(node.func)[1]
                self.keep(last - len(name), last, OTHERS[name])
            case ast.If() | ast.IfExp():
                for new in (True, False):
                    self.keep(*self.span(node.test), repr(new))


def numbers(value: float) -> tuple[float, ...]:
    """Return what a number may be turned into."""
    if isinstance(value, bool):
        return (not value,)
    if isinstance(value, int):
        return value + 1, abs(value - 1)
    return (2 * value, value / 2) if value else (1.0,)


def mutants_of(room: str) -> list[Mutant]:
    """Return every fault that a room may have, as its files stand."""
    found = []
    for path in sorted((ROOT / "straighten" / room).glob("*.py")):
        finder = Finder(str(path.relative_to(ROOT)), path.read_bytes())
        finder.look(ast.parse(path.read_bytes()))
        found += finder.found
    return found


def pytest(tree: Path, words: list[str], seconds: float | None = None, **more: str) -> int:
    """Run pytest on a tree; return its exit code, 99 where it took too long."""
    listed = tree.parent / "words"
    listed.write_text("\n".join(words), encoding="utf-8")
    env = {**os.environ, "PYTHONPATH": str(tree), "OPENBLAS_NUM_THREADS": "1", **more}
    told = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", f"@{listed}"]
    quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    try:
        return subprocess.run(told, cwd=tree, env=env, timeout=seconds, check=False, **quiet).returncode
    except subprocess.TimeoutExpired:
        return 99


@dataclass(slots=True)
class Covered:
    """Which tests run which line, told by the line's text; `seconds` of each test and of the `fixtures` of each file; `files` digests of the test files."""

    lines: dict[str, dict[str, list[str]]] = field(default_factory=dict)
    seconds: dict[str, float] = field(default_factory=dict)
    fixtures: dict[str, float] = field(default_factory=dict)
    files: dict[str, str] = field(default_factory=dict)

    def tests_of(self, one: Mutant, source: list[str], most: float) -> list[str]:
        """Return the tests to run: those changed in the room, what runs the line, what runs the file, quickest first."""
        mine, room = self.lines.get(one.file, {}), one.file.split("/")[1]
        direct = {test for n in one.lines for test in mine.get(source[n - 1].strip(), ())}
        if one.name:
            every = [line for lines in self.lines.values() for line in lines.items()]
            direct |= {test for text, tests in every if re.search(rf"\b{one.name}\b", text) for test in tests}
        wider = {test for tests in mine.values() for test in tests} - direct
        changed = {name for name, kept in digests().items() if self.files.get(name) != kept}
        words = sorted(name for name in changed if f"tests/{room}/" in name or "against_" in name)
        begun = set(words)

        def cost(test: str) -> float:
            return self.seconds[test] + (
                0 if file_of(test) in begun else self.fixtures.get(file_of(test), 0.0)
            )

        for group in (direct, wider):
            for test in sorted(group & self.seconds.keys(), key=cost):
                most -= cost(test)
                if most < 0:
                    return words
                begun.add(file_of(test))
                if file_of(test) not in changed and (ROOT / file_of(test)).exists():
                    words.append(test)
        return words


def file_of(test: str) -> str:
    return test.split("::", maxsplit=1)[0]


def digests() -> dict[str, str]:
    """Return the digests of the test files."""
    files = sorted((ROOT / "tests").glob("*/test_*.py"))
    return {str(path.relative_to(ROOT)): sha256(path.read_bytes()).hexdigest() for path in files}


def covered(folder: Path, tree: Path) -> Covered:
    """Return the map of lines and tests from its folder; where there is none, find it first."""
    kept, data, times = folder / "map.json", folder / "coverage", folder / "times.xml"
    if kept.exists():
        return Covered(**json.loads(kept.read_text(encoding="utf-8")))
    if not data.exists():
        words = ["--cov=straighten", "--cov-context=test", "--cov-report=", f"--junitxml={times}"]
        places = [f"tests/{name}" for name in (*ROOMS, *BESIDE) if (tree / "tests" / name).exists()]
        pytest(tree, [*words, "straighten", *places], COVERAGE_FILE=str(data))
    found = Covered(files=digests())
    for case in ET.parse(times).iter("testcase"):
        place = f"{case.attrib['classname'].replace('.', '/')}.py::{case.attrib['name']}"
        failed = any(case.iter("failure")) or any(case.iter("error"))
        if not failed and not TIMED.search(place):
            found.seconds[place] = float(case.attrib["time"])
    read_lines(found, data)
    kept.write_text(json.dumps(asdict(found)), encoding="utf-8")
    return found


def read_lines(found: Covered, data: Path) -> None:
    """Put the tests of every line into the map; what a fixture ran counts for all tests of its file."""
    from coverage import CoverageData

    together = defaultdict(list)
    for test in found.seconds:
        together[file_of(test)].append(test)
    read = CoverageData(basename=str(data))
    read.read()
    for path in read.measured_files():
        file = path[path.index("straighten/", path.rindex("tree/")) :]
        source = (ROOT / file).read_text(encoding="utf-8").splitlines()
        lines: dict[str, set[str]] = defaultdict(set)
        for number, contexts in read.contexts_by_lineno(path).items():
            for test, _, phase in (context.rpartition("|") for context in contexts if context):
                home, tests = file_of(test), [test]
                if phase == "setup":
                    tests = together[home]
                    found.fixtures[home] = max(found.fixtures.get(home, 0.0), found.seconds.get(test, 0.0))
                lines[source[number - 1].strip() if number <= len(source) else ""].update(tests)
        found.lines[file] = {text: sorted(tests) for text, tests in lines.items()}


def survives(one: Mutant, tree: Path, known: Covered, most: float) -> bool:
    """Whether the tests pass with the fault."""
    whole = (ROOT / one.file).read_bytes()
    words = known.tests_of(one, whole.decode().splitlines(), most)
    if not words:
        return True
    put(tree / one.file, whole[: one.first] + one.new + whole[one.last :])
    spent = sum(known.seconds.get(word, 20.0) for word in words)
    code = pytest(tree, ["-x", *words], seconds=60 + 5 * spent)
    put(tree / one.file, whole)
    return code == 0


def put(path: Path, text: bytes) -> None:
    """Write a module so that no older compiled one is taken for it."""
    path.write_bytes(text)
    shutil.rmtree(path.parent / "__pycache__", ignore_errors=True)


def chosen(told: argparse.Namespace) -> Iterator[tuple[str, list[Mutant]]]:
    """Yield the faults of every room: drawn by the seed, one a line at the most, or the survivors of an earlier run."""
    again = set()
    if told.again:
        again = {line.removeprefix("survived: ").rstrip() for line in told.again.read_text().splitlines()}
    for room in told.rooms:
        every = mutants_of(room)
        random.Random(f"{told.seed} {room}").shuffle(every)
        if again:
            yield room, [one for one in every if f"{one.file}: {one.told}" in again]
        else:
            yield room, list({(one.file, one.line): one for one in every}.values())[: told.each]


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--each", type=int, default=30, help="faults in each room")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--rooms", nargs="+", default=ROOMS, choices=ROOMS)
    parser.add_argument("--most", type=float, default=90.0, help="seconds of tests for one fault")
    parser.add_argument("--map", type=Path, default=Path(tempfile.gettempdir()) / "straighten-mutations")
    parser.add_argument(
        "--again", type=Path, help="output of an earlier run, whose survivors are tried once more"
    )
    told, begun = parser.parse_args(), time.monotonic()
    told.map.mkdir(parents=True, exist_ok=True)
    tried, left = Counter[str](), Counter[str]()
    with tempfile.TemporaryDirectory() as folder:
        tree = Path(shutil.copytree(ROOT, Path(folder) / "tree", ignore=LEFT))
        known = covered(told.map, tree)
        for room, faults in chosen(told):
            for one in faults:
                tried[room] += 1
                if survives(one, tree, known, told.most):
                    left[room] += 1
                    print(f"survived: {one.file}: {one.told}", flush=True)
                print(f"{room} {tried[room]} of {len(faults)}, {left[room]} survive", file=sys.stderr)
    print(json.dumps({
        "mutants": dict(tried), "survivors": {room: left[room] for room in tried},
        "share": {room: round(left[room] / count, 3) for room, count in tried.items()},
        "seed": told.seed, "seconds": round(time.monotonic() - begun),
    }))  # fmt: skip


if __name__ == "__main__":
    main()
