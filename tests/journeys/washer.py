"""The worked example of the gravel washer: a hidden head of the workshop, 0.45 mm out, brought inside both limits.

Run as ``python -m tests.journeys.washer``: does the whole job anew through the commands and rewrites the example's files
and expected.json. Look at the change before you commit it.

The head is that of a number of `tests.workshop`, its bow scaled; nothing of what is hidden reaches the commands. The heats
are done as the cards say, by the workshop's operator; the deck is then taken down to its limit, as `sand` plans it.
"""

from __future__ import annotations

import json
import shutil
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np

from tests.journeys.pump import rounded
from tests.workshop import files
from tests.workshop.card import verdict
from tests.workshop.castings import XI, Truth, draw
from tests.workshop.ended import cam_out, deck_out, off_plane
from tests.workshop.reading import read
from tests.workshop.shop import MOST_READINGS, Desk, Work, work_through

NAME = "gravel-washer-four"
FOLDER = Path(__file__).parents[2] / "worked_examples" / NAME
NUMBER, BOW = 9, 0.45  # of the workshop's head; of its cam line [mm]
FLAT = 0.7  # of the limit: so far the deck is sanded
KEPT = {
    "measure": ("verdict",),
    "plan": ("verdict", "pass_number", "deck_after_mm", "cam_after_mm"),
    "stage": ("do",),
    "log": ("pass_number", "measured"),
    "sand": ("depth_mm", "removal_allowed_mm"),
    "decide": ("choice",),
}


@dataclass
class Recorder(Desk):
    """The commands of the example: every one kept as it is typed, with what of its answer is compared."""

    steps: list[dict[str, Any]] = field(default_factory=list)

    def ask(self, command: str, *words: str) -> dict[str, Any]:
        said = super().ask(command, *words)
        assert "error" not in said, said
        typed = [Path(word).name if word.startswith(str(self.folder)) else word for word in words]
        told = {key: rounded(said[key], 3) for key in KEPT[command] if key in said}
        self.steps.append({"command": " ".join(["straighten", command, NAME, *typed]), "says": told})
        return said


def hidden() -> Truth:
    """Return the head as it came in."""
    found = draw(NUMBER)
    scale = BOW / found.cam_bow
    bent = replace(
        found, deck=scale * found.deck, cam=scale * found.cam, casting=replace(found.casting, name=NAME)
    )
    return replace(bent, start_cam=bent.cam_bow)


def sanded(truth: Truth) -> tuple[Truth, float]:
    """Return the head with its high places taken down until the deck is well inside its limit, and how much came off [mm]."""
    off = off_plane(truth.deck, XI)
    # the places that stand lowest carry the head and go; the paper leaves the metal as uneven as it was
    for depth in np.arange(0.0, truth.casting.removal_left, 0.001):
        done = replace(truth, deck=truth.deck + np.maximum(off.min() + depth - off, 0.0))
        if deck_out(done) <= FLAT * truth.casting.limits[0]:
            return done, float(depth)
    raise AssertionError("the deck cannot be sanded inside its limit")


def remade(folder: Path) -> dict[str, Any]:
    """Do the whole job in an empty folder; return the steps and what became of the hidden head."""
    desk = Recorder(folder)
    desk.write("head.toml", HEADING + files.head_file(hidden().casting))
    work = Work(desk=desk, truth=hidden())
    work_through(work)
    heated = work.truth
    desk.ask("decide")
    desk.ask("sand")
    end, off = sanded(heated)
    for again in range(MOST_READINGS + 1):
        name = f"survey-{end.passes + 2}{f'-again-{again}' if again else ''}.toml"
        text = files.survey_file(end, read(end, again), sure=again > 0)
        cut = text.replace('skimmed = "no"', f'skimmed = "yes"\nremoved = {off:.2f}')
        if verdict(desk.ask("measure", desk.write(name, cut))) != "measure again":
            break
    desk.ask("decide")
    return {
        "steps": desk.steps,
        "hidden_head": {
            "cam_bow_as_it_came_mm": round(hidden().cam_bow, 3),
            "clampings": heated.passes,
            "cam_out_of_straight_mm": [round(cam_out(t), 3) for t in (hidden(), heated)],
            "cam_limit_mm": heated.casting.limits[1],
            "deck_out_of_flat_mm": [round(deck_out(t), 3) for t in (hidden(), heated, end)],
            "deck_limit_mm": heated.casting.limits[0],
            "sanded_mm": round(off, 3),
            "may_come_off_mm": heated.casting.removal_left,
        },
    }


HEADING = "# The head of an invented gravel washer: what its owner can measure or look up.\n"


def main() -> None:
    FOLDER.mkdir(exist_ok=True)
    for old in (*FOLDER.glob("survey-*.toml"), *FOLDER.glob("done-*.toml")):
        old.unlink()
    found = remade(FOLDER)
    (FOLDER / "shop.book").unlink()
    shutil.rmtree(FOLDER / "shop.book.searches", ignore_errors=True)
    (FOLDER / "expected.json").write_text(json.dumps(found, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
