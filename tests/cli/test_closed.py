"""A head that the final list has closed: every command says so, and a new survey opens it again."""

import json
import shutil
from pathlib import Path

import pytest

from straighten.cli import main

EXAMPLE = Path(__file__).parents[2] / "worked_examples" / "sand-only-sawmill-four"


def asked(capsys, *words):
    code = main(list(words))
    out = capsys.readouterr()
    return code, out.out if "--json" in words else out.out + out.err


@pytest.fixture
def closed_head(tmp_path, monkeypatch, capsys):
    folder = tmp_path / EXAMPLE.name
    shutil.copytree(EXAMPLE, folder)
    monkeypatch.chdir(folder)
    monkeypatch.setenv("STRAIGHTEN_BOOK", str(tmp_path / "book.db"))
    for words in (
        ("measure", ".", "survey-1.toml"),
        ("sand", ".", "--surface", "surface.toml", "--log", "sand-1.toml"),
        ("sand", ".", "--log", "sand-2.toml"),
        ("measure", ".", "survey-2.toml"),
        ("finish", ".", "--answers", "final.toml", "--close"),
    ):
        assert asked(capsys, *words)[0] == 0
    return folder


# nothing is left to do behind the final list (common practice, no source)
def test_every_command_says_that_the_head_is_closed_until_it_is_measured_again(closed_head, capsys):
    for command in ("check", "plan", "decide", "sand", "finish"):
        said = " ".join(asked(capsys, command, ".")[1].split())
        assert "final list, closed this head: nothing is left to do" in said, command
        assert "straighten sheet sand-only-sawmill-four --report" in said, command
    judged = json.loads(asked(capsys, "check", ".", "--json")[1])
    assert judged["verdict"] == "inside limits"
    assert asked(capsys, "measure", ".", "survey-2.toml")[0] == 0
    said = " ".join(asked(capsys, "check", ".")[1].split())
    assert "closed this head" not in said
    assert "straighten finish sand-only-sawmill-four" in said
