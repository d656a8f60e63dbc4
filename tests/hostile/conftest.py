"""A bench in a folder of its own: a head measured once, its book, and commands run as processes or in this one."""

import os
import shutil
import subprocess
import sys

import pytest

from straighten.book import open_book
from straighten.cli import main
from tests.hostile.spoilt import EXAMPLES

NAME = "irrigation-pump-four"


class Shop:
    def __init__(self, folder, capsys):
        self.folder, self.book, self._capsys = folder, folder / "shop.book", capsys

    def run(self, *words):
        """Run a command in this process; return its exit code and what stderr says."""
        self._capsys.readouterr()
        code = main([str(word) for word in words])
        seen = self._capsys.readouterr()
        self.out = seen.out
        return code, seen.err

    def refused(self, *words, code=3):
        """Run a command that must be refused with one line, no trace and nothing in the book; return the line."""
        before = self.entries()
        found, told = self.run(*words)
        assert found == code, told
        assert "Traceback" not in told
        assert told.count("\n") == 1, told
        assert len(told) < 700
        assert self.entries() == before
        return told

    def entries(self):
        if not self.book.exists():
            return []
        with open_book(self.book) as book:
            return [
                (e.number, e.kind, e.at)
                for line in book.heads()
                for e in book.entries(line.name, struck=True)
            ]

    def process(self, *words, **more):
        """Run a command as a process of its own."""
        env = os.environ | more.pop("env", {})
        command = [sys.executable, "-m", "straighten", *map(str, words)]
        return subprocess.run(
            command,
            cwd=self.folder,
            env=env,
            stdin=subprocess.DEVNULL,
            text=True,
            check=False,
            timeout=120,
            **more,
        )


@pytest.fixture
def shop(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("STRAIGHTEN_BOOK", str(tmp_path / "shop.book"))
    shutil.copytree(EXAMPLES / NAME, tmp_path / "pump")
    return Shop(tmp_path, capsys)


@pytest.fixture
def measured(shop):
    code, told = shop.run("measure", "pump", "survey-1.toml")
    assert code == 0, told
    return shop
