"""A new head: what a person is asked, how the answers are read, and the head file that is written of them.

What means nothing is refused with `BadInput`, with what to type.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from straighten.clamp.bolts import grade_of, thread_of
from straighten.errors import BadInput
from straighten.head.alloys import alloy_named
from straighten.units import INCH, POUND, THOU, Kind, System, parse, show

Answers = Mapping[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """One question: its `key`, what is asked, an example in each system, how an answer is read, and when it is asked.

    `absent` is what Enter means, None where an answer is due.
    """

    key: str
    asks: str
    examples: Mapping[System, str]
    reads: Callable[[str, Answers], Any]
    absent: str | None = None
    when: Callable[[Answers], bool] = lambda _: True

    def prompt(self, system: System) -> str:
        """Return the question with its example in the person's own unit."""
        enter = f"; Enter: {self.absent}" if self.absent is not None else ""
        return f"{self.asks} (like {self.examples[system]}{enter})"


def system_told(typed: str) -> System:
    """Return the units that a person works in."""
    word = typed.strip().lower().rstrip(".")
    if word in ("mm", "metric", "m"):
        return "mm"
    if word in ("in", "inch", "inches", "thou", '"'):
        return "inch"
    raise BadInput(f"{typed.strip()[:20]!r} is neither", fix="Type mm or inch.")


def next_question(answers: Answers) -> Question | None:
    """Return the next question, or None where all are answered."""
    return next((q for q in QUESTIONS if q.key not in answers and q.when(answers)), None)


def understood(question: Question, typed: str, answers: Answers) -> Any:
    """Return what an answer means; None where Enter leaves the question open."""
    if not typed.strip():
        if question.absent is not None:
            return None
        raise BadInput("an answer is due", fix=f"Type something like {question.examples[answers['units']]}.")
    return question.reads(typed.strip(), answers)


def echo(question: Question, value: Any, answers: Answers) -> str:
    """Return a row of places as a drawing, to be looked at before going on; "" for other answers."""
    if question.key not in ("bolts", "towers") or value is None:
        return ""
    drawn = ["-"] * 60
    for station in value:
        drawn[round(59 * station / answers["length"])] = "o"
    places = ", ".join(show(station, answers["units"], big=True).split(" (")[0] for station in value)
    return f"front |{''.join(drawn)}| rear\n   {places} from the front end; wrong? type back"


def _quantity(kind: Kind) -> Callable[[str, Answers], float]:
    return lambda typed, answers: parse(typed, kind, answers["units"])


def _count(typed: str, _: Answers) -> int:
    if not typed.isdigit() or not 1 <= int(typed) <= 12:
        raise BadInput(f"found {typed[:20]!r}", fix="Type a whole number, 1 to 12.")
    return int(typed)


_PATTERN: Final = re.compile(r"^(\d{1,2})\s*[x×*]\s*(.+?)(?:\s+from\s+(.+))?$", re.IGNORECASE)

_THREAD_ALONE: Final = re.compile(r"^\S+$|\bun\w*$|[x×*-]\s*[\d.]+$", re.IGNORECASE)
_UNIT: Final = re.compile(r"\s*\b(mm|cm|um|thou|inches|inch|in)\s*$|\s*\"\s*$", re.IGNORECASE)


def parts(typed: str) -> list[str]:
    """Return the quantities of a list, each with the unit that stands behind it, or that at the end of the list."""
    before_unit = re.compile(r"(?<=[\dx.])\s+(?=(?:mm|cm|um|thou|inches|inch|in)\b)", re.IGNORECASE)
    joined = before_unit.sub("", typed.replace(",", " "))
    return [_with_unit(part, joined) for part in joined.split()]


def _with_unit(part: str, line: str) -> str:
    """Return a quantity with its own unit, or that at the end of the line."""
    own, last = part[-1:].isalpha() or part.endswith('"'), _UNIT.search(line)
    return part if own or last is None else part + last[0].strip()


def _lengths(typed: str, kind: Kind, answers: Answers) -> tuple[float, ...]:
    return tuple(parse(part, kind, answers["units"]) for part in parts(typed))


def _row(typed: str, answers: Answers) -> tuple[float, ...]:
    """Read a row of places: count and pitch, in the middle of the head or from the first one; or the places themselves."""
    system, length = answers["units"], answers["length"]
    if found := _PATTERN.match(typed):
        told = (_with_unit(part, typed) for part in found.groups()[1:] if part is not None)
        pitch, *start = (parse(part, "length", system) for part in told)
        first = start[0] if start else (length - (int(found[1]) - 1) * pitch) / 2
        row = tuple(first + n * pitch for n in range(int(found[1])))
    else:
        row = _lengths(typed, "length", answers)
    if len(row) < 2 or min(row) < 0 or max(row) > length or sorted(set(row)) != list(row):
        raise BadInput(
            f"these places do not lie on a head {show(length, system, big=True)} long, each behind the other",
            fix="Type count x pitch, count x pitch from the first, or the places from the front end.",
        )
    return row


def _stud(typed: str, answers: Answers) -> tuple[str, str]:
    if _THREAD_ALONE.search(typed):
        thread_of(typed)
        like = "M10x1.5 10.9" if answers["units"] == "mm" else "7/16-14 8"
        raise BadInput(f"the class (grade) is missing behind {typed!r}", fix=f"Type both, like {like}.")
    thread, _gap, grade = typed.rpartition(" ")
    thread = re.sub(r"\s*(class|grade)$", "", thread.strip(), flags=re.IGNORECASE)
    grade_of(grade, thread_of(thread))
    return thread, grade


def _base(typed: str, answers: Answers) -> dict[str, Any]:
    words = parts(re.sub(r"(?<=\d)\s*[x×]\s*|\s+[x×]\s+", " ", typed.lower()))
    kind = next((w for w in words if w in ("plate", "block", "rigid")), None)
    if kind is None:
        fix = "Type plate, block or rigid, with material and thickness."
        raise BadInput(f"found {typed[:30]!r}", fix=fix)
    metal = next((w for w in words if w in ("steel", "iron", "aluminium", "aluminum")), "steel")
    sizes = [parse(w, "length", answers["units"]) for w in words if w[:1].isdigit() or w[:1] == "."]
    if kind != "rigid" and not sizes:
        raise BadInput("its thickness is missing", fix="Type it behind the word, then width and length.")
    sized = dict(zip(("thickness", "width", "length"), sizes, strict=False))
    return {"kind": kind, "material": metal.replace("aluminum", "aluminium"), **sized}


def _blades(typed: str, answers: Answers) -> tuple[tuple[float, int], ...]:
    listed = _UNIT.sub("", typed).lower().replace("×", "x").replace(",", " ").split()
    told = ((_with_unit(size, typed), count) for size, _x, count in (part.partition("x") for part in listed))
    return tuple((parse(s, "gap", answers["units"]), int(n) if n.isdigit() else 2) for s, n in told)


def _gauge(typed: str, answers: Answers) -> tuple[float, ...]:
    found = _lengths(typed, "gap", answers)
    if len(found) < 2:
        raise BadInput("two blades at least are due", fix="Type every blade of the set, thinnest first.")
    return found


def _walls(typed: str, answers: Answers) -> tuple[float, ...]:
    found = _lengths(typed, "length", answers)
    if len(found) != 3:
        raise BadInput(f"found {len(found)}", fix="Type three: deck, roof, side walls.")
    return found


def _heat(typed: str, answers: Answers) -> dict[str, Any]:
    word, _gap, rest = typed.lower().partition(" ")
    if word == "oven" and rest:
        return {"oven": parse(rest, "temperature", answers["units"])}
    if word == "torch" and rest:
        return {"torch": _lengths(rest, "length", answers)}
    raise BadInput(f"found {typed[:30]!r}", fix="Type torch with its bite, or oven with how hot it gets.")


def _alloy(typed: str, _: Answers) -> str:
    alloy_named(typed)
    return typed


QUESTIONS: Final = (
    Question(key="length", asks="Length of the deck, front to rear", examples={"mm": "420 mm", "inch": "16.5 in"}, reads=_quantity("length")),
    Question(key="width", asks="Width of the deck", examples={"mm": "150 mm", "inch": "5.9 in"}, reads=_quantity("length")),
    Question(key="height", asks="Height, deck face to cam face", examples={"mm": "92 mm", "inch": "3.62 in"}, reads=_quantity("length")),
    Question(
        key="mass", asks="Weight, everything off", examples={"mm": "6.9 kg", "inch": "15.2 lb"}, reads=_quantity("mass"),
        absent="not weighed",
    ),
    Question(
        key="walls", asks="Then its walls tell how stiff it is, thickness of deck, roof under the cam, side walls",
        examples={"mm": "10 9 6 mm", "inch": ".4 .35 .24 in"}, reads=_walls, when=lambda a: a.get("mass") is None,
        absent="not measured, then a load weighed on the clamp narrows how stiff it is",
    ),
    Question(key="cylinders", asks="Cylinders under this head", examples={"mm": "4", "inch": "4"}, reads=_count),
    Question(
        key="bolts", asks="Bolt holes along one side, count x pitch", reads=_row,
        examples={"mm": "5 x 96 mm, or 5 x 96 from 18 mm", "inch": "5 x 3.78 in, or 5 x 3.78 from 0.7 in"},
    ),
    Question(
        key="stud", asks="Studs that pull it down, thread and class", reads=_stud,
        examples={"mm": "M10x1.5 10.9", "inch": "7/16-14 8"},
    ),
    Question(
        key="towers", asks="Cam towers, count x pitch, or each from the front end", reads=_row,
        examples={"mm": "5 x 95 mm", "inch": "5 x 3.75 in"},
    ),
    Question(
        key="base", asks="What it is pulled down to: material, plate or block, thickness", reads=_base,
        examples={"mm": "steel plate 60 x 180 x 520 mm", "inch": "steel plate 2.5 x 7 x 20 in"},
    ),
    Question(
        key="blades", asks="Shim strips you can stack, thickness x how many", reads=_blades,
        examples={"mm": "0.05x4 0.10x4 0.20x4 mm", "inch": "2x4 4x4 8x4 thou"},
    ),
    Question(
        key="gauge", asks="Feeler blades you read gaps with", reads=_gauge,
        examples={"mm": "0.04 0.05 0.08 0.10 0.15 0.20 0.30 mm", "inch": "1.5 2 3 4 6 8 12 thou"},
    ),
    Question(
        key="heat", asks="Torch, with the width its flame bites, one for each tip; or oven, with how hot it gets", reads=_heat,
        examples={"mm": "torch 24 mm, torch 24 32 mm, or oven 230 C", "inch": "torch 1 in, torch 1 1.25 in, or oven 450 F"},
        absent="neither",
    ),
    Question(
        key="alloy", asks="Alloy, as cast on it", examples={"mm": "A356-T6", "inch": "A356-T6"}, reads=_alloy, absent="not known",
    ),
)  # fmt: skip

# Where a fault of the finished file lies, and which questions it asks anew.
ASKED_BY: Final[Mapping[str, tuple[str, ...]]] = {
    "casting.length": ("length", "width"), "casting.width": ("width",), "casting.height": ("height",),
    "casting.mass": ("length", "width", "height", "mass"), "casting.plates": ("walls",),
    "casting.roof_thickness": ("walls",), "cam.towers": ("towers",), "bolts.stations": ("bolts",), "bolts": ("bolts",),
    "base.thickness": ("base",), "shims.blades": ("blades",), "gauge.blades": ("gauge",), "oven.hottest": ("heat",),
    "torch.flame_radius": ("heat",), "casting.alloy": ("alloy",), "engine.cylinders": ("cylinders",),
}  # fmt: skip


def asked_again(fault: BadInput) -> tuple[str, ...]:
    """Return the keys of the questions in whose answers a fault of the finished file lies; none where it is not theirs."""
    places = fault.where.split(": ")
    return next((keys for place, keys in ASKED_BY.items() if any(p.startswith(place) for p in places)), ())


def copied(text: str, name: str) -> str:
    """Return the text of a head file under another name; what was taken off the other one waits as a comment."""
    made, count = re.subn(r"(?m)^name\s*=.*$", lambda _: f"name = {_quoted(name)}", text, count=1)
    if not count:
        raise BadInput("the head file to copy has no line that begins with name =", where="--like")
    return re.sub(r"(?m)^([ \t]*)(removed_before\s*=)", r"\1# of the head copied: \2", made)


def _quoted(text: str) -> str:
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return f'"{escaped}"'


def head_text(name: str, answers: Answers) -> str:
    """Return a commented head file: what was told, and what was not as a comment that names its unit and an example."""
    write = _Written(answers=answers, system=answers.get("units", "mm"))
    return "\n".join([
        "# Head file of the straightening planner. A quantity may carry its unit (\"8 thou\", \"0.2 mm\", \"75 ft-lb\", \"450 F\").",
        "# A line that begins with # is not read: take the # away and put your own figure in place of the example.",
        f"name = {_quoted(name)}",
        f'units = "{write.system}"   # of bare numbers; "mm": mm, kg, Nm, C   "inch": inches (gaps and blades in thou), lb, ft-lb, F',
        "", "[casting]   # the stripped head, deck face down, stations counted from the front end",
        write.line("length", note="deck, front to rear"), write.line("width"),
        write.line("height", note="deck face to cam face"),
        write.line("mass", "mass", note="everything off; without it give [casting.plates], or log the load weighed on the clamp"),
        write.line("alloy", hint="unknown costs a wider range"),
        write.eg("roof_thickness", '"9 mm"', '"0.35 in"', "wall under the cam gallery that takes the flame, if you can measure it"),
        write.eg("webs", "[{ station = 12, thickness = 10 }]", "[{ station = 0.5, thickness = 0.4 }]", "cross walls seen from the cam side"),
        *write.walls(),
        "", "[cam]", write.row("towers", "towers"), "# lines = 2   # two cam lines",
        "", "[[bolts]]   # bolt holes of the head, and the studs and nuts that pull it down",
        write.row("stations", "bolts"), *write.stud(), "# stretch = true   # torque-to-yield bolts: refused as clamp bolts",
        "", "[base]", *write.base(),
        "", "[shims]", write.blades(), "", "[gauge]", write.gauge(), "", *write.heat(),
        "", "# [limits]   # from the maker's book; what is not told is the trade's figure, printed with its source",
        write.eg("deck_overall", '"0.08 mm"', '"3 thou"'), write.eg("cam_line", '"0.05 mm"', '"2 thou"'),
        write.eg("least_height", '"91.6 mm"', '"3.606 in"'), write.eg("largest_removal", '"0.25 mm"', '"10 thou"'),
        "", "# [spots]   # places never to heat, and the rows of the heat",
        write.eg("rows", '"32 mm"', '"1.26 in"'),
        write.eg("keep_off", '[{ station = 210, side = "both", radius = 16, reason = "oil drilling" }]',
                 '[{ station = 8.3, side = "both", radius = 0.63, reason = "oil drilling" }]'),
        "", *write.engine(),
        "", "# [prices]   # in your own money, to compare sanding, milling and another head", "# hour = 60", "",
    ])  # fmt: skip


_BARE: Final[Mapping[str, Mapping[System, float]]] = {  # SI of one, as a bare number of the file
    "length": {"mm": 1e-3, "inch": INCH}, "gap": {"mm": 1e-3, "inch": THOU}, "mass": {"mm": 1.0, "inch": POUND},
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Written:
    """Writes answers as lines of TOML in the person's own units; what was not told waits as a comment."""

    answers: Answers
    system: System

    def _value(self, value: float | str, kind: str = "length") -> str:
        return _quoted(value) if isinstance(value, str) else f"{value / _BARE[kind][self.system]:.6g}"

    def _list(self, values: Sequence[float], kind: str = "length") -> str:
        return f"[{', '.join(self._value(value, kind) for value in values)}]"

    def _example(self, asked: str) -> str:
        return next(q for q in QUESTIONS if q.key == asked).examples[self.system].split(",")[0]

    def eg(self, key: str, mm: str, inch: str, note: str = "") -> str:
        """Return a line that waits as a comment, with an example in the person's own unit."""
        return f"# {key} = {mm if self.system == 'mm' else inch}" + (f"   # {note}" if note else "")

    def line(self, key: str, kind: str = "length", *, note: str = "", hint: str = "") -> str:
        """Return a line with a `note` behind it; a `hint` only where it was not told."""
        value = self.answers.get(key)
        if value is None:
            example = _quoted(self._example(key))
            return self.eg(key, example, example, note or hint)
        return f"{key} = {self._value(value, kind)}" + (f"   # {note}" if note else "")

    def row(self, key: str, asked: str) -> str:
        if row := self.answers.get(asked):
            return f"{key} = {self._list(row)}"
        mm, inch = "[20, 111, 210, 309, 400]", "[0.8, 4.4, 8.3, 12.2, 15.7]"
        return self.eg(key, mm, inch, "each from the front end")

    def walls(self) -> list[str]:
        keys = ("deck", "roof", "side_walls")
        if walls := self.answers.get("walls"):
            told = zip(keys, walls, strict=True)
            return ["", "[casting.plates]", *(f"{key} = {self._value(wall)}" for key, wall in told)]
        examples = zip(keys, (10, 9, 6), (0.4, 0.35, 0.24), strict=True)
        waiting = (self.eg(key, f'"{mm} mm"', f'"{inch} in"') for key, mm, inch in examples)
        return ["# [casting.plates]   # walls in place of the mass", *waiting]

    def stud(self) -> list[str]:
        stud = self.answers.get("stud")
        start, told = ("# ", self._example("stud").rsplit(" ", 1)) if stud is None else ("", stud)
        return [f'{start}{key} = "{one}"' for key, one in zip(("thread", "grade"), told, strict=True)]

    def base(self) -> list[str]:
        if base := self.answers.get("base"):
            return [f"{key} = {self._value(told)}" for key, told in base.items()]
        thickness = self.eg("thickness", '"60 mm"', '"2.5 in"')
        return ['# kind = "plate"   # or "block" or "rigid"', '# material = "steel"', thickness]

    def blades(self) -> str:
        if blades := self.answers.get("blades"):
            told = (f"{{ thickness = {self._value(size, 'gap')}, count = {n} }}" for size, n in blades)
            return f"blades = [{', '.join(told)}]"
        mm, inch = (f"[{{ thickness = {size}, count = 4 }}]" for size in (0.05, 2))
        return self.eg("blades", mm, inch, "what there is to stack")

    def gauge(self) -> str:
        if gauge := self.answers.get("gauge"):
            return f"blades = {self._list(gauge, 'gap')}"
        example = f"[{', '.join(self._example('gauge').split()[:-1])}]"
        return self.eg("blades", example, example, "feeler blades for gauging")

    def heat(self) -> list[str]:
        heat = self.answers.get("heat") or {}
        if (hottest := heat.get("oven")) is not None:
            told = f"{hottest:.0f} C" if self.system == "mm" else f"{hottest * 9 / 5 + 32:.0f} F"
            return ["[oven]", f'hottest = "{told}"', '# longest = "4 h"']
        bite, lines = "half the width that the flame bites", []
        for tip, width in enumerate(heat.get("torch", ()), start=1):
            lines += ["[[torch]]", f'tip = "{tip}"', f"flame_radius = {self._value(width / 2)}   # {bite}"]
        return [
            *(lines or [
                "# [torch]   # or [oven] with hottest", self.eg("flame_radius", '"12 mm"', '"0.5 in"', bite),
                '# dwell = "5 s"', self.eg("peak", '"500 C"', '"930 F"', "surface temperature aimed at"),
            ]),
            self.eg("crayon", '"250 C"', '"480 F"', "tried on this roof: it melted ..."),
            '# crayon_after = "1.2 s"   # ... after so long',
        ]  # fmt: skip

    def engine(self) -> list[str]:
        count, about = self.answers.get("cylinders"), "[engine]   # for what the removed metal does"
        told = [f"# {about}", "# cylinders = 4"] if count is None else [about, f"cylinders = {count}"]
        bore, stroke = self.eg("bore", '"84 mm"', '"3.31 in"'), self.eg("stroke", '"90 mm"', '"3.54 in"')
        return [*told, bore, stroke, "# compression_ratio = 9.2", '# drive = "belt"']
