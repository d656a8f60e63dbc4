"""One job through the shipped commands: measure, plan, heat, log, plan, until they say stop.

Only the files written here go in and only the JSON answers come out. The rules of the game: go on while the commands
say so, stop when they say stop. `plan` gives a card or refuses, by the same judgement that `decide` tells, so `decide` is
not asked besides. A request to measure again is met, twice at most. The book is empty: every head is the shop's first.
"""

from __future__ import annotations

import contextlib
import io
import json
import tempfile
import time
from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from straighten.cli import main
from tests.workshop import card as cards
from tests.workshop import files
from tests.workshop.bench import Clamping, Outcome, carried_out
from tests.workshop.card import Card, Range
from tests.workshop.castings import Truth
from tests.workshop.clamping import grip
from tests.workshop.ended import Job, cam_out, cause_of, cut, deck_out, straight
from tests.workshop.reading import read, read_gap, read_slack

World = Callable[..., Outcome]
MOST_PASSES, MOST_READINGS, LUCKS = 8, 2, 24
GAP_SEEN = 0.03  # mm: less than that under the middle is as good as closed


@dataclass
class Desk:
    """The commands with one head's folder and book."""

    folder: Path
    seconds: dict[str, list[float]] = field(default_factory=lambda: defaultdict(list))

    def ask(self, command: str, *words: str) -> dict[str, Any]:
        """Return the JSON answer of a command, or its JSON error."""
        out, err = io.StringIO(), io.StringIO()
        begun = time.perf_counter()
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            code = main(
                [command, str(self.folder), *words, "--book", str(self.folder / "shop.book"), "--json"]
            )
        self.seconds[command].append(round(time.perf_counter() - begun, 3))
        if code == 0:
            found: dict[str, Any] = json.loads(out.getvalue())
            return found
        for line in err.getvalue().splitlines():
            if line.startswith("{"):
                return {**json.loads(line), "code": code}
        return {"error": "fault", "problem": err.getvalue()[-300:], "code": code}

    def write(self, name: str, text: str) -> str:
        path = self.folder / name
        path.write_text(text, encoding="utf-8")
        return str(path)


@dataclass
class Work:
    """A job under way; `world` says what a clamping does."""

    desk: Desk
    truth: Truth
    world: World = carried_out
    held: dict[str, list[list[bool]]] = field(default_factory=lambda: defaultdict(list))
    last: Card | None = None
    foretold: dict[str, Any] = field(default_factory=dict)

    def check(self, stage: str, told: tuple[Range, Range] | None) -> None:
        """Keep whether the ranges of deck and cam line hold the truth."""
        if told is not None:
            true = (self.truth.deck_bow, self.truth.cam_bow)
            self.held[stage].append(
                [low <= value <= high for (low, high), value in zip(told, true, strict=True)]
            )

    def hold(self, stage: str, told: Range, true: float) -> None:
        """Keep whether one range holds the truth."""
        self.held[stage].append([told[0] - 1e-9 <= true <= told[1] + 1e-9])

    def rounds(self, found: Card) -> None:
        """Hold the gaps foretold after every round, those that are not closed surely, against the clamp."""
        for torque, gap in found.rounds:
            if gap[1] > 0:
                closed = grip(
                    self.truth, found.deed.shims, found.deed.pulls, {"gap": 0.0, "torque": torque}
                ).gap
                self.hold("tighten", gap, max(closed - self.truth.hand["gap"], 0.0))

    def survey(self, again: int = 0) -> str:
        return self.desk.write(
            f"survey-{self.truth.passes + 1}{f'-again-{again}' if again else ''}.toml",
            files.survey_file(self.truth, read(self.truth, again), sure=again > 0),
        )


def by_program(truth: Truth, world: World = carried_out) -> Job:
    """Return how a head's job ends through the commands, in a world that says what a clamping does."""
    with tempfile.TemporaryDirectory() as folder:
        work = Work(desk=Desk(Path(folder)), truth=truth, world=world)
        work.desk.write("head.toml", files.head_file(truth.casting))
        ended, words = work_through(work)
        chance = None if straight(work.truth) or ended == "most passes" else _own_pass(work)
    end = work.truth
    return Job(
        number=truth.number, by="program", bow=truth.start_cam, heats=end.passes, straight=straight(end), past=end.past, metal=cut(end),
        cam_out=cam_out(end), deck_out=deck_out(end), cam_bow=end.cam_bow, ended=ended, words=words, chance=chance,
        cause="" if straight(end) else cause_of(end, ended, words, chance), held=dict(work.held), foretold=work.foretold, seconds=dict(work.desk.seconds),
    )  # fmt: skip


def work_through(work: Work) -> tuple[str, str]:
    """Work until the commands say stop; return their last word and its reason."""
    said = work.desk.ask("measure", work.survey())
    for again in range(1, MOST_READINGS + 1):
        if cards.verdict(said) != "measure again":
            break
        said = work.desk.ask("measure", work.survey(again))
    if (told := cards.twist(said)) is not None:
        work.hold("twist", told, work.truth.twist)
    if cards.verdict(said) != "straighten":
        return cards.verdict(said), cards.reason(said)
    work.foretold = cards.whole_job(said)
    while work.truth.passes < MOST_PASSES:
        for again in range(1, MOST_READINGS + 2):
            planned = work.desk.ask("plan")
            found = cards.planned(planned, work.truth.casting)
            if found or cards.verdict(planned) != "measure again" or again > MOST_READINGS:
                break
            work.desk.ask("measure", work.survey(again))
        if found is None:
            return cards.verdict(planned), cards.reason(planned)
        _heat(work, found)
        if fault := _log(work, found):
            return fault
    return "most passes", ""


def _heat(work: Work, found: Card) -> None:
    """Do what the card says, in stages where it has a ladder; hold its ranges against what comes of it."""
    work.last = found
    work.check("now", found.now)
    work.rounds(found)
    if found.stages and work.world is carried_out:
        _in_stages(work, found)
        return
    done = work.world(work.truth, found.deed)
    _tell(work, found, done)
    work.truth = done.truth
    work.check(f"pass{work.truth.passes}", found.after)


def _in_stages(work: Work, found: Card) -> None:
    """Heat stage by stage, read the gap on slack nuts after each, and do what `stage` then says; release it."""
    clamping, rng = (
        Clamping(work.truth, found.deed),
        np.random.default_rng([work.truth.number, 4, work.truth.passes]),
    )
    number = 1
    while 0 < number <= len(found.stages):
        clamping.heat(tuple((heat,) for heat in found.stages[number - 1]))
        said = work.desk.ask("stage", *_slack(clamping, rng))
        if cards.next_stage(said) < 0:
            said = work.desk.ask("stage", "--again", *_slack(clamping, rng))
        work.truth = clamping.truth
        work.check("stage", cards.staged_now(said))
        wanted = cards.next_stage(said)
        for _ in range(number + 1, wanted):
            work.desk.ask("stage", "--skip")
        number = wanted
    work.truth = clamping.released()
    work.check(f"pass{work.truth.passes}", found.after)


def _slack(clamping: Clamping, rng: np.random.Generator) -> list[str]:
    exhaust, inlet = (read_slack(clamping.truth, gap, rng) for gap in clamping.slack())
    return ["--exhaust", exhaust, "--inlet", inlet]


def _tell(work: Work, found: Card, done: Outcome) -> None:
    """Write down what was done where it was not as on the card: the gap did not close."""
    gap = read_gap(work.truth, done.gap) if done.gap > GAP_SEEN else 0.0
    if gap > found.deed.gap:
        work.desk.write(f"done-{work.truth.passes + 1}.toml", files.done_file(found.deed, gap))


def _log(work: Work, found: Card) -> tuple[str, str] | None:
    """Log the pass with the readings after it; return how the job ends where that fails."""
    done = work.desk.folder / f"done-{work.truth.passes}.toml"
    words = ["--done", str(done)] if done.exists() else []
    said: dict[str, Any] = {}
    for again in range(MOST_READINGS + 1):
        said = work.desk.ask("log", work.survey(again), *words)
        if "error" not in said:
            work.check("now", cards.logged_now(said))
            return None
    return "fault" if said["error"] == "fault" else cards.verdict(said), cards.reason(said)


def _own_pass(work: Work) -> float:
    """Chance that a pass of the program's own making brings a head straight that it left.

    The pass is the card of `plan` with a reason to go past advice, else the last card again on the same places.
    """
    said = work.desk.ask("plan", "--because", "the owner wants it heated once more")
    found = cards.planned(said, work.truth.casting) or work.last
    if found is None:
        return 0.0
    return sum(straight(work.world(work.truth, found.deed, luck).truth) for luck in range(LUCKS)) / LUCKS
