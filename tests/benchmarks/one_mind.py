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
from straighten.head import head_from_text, template_head
from straighten.head.records import Head
from straighten.readings.records import Line
from tests.shape.builders import DIAGONALS
from tests.shape.builders import state as shape_of
from tests.shape.builders import survey as read_on
from tests.simulated.surveys import lines_text

NAME = "state"
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

# First melting [C]: Al-Si-Mg 355 to 361 castings 555 to 560; with copper and magnesium 505, J. Mater. Sci. 33 (1998) 2283.
FIRST_MELTING = {
    "A356-T6": 550,
    "AlSi7Mg-T6": 550,
    "319-T6": 505,
    "355-T6": 505,
    "AlSi8Cu3-F": 505,
    "unknown": 505,
}
MELTING_KEPT = 25
# ISO 898-1: stress area [mm2], pitch, pitch diameter, mean bearing diameter [mm]; proof stress [MPa] (from memory).
THREADS = {"M8x1.25": (36.6, 1.25, 7.188, 10.3), "M10x1.5": (58.0, 1.5, 9.026, 12.8), "M12x1.75": (84.3, 1.75, 10.863, 15.05)}  # fmt: skip
PROOF = {"8.8": 580, "10.9": 830, "12.9": 970}
SLIPPERY = 0.10  # the lowest friction of a greased thread that the program says it believes


# ------------------------------------------------------------------------------------------------- heads and surveys


@dataclass
class Told:
    """What was told of the head so far, as the benchmark knows it."""

    alloy: str
    thread: str
    grade: str
    all_stretch: bool
    reject: float
    magnesium: bool = False
    crack: bool = False
    softest: float = math.inf

    @property
    def forbidden(self) -> set[str]:
        """What nothing may pass, by what was told."""
        found = {"magnesium"} if self.magnesium else set()
        found |= {"crack"} if self.crack else set()
        return found | ({"hardness level"} if self.softest < self.reject else set())


def _changed(text: str, *changes: tuple[str, str]) -> str:
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new, 1)
    return text


def head_text(rng: np.random.Generator) -> tuple[str, Told]:
    """Return the head file of a made-up head, and what it tells."""
    told = Told(
        alloy=str(rng.choice(list(FIRST_MELTING))),
        thread=str(rng.choice(list(THREADS), p=[0.15, 0.7, 0.15])),
        grade=str(rng.choice(list(PROOF), p=[0.25, 0.6, 0.15])),
        all_stretch=bool(rng.random() < 0.06),
        reject=float(rng.choice([65, 65, 58])),
        magnesium=bool(rng.random() < 0.05),
    )
    limits = (
        f'deck_overall = "{rng.choice([0.05, 0.08, 0.10]):.2f} mm"',
        f'cam_line = "{rng.choice([0.03, 0.05, 0.08]):.2f} mm"',
    )
    text = _changed(
        template_head(NAME),
        ('alloy = "A356-T6"', f'alloy = "{told.alloy}"' + ("\nmagnesium = true" if told.magnesium else "")),
        ('deck_overall = "0.08 mm"', limits[0]),
        ('cam_line = "0.05 mm"', limits[1]),
        ('least_height = "91.6 mm"', f'least_height = "{92 - rng.choice([0.1, 0.3, 0.4, 0.6]):.1f} mm"'),
        ('largest_removal = "0.25 mm"', f'largest_removal = "{rng.choice([0.10, 0.25, 0.50]):.2f} mm"'),
        ('removed_before = "0 mm"', f'removed_before = "{rng.choice([0.0, 0.0, 0.1]):.1f} mm"'),
        ('thread = "M10x1.5"', f'thread = "{told.thread}"'),
        ('grade = "10.9"', f'grade = "{told.grade}"'),
        ("stretch = false", f"stretch = {str(told.all_stretch).lower()}"),
        ('kind = "plate"', f'kind = "{rng.choice(["plate", "plate", "block", "rigid"])}"'),
        ('material = "steel"', f'material = "{rng.choice(["steel", "steel", "iron", "aluminium"])}"'),
        ("thickness = 60", f"thickness = {rng.choice([25, 40, 60, 80])}"),
        ('peak = "500 C"', f'peak = "{rng.choice([380, 450, 500, 520, 560])} C"'),
        ("lines = 1 ", f"lines = {rng.choice([1, 1, 1, 2])} "),
    )  # fmt: skip
    if rng.random() < 0.12:
        start, end = text.index("[torch]"), text.index("[spots]")
        text = text[:start] + '[oven]\nhottest = "230 C"\nlongest = "5 h"\n\n' + text[end:]
    text += f"\n[thresholds]\nhardness_reject = {told.reject:g}\nmost_passes = {rng.integers(1, 5)}\n"
    if rng.random() < 0.3:
        text += f"\n[prices]\nhour = {rng.choice([10, 50, 120])}\nreplacement_head = {rng.choice([60, 400, 2000])}\nline_boring = {rng.choice([20, 250, 900])}\n"
    return text, told


def bent(rng: np.random.Generator) -> np.ndarray:
    """Return a shape [m]: mostly hollow and high, some crowned, some inside, some of opposite signs, some twisted."""
    kind = rng.choice(["bowed", "inside", "deck only", "reverse", "flat deck", "opposite"], p=[0.5, 0.12, 0.12, 0.1, 0.1, 0.06])  # fmt: skip
    cam = {"bowed": rng.uniform(0.05, 0.6), "inside": rng.uniform(0, 0.025), "deck only": rng.uniform(0, 0.02)}.get(kind, rng.uniform(0.06, 0.4))  # fmt: skip
    deck = {"inside": rng.uniform(0, 0.035), "deck only": rng.uniform(0.07, 0.2), "flat deck": rng.uniform(0, 0.03)}.get(kind, cam / rng.lognormal(0.11, 0.3))  # fmt: skip
    way = -1.0 if kind == "reverse" else 1.0
    found: np.ndarray = shape_of(
        deck_bow=way * deck, cam_bow=(-1.0 if kind == "opposite" else way) * cam, cam_skew=rng.normal(0, 0.008),
        deck_side=rng.normal(0, 0.006), twist=rng.choice([0.0, rng.normal(0, 0.03)]), dish=rng.normal(0, 0.004),
    )  # fmt: skip
    return found


def survey_text(head: Head, shape: np.ndarray, kept: str, particulars: str) -> str:
    """Return a survey file of the lines `kept` ("all", "long", "few", "deck", "cam")."""
    lines = [line for line in read_on(shape, head).lines if _is_kept(line, kept)]
    return f'units = "mm"\nhead = "{NAME}"\n{particulars}{lines_text(lines)}'


def _is_kept(line: Line, kept: str) -> bool:
    if line.part == "cam":
        return kept != "deck"
    if kept == "few":
        return line.name == "centre"
    return kept in ("all", "deck") or (kept == "long" and line.name not in DIAGONALS)


def particulars(rng: np.random.Generator, told: Told, *, grave: float) -> str:
    """Return intake and hardness as a survey tells them, `grave` the chance of each that ends the job; keep what was told."""
    answers = []
    draw = rng.random()
    if draw < grave:
        answers.append('cracks = "found"')
        told.crack = True
    elif draw < grave + 0.08:
        answers.append('cracks = "repaired, leak test passed"')
        told.crack = False
    elif draw < 0.8:
        answers.append('cracks = "none found"')  # a second look that missed it takes nothing back
    draw = rng.random()
    if draw < grave:
        answers.append('magnesium = "yes"')
        told.magnesium = True
    elif draw < 0.8:
        answers.append('magnesium = "no"')
    text = "[intake]\n" + "\n".join(answers) + "\n" if answers else ""
    if rng.random() < 0.8:
        soft = rng.random() < grave
        values = [float(rng.integers(48, 57)) if soft else float(rng.integers(70, 96)), float(rng.integers(80, 96))]  # fmt: skip
        told.softest = min(values)
        for side, value in zip(("exhaust", "inlet"), values, strict=True):
            text += f'[[hardness]]\nside = "{side}"\nvalue = {value:g}\n'
    return text


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
        told = sheet.told["card"] if _is_card(sheet) else sheet.told
        answers["sheet"] = Answer(0, {**told, "is_card": sheet.told["is_card"]})
    answers["bench"] = state.ask("bench", folder)
    state.must(answers["check"].code == 0, f"check is refused: {answers['check'].told}")
    if not answers["check"].told:
        return
    said = answers["check"].judgement
    _same(state, {n: a for n, a in answers.items() if "judgement" in a.told})
    _mapped(state, said, answers, before)
    _by_what_was_told(state, said, answers)
    _with_a_reason(state, said, answers)
    for answer in (answers["plan"], answers.get("sheet", answers["plan"])):
        if _is_card(answer):
            _safe(state, answer.told)


def _mapped(state: State, said: dict[str, Any], answers: dict[str, Answer], before: Answer) -> None:
    """Every command's own word for the next step."""
    step, check, decide = said["next"], answers["check"], answers["decide"]
    state.must(check.told["verdict"] == VERDICTS[step], f"check says {check.told['verdict']}, next is {step}")
    measured = said["goal"] is not None or bool(said["forbidden"])
    if measured:
        state.must(decide.code == 0 and decide.told["choice"] == CHOICES[step], f"decide says {decide.told.get('choice', decide.told)}, next is {step}")  # fmt: skip
    else:
        for name in ("decide", "plan", "sand", "finish"):
            state.must(answers[name].code == 3, f"{name} goes on without a shape: code {answers[name].code}")
    for name in ("plan", "sheet"):
        if name in answers:
            state.must(_is_card(answers[name]) == (step == "heat"), f"{name} {'prints' if _is_card(answers[name]) else 'prints no'} card, next is {step}")  # fmt: skip
    sand = answers["sand"]
    if measured:
        plans = sand.code == 0 and bool(sand.told["next_strokes"])
        state.must(plans == (step == "sand"), f"sand {'plans' if plans else 'plans no'} strokes, next is {step} ({said['decided']}): {sand.told.get('problem', '')}")  # fmt: skip
    for name, answer in answers.items():
        if step != "heat" and name != "tighten" and not _is_card(answer):
            state.must(WHICH_WAY.search(json.dumps(answer.told)) is None, f"{name} tells which way to pull, next is {step}")  # fmt: skip
    holding = [f for f in said["advised_against"] if f["holds"] and not f["gone_past_because"]]
    if step == "hand it on":
        state.must(bool(said["forbidden"] or holding), "handed on, and nothing speaks against the work")
    if step in ("finish", "sand") and said["goal"] is not None and said["decided"] != "sanding begun":
        cams = [limit for limit in said["goal"]["limits"] if "cam" in limit["name"]]
        state.must(
            all(limit["holds"] for limit in cams), f"next is {step} with the cam line out of its limit"
        )
    in_pass = re.compile(r"^(?:pass|clamp|round|heat|cool)/")
    for bench in (before, answers["bench"]):
        if step != "heat" and bench.code == 0:
            held = bool(in_pass.match(str(bench.told["step"])))
            state.must(not held or not said["forbidden"], f"bench leads on in a pass ({bench.told['step']}), next is {step}", "unsafe")  # fmt: skip


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
        with tempfile.TemporaryDirectory() as place:
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
