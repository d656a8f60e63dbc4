"""What a command loads before it works: told by modules, not by the clock."""

import json
import subprocess
import sys

import pytest

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
    import os

    env = os.environ | {
        "_STRAIGHTEN_COMPLETE": "complete_bash",
        "COMP_WORDS": "straighten pl",
        "COMP_CWORD": "1",
    }
    _, tops, _ = loaded(env=env)
    assert not tops & HEAVY


def test_a_plan_draws_and_derives_nothing():
    code, tops, modules = loaded("plan")
    assert code == 0
    assert not tops & {"matplotlib", "sympy"}
    assert "scipy.stats" not in modules
