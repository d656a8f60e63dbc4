"""What a command loads before it works: told by modules, not by the clock."""

import gc
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from straighten.cli import main

EXAMPLE = Path(__file__).parents[2] / "worked_examples" / "irrigation-pump-four"
NAME = EXAMPLE.name
HEAVY = {"numpy", "scipy", "sympy", "matplotlib"}
PROBE = """
import json, sys
from straighten.cli import main
code = main(sys.argv[1:])
sys.stderr.write("\\n@" + json.dumps([code, sorted({name.partition(".")[0] for name in sys.modules}), sorted(sys.modules)]))
"""


def loaded(*words, env=None):
    done = subprocess.run(
        [sys.executable, "-c", PROBE, *words],
        capture_output=True,
        text=True,
        check=True,
        env=env,
        stdin=subprocess.DEVNULL,
    )
    code, tops, modules = json.loads(done.stderr.rsplit("@", 1)[1])
    return code, set(tops), set(modules)


def test_the_version_needs_no_command_line_library():
    code, tops, _ = loaded("--version")
    assert code == 0
    assert not tops & (HEAVY | {"typer", "pydantic", "sqlite3"})


@pytest.mark.parametrize("words", [("--help",), ("plan", "--help"), ("where",)], ids=" ".join)
def test_help_and_where_compute_nothing(words):
    code, tops, _ = loaded(*words)
    assert code == 0
    assert not tops & HEAVY


def test_completion_loads_nothing_heavy():
    env = os.environ | {
        "_STRAIGHTEN_COMPLETE": "complete_bash",
        "COMP_WORDS": "straighten pl",
        "COMP_CWORD": "1",
    }
    _, tops, _ = loaded(env=env)
    assert not tops & HEAVY


@pytest.fixture(scope="module")
def measured(tmp_path_factory):
    """The environment with a book in which one head is measured and planned."""
    folder = tmp_path_factory.mktemp("shop")
    book = str(folder / "shop.book")
    for words in (["measure", str(EXAMPLE), "survey-1.toml"], ["plan", str(EXAMPLE)]):
        assert main([*words, "--book", book]) == 0
    return os.environ | {"STRAIGHTEN_BOOK": book}


@pytest.mark.parametrize(
    "words",
    [("heads",), ("history",), ("export", NAME), ("book", "check"), ("strike", "3", "--reason", "a trial")],
    ids=" ".join,
)
def test_what_only_reads_the_book_or_writes_into_it_loads_nothing_heavy(measured, words):
    code, tops, _ = loaded(*words, env=measured)
    assert code == 0
    assert not tops & HEAVY


def test_a_log_draws_and_derives_nothing_and_solves_no_programme(measured):
    """A pass is weighed against the belief as it is recorded, so numpy and the special functions are needed."""
    code, tops, modules = loaded(
        "log", str(EXAMPLE), "survey-2.toml", "--done", str(EXAMPLE / "pass-1.toml"), env=measured
    )
    assert code == 0
    assert not tops & {"matplotlib", "sympy"}
    assert not modules & {"scipy.stats", "scipy.optimize"}


def test_a_history_with_passes_needs_numpy_alone(measured):
    code, tops, _ = loaded("history", env=measured)
    assert code == 0
    assert not tops & {"scipy", "matplotlib", "sympy"}


def test_a_plan_draws_and_derives_nothing_and_solves_no_programme():
    code, tops, modules = loaded("plan")
    assert code == 0
    assert not tops & {"matplotlib", "sympy"}
    assert not modules & {"scipy.stats", "scipy.optimize"}


def test_only_a_process_of_its_own_goes_without_looking_for_cycles(capsys):
    """Called by another program, `main` leaves that program's garbage collection as it was."""
    assert gc.isenabled()
    assert main(["where"]) == 0
    assert capsys.readouterr().out
    assert gc.isenabled()
    alone = "import gc, sys; from straighten.cli import main; sys.argv[1:] = ['where']; main(); print(gc.isenabled())"
    told = subprocess.run([sys.executable, "-c", alone], capture_output=True, text=True, check=True).stdout
    assert told.splitlines()[-1] == "False"
