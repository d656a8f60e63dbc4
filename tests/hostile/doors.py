"""The doors that a command's files and answers go through, and a bench with a book to see what a refused one leaves."""

from __future__ import annotations

import contextlib
import io
import os
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from random import Random

from straighten.book import open_book
from straighten.cli import main
from straighten.desk.dossier import Dossier, bench_head, default_dossier
from straighten.errors import StraightenError
from tests.hostile.spoilt import EXAMPLES, NAMES, SAWMILL, words

ENDINGS = {"csv": ".csv", "export": ".json"}


@dataclass(frozen=True, slots=True)
class Fault:
    """What should not have happened: `what` ("traceback", "recorded", "absurd", "hang", "disagreement"), where, and the bytes that did it."""

    what: str
    kind: str
    told: str
    raw: bytes


class Doors:
    """The functions of the program that read each kind of file, on a head that it knows."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.dossier: Dossier = default_dossier()
        self.head = self.dossier.head
        self.doors: dict[str, Callable[[Path], object]] = {
            "head": self._head,
            "survey": self._survey,
            "csv": self._survey,
            "setup": self._setup,
            "tightening": self._tightening,
            "sand-log": self._sand_log,
            "surface": self._surface,
            "finish": self._finish,
            "export": self._export,
            "config": self._config,
        }

    def through(self, kind: str, raw: bytes) -> Fault | None:
        """Put a file through its door; None where it was understood or refused in one sentence."""
        path = self.folder / f"f{ENDINGS.get(kind, '.toml')}"
        path.write_bytes(raw)
        try:
            self.doors[kind](path)
        except StraightenError as fault:
            return _untidy(fault, kind, raw)
        except Exception as fault:
            return Fault("traceback", kind, f"{type(fault).__name__}: {fault}"[:300], raw)
        return None

    def _head(self, path: Path) -> object:
        from straighten.filecheck import load_text

        return bench_head(load_text(path), str(path))

    def _survey(self, path: Path) -> object:
        from straighten.readings import read_survey

        return read_survey(path, self.head)

    def _setup(self, path: Path) -> object:
        from straighten.desk.setup_file import bows_before, setup_file, setup_of
        from straighten.filecheck import load_text, parse_toml, system_of
        from straighten.plan.records import setup_from_plain, setup_to_plain

        data = parse_toml(load_text(path), str(path))
        file = setup_file(data, where=str(path), system=system_of(data, str(path)))
        setup = setup_of(file, self.head, str(path))
        assert setup_from_plain(setup_to_plain(setup)) is not None
        return bows_before(file, str(path))

    def _tightening(self, path: Path) -> object:
        from straighten.desk.logging import read_log

        return read_log(path, self.dossier)

    def _sand_log(self, path: Path) -> object:
        from straighten.desk.sanding_files import run_from_file

        return run_from_file(path, self.head, self.dossier.survey)

    def _surface(self, path: Path) -> object:
        from straighten.desk.sanding_files import surface_from_text
        from straighten.filecheck import load_text

        return surface_from_text(load_text(path), self.head, str(path))

    def _finish(self, path: Path) -> object:
        from straighten.desk.finishing import answers_of

        return answers_of(path)

    def _export(self, path: Path) -> object:
        from straighten.cli.exchange import _text_of, parsed

        return parsed(_text_of(path), str(path))

    def _config(self, path: Path) -> object:
        from straighten.cli.options import book_path

        place = self.folder / "straighten"
        place.mkdir(exist_ok=True)
        path.replace(place / "config.toml")
        return book_path(None)

    def typed(self, rng: Random, count: int) -> Fault | None:
        """Type so many answers into the survey's questions, then end the survey."""
        from straighten.readings.dialogue import Dialogue, answer, finish, question

        walk, said = Dialogue(head=self.head), []
        try:
            for _ in range(count):
                if question(walk) is None:
                    break
                said.append(words(rng))
                walk, _ = answer(walk, said[-1])
            finish(walk)
        except StraightenError:
            return None
        except Exception as fault:
            return Fault("traceback", "prompt", f"{type(fault).__name__}: {fault}"[:300], repr(said).encode())
        return None

    def seated(self, rng: Random, count: int) -> Fault | None:
        """Type so many answers into the guided session, each replayed from where the book would have it."""
        from straighten.desk.bench import session
        from straighten.desk.bench_words import Answer, Ask, Facts

        said: list[str] = []
        measured = rng.random() < 0.3
        script = session(Facts(measured=measured), self.dossier, "mm")
        try:
            asked: Ask = next(script)
            for _ in range(count):
                said.append(words(rng))
                told = Answer(key=asked.key, typed=said[-1], at="2026-03-01T09:00:00+00:00", system="mm")
                asked = script.send(told)
        except (StopIteration, StraightenError):
            return None
        except Exception as fault:
            return Fault("traceback", "bench", f"{type(fault).__name__}: {fault}"[:300], repr(said).encode())
        return None


def _untidy(fault: StraightenError, kind: str, raw: bytes) -> Fault | None:
    """Return a fault where the message is no sentence, or as long as the file."""
    text = str(fault)
    if 10 < len(text) < 900 and fault.problem.strip():
        return None
    return Fault("traceback", kind, f"message of {len(text)} characters: {text[:200]}", raw)


class Bench:
    """A folder with a head measured and planned, and its book; each command runs on a fresh copy of that book."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.book = folder / "shop.book"
        shutil.copytree(EXAMPLES / "irrigation-pump-four", folder / "pump", dirs_exist_ok=True)
        shutil.copytree(SAWMILL, folder / "saw", dirs_exist_ok=True)
        for line in (
            ("measure", "pump", "survey-1.toml"),
            ("plan", "pump"),
            ("measure", "saw", "survey-1.toml"),
        ):
            code, told = self.run(*line)
            assert code == 0, told
        shutil.copy(self.book, folder / "kept.book")

    def run(self, *line: str) -> tuple[int, str]:
        """Run a command as typed and return its exit code and what stderr says."""
        out, err = io.StringIO(), io.StringIO()
        with contextlib.chdir(self.folder), contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            own = line[0] in ("try", "new") or "--book" in line
            code = main(list(line) if own else [*line, "--book", str(self.book)])
        return code, err.getvalue()

    def commands(self, kind: str, path: str) -> list[tuple[str, ...]]:
        """Return the commands that read a file of a kind."""
        return {
            "head": [
                ("measure", path, "pump/survey-1.toml"),
                ("plan", path, "--survey", "pump/survey-1.toml"),
            ],
            "survey": [("measure", "pump", path), ("log", "pump", path)],
            "csv": [("measure", "pump", path)],
            "setup": [("log", "pump", "pump/survey-2.toml", "--done", path), ("try", path)],
            "tightening": [("tighten", "pump", path)],
            "sand-log": [("sand", "saw", "--log", path)],
            "surface": [("sand", "saw", "--surface", path)],
            "finish": [
                ("finish", "saw", "--answers", path, "--close", "--because", "it is wanted back today")
            ],
            "export": [("import", path)],
        }[kind]

    def whole(self, kind: str, raw: bytes, rng: Random) -> Fault | None:
        """Put a file through a whole command and look at the book afterwards."""
        path = self.folder / f"spoilt{ENDINGS.get(kind, '.toml')}"
        path.write_bytes(raw)
        return self.judged(rng.choice(self.commands(kind, path.name)), kind, raw)

    def named(self, rng: Random) -> Fault | None:
        """Give a command a name that no head has."""
        name = rng.choice(NAMES)
        line = rng.choice(
            (("check", name), ("plan", name), ("measure", name, "x.toml"), ("export", name), ("new", name))
        )
        return self.judged(line, "name", repr(line).encode())

    def judged(self, line: tuple[str, ...], kind: str, raw: bytes) -> Fault | None:
        """Run a command; a code of the program's own failure, or a refused one that left something, is a fault."""
        before = self.state
        code, told = self.run(*line)
        after = self._look()
        if after != before:
            shutil.copy(self.folder / "kept.book", self.book)
        if "TimeoutError" in told:
            return Fault("hang", f"{kind}: {' '.join(line)[:80]}", told[:400], raw)
        if (
            code == 1
            or "fault of the program" in told
            or "Traceback" in told
            or "outside what can be" in told
        ):
            return Fault("traceback", f"{kind}: {' '.join(line)[:80]}", told[:400], raw)
        if code != 0 and after != before:
            return Fault("recorded", f"{kind}: {' '.join(line)[:80]}", told[:400], raw)
        return None

    @cached_property
    def state(self) -> list[tuple[str, int, str]]:
        return self._look()

    def _look(self) -> list[tuple[str, int, str]]:
        with open_book(self.book) as book:
            return [(h.name, h.last, h.last_at) for h in book.heads()]


@contextlib.contextmanager
def settled(folder: Path) -> Iterator[None]:
    """Run with no settings of one's own: config and data lie in a folder."""
    kept = {key: os.environ.get(key) for key in ("XDG_CONFIG_HOME", "XDG_DATA_HOME", "STRAIGHTEN_BOOK")}
    os.environ.pop("STRAIGHTEN_BOOK", None)
    os.environ |= {"XDG_CONFIG_HOME": str(folder), "XDG_DATA_HOME": str(folder)}
    try:
        yield
    finally:
        for key, value in kept.items():
            if value is None:
                os.environ.pop(key, None)
            else:
                os.environ[key] = value
