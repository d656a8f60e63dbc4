"""docs/ says what the program does: commands run, files are read, references are current, links lead somewhere."""

from __future__ import annotations

import re
import shlex
import shutil
import tomllib
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from straighten.cli import main

ROOT = Path(__file__).parents[2]
DOCS = ROOT / "docs"
PAGES = sorted(DOCS.rglob("*.md"))
GUIDE = sorted((DOCS / "guide").glob("*.md"))
# A fenced block; a comment before it names the file it is written to, or the code its last command leaves with.
BLOCK = re.compile(
    r"(?:<!-- (?:file: (?P<file>\S+)|leaves with (?P<code>\d)) -->\n)?```(?P<kind>\w+)\n(?P<body>.*?)^```",
    re.M | re.S,
)
LINK = re.compile(r"(?<!!)\[[^\]]*\]\(([^)\s]+)\)")


@dataclass
class Page:
    """What running a page gave: each command with its exit code and the one wanted, and what it printed."""

    ran: list[tuple[str, int, int, str]] = field(default_factory=list)
    written: list[str] = field(default_factory=list)


@pytest.fixture(scope="module")
def guide(tmp_path_factory):
    """Every page of the guide, in the order of their names, in one folder with one book."""
    import contextlib
    import io

    folder = tmp_path_factory.mktemp("bench")
    shutil.copytree(ROOT / "worked_examples", folder, dirs_exist_ok=True)
    found: dict[str, Page] = {}
    with pytest.MonkeyPatch.context() as patch, contextlib.chdir(folder):
        patch.setenv("STRAIGHTEN_BOOK", str(folder / "shop.book"))
        for path in GUIDE:
            page = found.setdefault(path.name, Page())
            for block in BLOCK.finditer(path.read_text(encoding="utf-8")):
                if block["file"]:
                    Path(block["file"]).parent.mkdir(parents=True, exist_ok=True)
                    Path(block["file"]).write_text(block["body"], encoding="utf-8")
                    page.written.append(block["file"])
                elif block["kind"] == "sh":
                    commands = [
                        w for line in block["body"].splitlines() if (w := shlex.split(line, comments=True))
                    ]
                    for words in commands:
                        out = io.StringIO()
                        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(out):
                            code = main(words[1:])
                        wanted = int(block["code"] or 0) if words is commands[-1] else 0
                        page.ran.append((shlex.join(words), code, wanted, out.getvalue()))
    return found


@pytest.mark.parametrize("path", GUIDE, ids=lambda p: p.name)
def test_every_command_of_the_guide_does_what_the_page_says(guide, path):
    text = path.read_text(encoding="utf-8")
    page = guide[path.name]
    assert text.count("```sh\n") == sum(b["kind"] == "sh" for b in BLOCK.finditer(text))
    for words, code, wanted, said in page.ran:
        assert words.startswith("straighten "), words
        assert code == wanted, f"{words}: {said[-600:]}"


def test_the_guide_tells_of_every_command():
    from tests.reference.commands import commands

    text = "".join(p.read_text(encoding="utf-8") for p in GUIDE)
    assert [name for name, _ in commands() if f"straighten {name}" not in text] == []


def quoted(path):
    return [b for b in BLOCK.finditer(path.read_text(encoding="utf-8")) if b["kind"] == "text"]


@pytest.mark.parametrize("path", [p for p in GUIDE if quoted(p)], ids=lambda p: p.name)
def test_what_a_page_quotes_is_what_the_program_says(guide, path):
    said = " ".join(" ".join(out for *_, out in page.ran) for page in guide.values()).split()
    joined = " ".join(said)
    for block in quoted(path):
        for line in block["body"].splitlines():
            words = " ".join(line.split())
            assert words in joined, f"no command says: {words}"


# ---- reference


@pytest.fixture(scope="module")
def fresh():
    from tests.reference.pages import pages

    return pages()


def test_the_reference_is_what_the_program_says_today(fresh):
    folder = DOCS / "reference"
    committed = {
        p.relative_to(folder).as_posix(): p.read_text(encoding="utf-8")
        for p in folder.rglob("*")
        if p.suffix in (".md", ".json")
    }
    stale = [name for name in fresh.keys() | committed.keys() if fresh.get(name) != committed.get(name)]
    assert not stale, f"run python -m tests.reference: {sorted(stale)}"


COMMAND = re.compile(r"^## (?P<name>[\w ]+)\n(?P<body>.*?)(?=^## |\Z)", re.M | re.S)
SECTIONS = COMMAND.findall((DOCS / "reference" / "commands.md").read_text(encoding="utf-8"))


@pytest.mark.parametrize(("name", "body"), SECTIONS, ids=[name for name, _ in SECTIONS])
def test_a_command_takes_the_options_that_the_reference_names_and_no_others(capsys, name, body):
    assert main([*name.split(), "--help"]) == 0
    printed = set(re.findall(r"^ +(?:-\w, )?(--[\w-]+)", capsys.readouterr().out, re.M)) - {"--help"}
    rows = re.findall(r"^\| (`--.*?) \||^Also (.*)\.$", body, re.M)
    told = {word for row in rows for word in re.findall(r"--[\w-]+", "".join(row))}
    assert told == printed


def test_nothing_is_needed_and_may_be_left_out_at_once(capsys):
    for name, _ in SECTIONS:
        main([*name.split(), "--help"])
        for line in re.sub(r"\n {10,}", " ", capsys.readouterr().out).splitlines():
            assert not ("left out" in line and "[required]" in line), f"{name}: {line}"


def test_no_meaning_is_left_over_from_a_key_that_is_gone():
    from tests.reference.files import keys_of, models

    words = tomllib.loads((ROOT / "tests" / "reference" / "meanings.toml").read_text(encoding="utf-8"))
    for _, slug, model in models():
        assert set(words[slug]["keys"]) == set(keys_of(model)), slug


@pytest.mark.parametrize("name", ["setup.toml", "soak.toml"])
def test_the_set_up_examples_can_be_tried(capsys, name):
    import json

    assert main(["try", str(DOCS / "reference" / "examples" / name), "--json"]) == 0
    (found,) = json.loads(capsys.readouterr().out)["rounds"]
    assert found["change_of_bow_mm"]["deck edges"] < -0.02


def test_spots_of_one_table_burn_together_and_tables_follow_one_another():
    from straighten.desk.setup_file import setup_file, setup_of
    from straighten.head import read_head

    folder = DOCS / "reference" / "examples"
    data = tomllib.loads((folder / "setup.toml").read_text(encoding="utf-8"))
    spots = setup_of(
        setup_file(data, where="setup", system="mm"), read_head(folder / "head.toml"), "setup"
    ).spots
    assert [s.start for s in spots[:4]] == [0.0] * 4
    assert [s.start for s in spots[4:]] == [604.0, 1208.0, 1812.0, 2416.0]
    assert [(s.station, s.side) for s in spots[4:]] == [
        (0.1, "exhaust"), (0.1, "inlet"), (0.3, "exhaust"), (0.3, "inlet"),
    ]  # fmt: skip


# ---- pages


@pytest.mark.parametrize(
    "path", [*PAGES, ROOT / "README.md", ROOT / "DEVELOPERS.md"], ids=lambda p: str(p.relative_to(ROOT))
)
def test_every_link_inside_leads_somewhere(path):
    text = path.read_text(encoding="utf-8")
    for target in LINK.findall(text):
        if target.startswith(("http:", "https:", "mailto:")):
            continue
        file, _, anchor = target.partition("#")
        there = (path.parent / file).resolve() if file else path
        assert there.exists(), target
        if anchor and there.suffix == ".md":
            assert anchor in anchors(there), target


def anchors(path):
    heads = re.findall(r"^#+ (.+)$", path.read_text(encoding="utf-8"), re.M)
    return {re.sub(r"[^\w\- ]", "", h.lower()).strip().replace(" ", "-") for h in heads}


@pytest.mark.parametrize("path", PAGES, ids=lambda p: str(p.relative_to(DOCS)))
def test_every_page_can_be_reached_from_the_first(path):
    seen, todo = set(), [DOCS / "README.md"]
    while todo:
        page = todo.pop()
        if page in seen:
            continue
        seen.add(page)
        for target in LINK.findall(page.read_text(encoding="utf-8")):
            file = (page.parent / target.partition("#")[0]).resolve()
            if file.suffix == ".md" and file.exists() and DOCS in file.parents:
                todo.append(file)
    assert path in seen


CODE = re.compile(r"`((?:straighten|tests)/[\w/]+\.(?:py|toml))(?:::(\w+))?`")


@pytest.mark.parametrize("path", PAGES, ids=lambda p: str(p.relative_to(DOCS)))
def test_every_module_and_function_named_is_there(path):
    for name, function in CODE.findall(path.read_text(encoding="utf-8")):
        there = ROOT / name
        assert there.exists(), name
        if function:
            assert re.search(
                rf"\b(def|class) {function}\b|^{function}\b", there.read_text(encoding="utf-8"), re.M
            ), function


THEORY = sorted(p for p in (DOCS / "theory").glob("*.md") if p.name not in ("README.md", "conventions.md"))


@pytest.mark.parametrize("path", THEORY, ids=lambda p: p.name)
def test_a_theory_page_has_all_its_parts_and_numbers_its_equations(path):
    text = path.read_text(encoding="utf-8")
    for part in ("## Assumptions", "## Derivation", "## Limits", "## Sources", "## Proof"):
        assert part in text, part
    numbers = [int(n) for n in re.findall(r"\\tag\{\w(\d+)\}", text)]
    assert numbers == list(range(1, len(numbers) + 1))
    assert numbers


def test_numbers_that_a_page_takes_from_the_program_are_those_of_today():
    import math

    from straighten.belief.learn import DRAWS, FIT_POINTS, FIT_SPREAD
    from straighten.belief.posterior import WIDEN
    from straighten.clamp.section import BENDING_SPREAD, SHEAR_SPREAD, TORSION_SPREAD
    from straighten.desk.pass_card import SIMULATED
    from straighten.plan.loss import MOST_OVERSHOOT
    from straighten.plan.search import TRIED_DRAWS
    from straighten.plan.stages import STAGE_DRAWS
    from straighten.plan.surface import GOOD_ENOUGH
    from straighten.plan.weighing import FIRST_PASS_OVER_BEND, FIRST_PASS_SHARE

    bending, shear, twist = (
        f"{100 * math.expm1(s.value):.0f} %" for s in (BENDING_SPREAD, SHEAR_SPREAD, TORSION_SPREAD)
    )
    told = {
        "limits.md": [f"{bending} in bending, {shear} in shear and {twist} in twist"],
        "decisions.md": [
            f"passes {1e6 * GOOD_ENOUGH:.0f} um", f"{FIT_POINTS} points", f"by {100 * (FIT_SPREAD - 1):.0f} %",
        ],
        "theory/plan.md": [
            f"{FIT_POINTS} points", f"passes {1e6 * GOOD_ENOUGH:.0f} um", f"at most {100 * MOST_OVERSHOOT.value:g} %",
            f"on {TRIED_DRAWS} draws", f"on {STAGE_DRAWS} draws",
        ],
        "theory/clamp.md": [f"on {SIMULATED} draws"],
        "theory/belief.md": [f"widened by {100 * (WIDEN - 1):.0f} %"],
        "theory/conventions.md": [f"a pass of {DRAWS} draws"],
    }  # fmt: skip
    assert (FIRST_PASS_OVER_BEND.value, FIRST_PASS_SHARE.value) == (
        0.25,
        0.9,
    )  # "a quarter", "nine tenths" of plan.md
    for page, sayings in told.items():
        text = " ".join((DOCS / page).read_text(encoding="utf-8").split())
        assert [s for s in sayings if s not in text] == [], page


def test_every_figure_from_outside_on_the_limits_page_names_where_it_was_measured():
    assert (DOCS / "limits.md").stat().st_size > 2000
    text = (DOCS / "limits.md").read_text(encoding="utf-8")
    assert text.count("`python -m tests.benchmarks") + text.count("tests/against_elements") >= 3
