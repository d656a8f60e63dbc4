"""Whether the commands are of one mind: ``python -m tests.benchmarks.one_mind [--states 300] [--first 0]``.

Heads are made up with their limits, alloys, bolts, bases and prices, surveyed, planned, heated, sanded and told of, all
through the commands; then every command is asked for its JSON answer on the same book. What the answers say is held
against one another, and against what was told: nothing here knows how the program judges. Every fault found goes to
stderr with the number of its state. The last line printed is one JSON object.
"""

from __future__ import annotations

import argparse
import contextlib
import io
import json
import math
import os
import re
import shutil
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # before numpy

import numpy as np

from straighten.cli import main as straighten
from straighten.head import head_from_text
from tests.benchmarks.mind_states import (
    FIRST_MELTING,
    MELTING_KEPT,
    NAME,
    PROOF,
    SLIPPERY,
    THREADS,
    Told,
    bent,
    head_text,
    particulars,
    survey_text,
)
from tests.remembered import FOLDER, remembering

REASON = "the owner wants it tried all the same"
VERDICTS = {
    "measure": "measure again",
    "heat": "straighten",
    "sand": "sand only",
    "finish": "inside limits",
    "hand it on": "hand it on",
}
CHOICES = VERDICTS | {"heat": "heat again", "sand": "sand now", "finish": "finish"}
REFUSED = (3, 5)  # nothing recorded, one message
WHICH_WAY = re.compile(r"shims under the|pull the (?:MIDDLE|ENDS)", re.IGNORECASE)


# --------------------------------------------------------------------------------------------------------- one state


@dataclass
class Answer:
    """What a command gave: its exit code, its JSON object, or the fault's."""

    code: int
    told: dict[str, Any]

    @property
    def judgement(self) -> dict[str, Any]:
        """The judgement it carries."""
        found: dict[str, Any] = self.told["judgement"]
        return found


@dataclass
class State:
    """One head at its bench."""

    number: int
    folder: Path
    told: Told
    faults: list[tuple[str, str]] = field(default_factory=list)

    @property
    def book(self) -> Path:
        return self.folder / "shop.book"

    def ask(self, *words: str, book: Path | None = None) -> Answer:
        """Return the JSON answer of a command; a traceback is a fault."""
        out, err = io.StringIO(), io.StringIO()
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            code = straighten([*words, "--book", str(book or self.book), "--json"])
        text = (out if code == 0 else err).getvalue()
        if code not in (0, *REFUSED):
            self.fault("contradictions", f"{' '.join(words)} ended with {code}: {text[-200:]}")
            return Answer(code, {})
        return Answer(code, json.loads(text if code == 0 else text[text.index("{") :]))

    def fault(self, kind: str, text: str) -> None:
        self.faults.append((kind, text))
        sys.stderr.write(f"state {self.number}: {kind}: {text}\n")

    def must(self, holds: bool, text: str, kind: str = "contradictions") -> None:
        if not holds:
            self.fault(kind, text)

    def write(self, name: str, text: str) -> str:
        (self.folder / name).write_text(text, encoding="utf-8")
        return str(self.folder / name)

    @contextlib.contextmanager
    def aside(self) -> Iterator[Path]:
        """Give a copy of the book, to go on in without the state's own."""
        copy = self.folder / "aside.book"
        shutil.copy(self.book, copy)
        yield copy
        copy.unlink()


def lived(number: int, folder: Path) -> State:
    """Make a head and let it go some way: surveys, passes, sanding, answers told late; return it as it stands."""
    rng = np.random.default_rng([number, 14])
    text, told = head_text(rng)
    state = State(number=number, folder=folder, told=told)
    state.write("head.toml", text)
    head = head_from_text(text, "head")
    shape = bent(rng)
    if rng.random() < 0.05:  # only answers so far, nothing measured
        alone = particulars(rng, told, grave=0.3) or '[intake]\ncracks = "none found"\n'
        state.ask("measure", str(folder), state.write("answers.toml", alone))
        return state
    kept = str(rng.choice(["all", "long", "few", "deck", "cam"], p=[0.6, 0.2, 0.1, 0.05, 0.05]))
    first = survey_text(head, shape, kept, particulars(rng, told, grave=0.05))
    found = state.ask("measure", str(folder), state.write("survey-0.toml", first))
    state.must(found.code == 0, f"the first survey is refused: {found.told}")
    for turn in range(1, 1 + int(rng.choice([0, 1, 2, 3], p=[0.4, 0.3, 0.2, 0.1]))):
        because = ["--because", REASON] if rng.random() < 0.5 else []
        card = state.ask("plan", str(folder), *because)
        if card.code or "spots" not in card.told:
            break
        if rng.random() < 0.2:  # the card is in hand, the bolts are not yet turned
            break
        shape = shape * rng.uniform(0.2, 0.9)
        after = survey_text(head, shape, "all", particulars(rng, told, grave=0.02))
        survey = [state.write(f"survey-{turn}.toml", after)] if rng.random() < 0.9 else []
        logged = state.ask("log", str(folder), *survey)
        if logged.code:
            break
        _same(state, {"log": logged, "check after log": state.ask("check", str(folder))})
    if rng.random() < 0.15:
        state.ask(
            "sand", str(folder), "--strokes", "300", "--grit", "P120", "--cleaned", "40", "--because", REASON
        )
    if rng.random() < 0.12:
        late = particulars(rng, told, grave=0.4)
        if "cracks" in late or "magnesium" in late or "hardness" in late:
            state.ask("measure", str(folder), state.write("late.toml", late))
    if rng.random() < 0.05:  # what the head file says is changed under a card in hand
        told.magnesium = True
        changed = text if "magnesium = true" in text else text.replace("roof_thickness", "magnesium = true\nroof_thickness", 1)  # fmt: skip
        state.write("head.toml", changed)
    return state


# -------------------------------------------------------------------------------------------------- what is compared


def _same(state: State, answers: dict[str, Answer]) -> None:
    """Hold the judgement in every answer against the first."""
    given = {name: answer.judgement for name, answer in answers.items() if answer.code == 0 and answer.told}
    names = list(given)
    for name in names[1:]:
        for key in given[names[0]]:
            state.must(
                given[name].get(key) == given[names[0]][key],
                f"judgement.{key}: {names[0]} {given[names[0]][key]!r:.120}, {name} {given[name].get(key)!r:.120}",
            )


def _is_card(answer: Answer) -> bool:
    return answer.code == 0 and ("spots" in answer.told or answer.told.get("is_card") is True)


def compared(state: State) -> None:
    """Ask every command and hold the answers together."""
    folder = str(state.folder)
    page = str(state.folder / "page.html")
    before = state.ask("bench", folder)
    answers = {name: state.ask(name, folder) for name in ("check", "decide", "sand", "finish", "plan")}
    with state.aside() as copy:
        turn = ("--torque", "5 Nm", "--goes", "0.10", "--stops", "0.12")
        answers["tighten"] = state.ask("tighten", folder, *turn, book=copy)
    sheet = state.ask("sheet", folder, "--out", page, "--force")
    if sheet.code == 0:
        told = sheet.told["card"]  # or its refusal
        answers["sheet"] = Answer(0, {**told, "is_card": sheet.told["is_card"]})
    answers["bench"] = state.ask("bench", folder)
    state.must(answers["check"].code == 0, f"check is refused: {answers['check'].told}")
    if not answers["check"].told:
        return
    said = answers["check"].judgement
    _same(state, {n: a for n, a in answers.items() if "judgement" in a.told})
    _mapped(state, said, answers, before)
    _reasoned(state, said)
    _by_what_was_told(state, said, answers)
    _with_a_reason(state, said, answers)
    for answer in (answers["plan"], answers.get("sheet", answers["plan"])):
        if _is_card(answer):
            _safe(state, answer.told)


def _mapped(state: State, said: dict[str, Any], answers: dict[str, Answer], before: Answer) -> None:
    """Every command's own word for the next step."""
    step, check = said["next"], answers["check"]
    state.must(check.told["verdict"] == VERDICTS[step], f"check says {check.told['verdict']}, next is {step}")
    if said["goal"] is not None or said["forbidden"]:
        decide, sand = answers["decide"].told, answers["sand"]
        state.must(decide.get("choice") == CHOICES[step], f"decide says {decide.get('choice', decide)}, next is {step}")  # fmt: skip
        plans = sand.code == 0 and bool(sand.told["next_strokes"])
        state.must(plans == (step == "sand"), f"sand {'plans' if plans else 'plans no'} strokes, next is {step} ({said['decided']}): {sand.told.get('problem', '')}")  # fmt: skip
    else:
        for name in ("decide", "plan", "sand", "finish"):
            state.must(answers[name].code == 3, f"{name} goes on without a shape: code {answers[name].code}")
    for name in {"plan", "sheet"} & set(answers):
        state.must(_is_card(answers[name]) == (step == "heat"), f"{name} {'prints' if _is_card(answers[name]) else 'prints no'} card, next is {step}")  # fmt: skip
    for name, answer in answers.items():
        if step != "heat" and name != "tighten" and not _is_card(answer):
            state.must(WHICH_WAY.search(json.dumps(answer.told)) is None, f"{name} tells which way to pull, next is {step}")  # fmt: skip
    for bench in (before, answers["bench"]):
        held = re.match(r"(?:pass|clamp|round|heat|cool)/", str(bench.told.get("step")))
        never = str(bench.told.get("step", "")).endswith("never")
        state.must(not (held and said["forbidden"]) or never, f"bench leads on in a pass ({bench.told})", "unsafe")  # fmt: skip


def _reasoned(state: State, said: dict[str, Any]) -> None:
    """The step against what the same answer gives as its reasons."""
    step = said["next"]
    holding = [f for f in said["advised_against"] if f["holds"] and not f["gone_past_because"]]
    asked = [f for f in said["unknown"] if f["holds"]]
    if step == "hand it on":
        state.must(bool(said["forbidden"] or holding), "handed on, and nothing speaks against the work")
    if step == "measure":
        state.must(bool(asked), "to be measured, and nothing is asked for")
    if step == "heat":
        state.must(not holding and not asked, f"heated over {[f['kind'] for f in (*holding, *asked)]}")
    if step in ("finish", "sand") and said["goal"] is not None and said["decided"] != "sanding begun":
        cams = [limit for limit in said["goal"]["limits"] if "cam" in limit["name"]]
        state.must(
            all(limit["holds"] for limit in cams), f"next is {step} with the cam line out of its limit"
        )


def _by_what_was_told(state: State, said: dict[str, Any], answers: dict[str, Answer]) -> None:
    """What was told of the metal must forbid, and what forbids must stop everything."""
    found = {finding["kind"] for finding in said["forbidden"]} - {"stretch bolts"}
    wanted = state.told.forbidden
    state.must(found == wanted, f"forbidden by what was told: {sorted(wanted)}, by the answers: {sorted(found)}", "unsafe")  # fmt: skip
    if not said["forbidden"]:
        return
    state.must(said["next"] == "hand it on", f"forbidden, and next is {said['next']}", "unsafe")
    _nothing_is_begun(state, answers, "forbidden")


def _nothing_is_begun(state: State, answers: dict[str, Answer], why: str) -> None:
    for name, answer in answers.items():
        state.must(not _is_card(answer), f"{name} prints a card, {why}", "unsafe")
        if name == "tighten":
            state.must(answer.code in REFUSED, f"tighten goes on, {why}", "unsafe")
        if name == "sand":
            state.must(answer.code in REFUSED or not answer.told.get("next_strokes"), f"sand plans strokes, {why}", "unsafe")  # fmt: skip
        state.must(WHICH_WAY.search(json.dumps(answer.told)) is None, f"{name} tells which way to pull, {why}", "unsafe")  # fmt: skip


def _with_a_reason(state: State, said: dict[str, Any], answers: dict[str, Answer]) -> None:
    """A reason opens advice and nothing else, and is remembered."""
    folder, step = str(state.folder), said["next"]
    with state.aside() as copy:
        plan = state.ask("plan", folder, "--because", REASON, book=copy)
        sand = state.ask("sand", folder, "--because", REASON, book=copy)
        close = state.ask("finish", folder, "--close", "--because", REASON, book=copy)
        if said["forbidden"]:
            _nothing_is_begun(state, {"plan": plan, "sand": sand}, "forbidden, with a reason")
            state.must(close.code in REFUSED, "finish closes a forbidden head with a reason", "unsafe")
            return
        if state.told.all_stretch:
            state.must(not _is_card(plan), "plan prints a card for stretch bolts", "unsafe")
        opened = step == "hand it on" and said["go_on"].startswith("straighten plan")
        if step not in ("heat", "hand it on") or opened:
            state.must(_is_card(plan) == opened, f"plan with a reason: card {_is_card(plan)}, next {step}, go on {said['go_on']!r}")  # fmt: skip
        if step in ("heat", "hand it on") and said["goal"] is not None:
            again = "heat again" in {way["choice"] for way in answers["decide"].told["options"]}
            state.must(again == _is_card(plan), f"decide {'lists' if again else 'leaves out'} heat again, plan with a reason prints {'a' if _is_card(plan) else 'no'} card")  # fmt: skip
        if step == "measure" and said["goal"] is None:
            state.must(sand.code == 3, "sand goes on without a shape")
    if not opened:
        return
    with state.aside() as copy:
        state.ask("plan", folder, "--because", REASON, book=copy)
        after = {name: state.ask(name, folder, book=copy) for name in ("check", "decide", "plan")}
    gone = [f for f in after["check"].judgement["advised_against"] if f["gone_past_because"]]
    state.must(after["check"].judgement["next"] == "heat", "the reason given is not remembered by check")
    state.must(
        bool(gone) and all(f["gone_past_because"] == REASON for f in gone), "the reason is not told back"
    )
    state.must(_is_card(after["plan"]), "plan asks for the reason again")
    state.must(after["decide"].told.get("choice") == "heat again", "decide does not go past it")
    state.must(not _is_card(plan) or plan.told["because"] == REASON, "the card does not print the reason")
    if _is_card(plan):
        _safe(state, plan.told)


def _safe(state: State, card: dict[str, Any]) -> None:
    """Targets and torques of a card, by tables that are not the program's."""
    told = state.told
    state.must(
        not told.forbidden and not told.all_stretch, "a card for a head that must not be clamped", "unsafe"
    )
    ceiling = min(FIRST_MELTING[told.alloy] - MELTING_KEPT, card["ceiling_C"])
    hottest = max(
        [spot["peak_C"] or 0 for spot in card["spots"]] + [(card["soak"] or {}).get("temperature_C", 0)]
    )
    state.must(card["ceiling_C"] <= FIRST_MELTING[told.alloy] - MELTING_KEPT, f"{told.alloy}: NEVER ABOVE {card['ceiling_C']} C", "unsafe")  # fmt: skip
    state.must(hottest <= ceiling, f"{told.alloy}: a target of {hottest} C over {ceiling} C", "unsafe")
    area, pitch, d2, bearing = THREADS[told.thread]
    arm = 0.159 * pitch + 0.577 * SLIPPERY * d2 + SLIPPERY * bearing / 2  # mm
    pull = card["most_torque_Nm"] / arm  # kN
    state.must(pull <= 1e-3 * PROOF[told.grade] * area, f"{told.thread} {told.grade}: {card['most_torque_Nm']:.0f} Nm may pull {pull:.0f} kN", "unsafe")  # fmt: skip
    for one in card["rounds"]:
        state.must(one["torque_Nm"] <= card["most_torque_Nm"] + 0.5, f"a round of {one['torque_Nm']} Nm over the most", "unsafe")  # fmt: skip
    for side in ("low", "middle", "high"):
        state.must(math.isfinite(card["cam_after_mm"][side]), "a figure that is none")


def main() -> None:
    """Make the states, ask, compare; print one JSON object last."""
    options = argparse.ArgumentParser()
    options.add_argument("--states", type=int, default=300)
    options.add_argument("--first", type=int, default=0)
    asked = options.parse_args()
    found: Counter[str] = Counter(contradictions=0, unsafe=0)
    steps: Counter[str] = Counter()
    for number in range(asked.first, asked.first + asked.states):
        with tempfile.TemporaryDirectory() as place, tempfile.TemporaryDirectory() as kept, remembering():
            os.environ[FOLDER] = kept
            folder = Path(place) / NAME
            folder.mkdir()
            state = lived(number, folder)
            compared(state)
            check = state.ask("check", str(folder))
            steps[check.judgement["next"] if check.code == 0 else "refused"] += 1
        found.update(kind for kind, _ in state.faults)
        print(number, dict(steps), dict(found), flush=True)
    print(json.dumps({"states": asked.states, "next": dict(steps), **found}))


if __name__ == "__main__":
    main()
