"""A new head: what a person is asked about it, each with its unit and an example, and how the answers are read."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Final

from straighten.clamp.bolts import grade_of, thread_of
from straighten.errors import BadInput
from straighten.head.alloys import alloy_named
from straighten.units import Kind, System, parse, show

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
    """Return the units that a person works in.

    Raises:
        BadInput: another word.
    """
    word = typed.strip().lower().rstrip(".")
    if word in ("mm", "metric", "m"):
        return "mm"
    if word in ("in", "inch", "inches", "thou", '"'):
        return "inch"
    raise BadInput(f"{typed.strip()[:20]!r} is neither", fix="Type mm or inch.")


def next_question(answers: Answers) -> Question | None:
    """Return the next question, or None where all are answered."""
    due = (q for q in QUESTIONS if q.key not in answers and q.when(answers))
    return next(due, None)


def understood(question: Question, typed: str, answers: Answers) -> Any:
    """Return what an answer means; None where Enter leaves the question open.

    Raises:
        BadInput: it means nothing, with what to type.
    """
    if not typed.strip():
        if question.absent is None:
            raise BadInput(
                "an answer is due", fix=f"Type something like {question.examples[answers['units']]}."
            )
        return None
    return question.reads(typed.strip(), answers)


def echo(question: Question, value: Any, answers: Answers) -> str:
    """Return a row of places as a drawing, to be looked at before going on; "" for other answers."""
    if question.key not in ("bolts", "towers") or value is None:
        return ""
    length = answers["length"]
    drawn = ["-"] * 60
    for station in value:
        drawn[round(59 * station / length)] = "o"
    return f"front |{''.join(drawn)}| rear\n   {', '.join(show(x, answers['units'], big=True).split(' (')[0] for x in value)} from the front end; wrong? type back"


# --- how answers are read ----------------------------------------------------------------------------------------


def _quantity(kind: Kind) -> Callable[[str, Answers], float]:
    return lambda typed, answers: parse(typed, kind, answers["units"])


def _count(typed: str, _: Answers) -> int:
    if not typed.isdigit() or not 1 <= int(typed) <= 12:
        raise BadInput(f"found {typed[:20]!r}", fix="Type a whole number, 1 to 12.")
    return int(typed)


_PATTERN: Final = re.compile(r"^(\d{1,2})\s*[x×*]\s*(.+?)(?:\s+from\s+(.+))?$", re.IGNORECASE)


_UNIT: Final = re.compile(r"\s*\b(mm|cm|um|thou|inches|inch|in)\s*$|\s*\"\s*$", re.IGNORECASE)


def parts(typed: str) -> list[str]:
    """Return the quantities of a list, each with the unit that stands behind it, or that at the end of the list."""
    joined = re.sub(
        r"(?<=[\dx.])\s+(?=(?:mm|cm|um|thou|inches|inch|in)\b)",
        "",
        typed.replace(",", " "),
        flags=re.IGNORECASE,
    )
    unit = _UNIT.search(joined)
    end = unit[0].strip() if unit else ""
    return [
        part if not end or part[-1:].isalpha() or part.endswith('"') else part + end
        for part in joined.split()
    ]


def _lengths(typed: str, kind: Kind, answers: Answers) -> tuple[float, ...]:
    return tuple(parse(part, kind, answers["units"]) for part in parts(typed))


def _row(typed: str, answers: Answers) -> tuple[float, ...]:
    """Read a row of places: count and pitch, in the middle of the head or from the first one; or the places themselves."""
    system, length = answers["units"], answers["length"]
    if found := _PATTERN.match(typed):
        unit = _UNIT.search(typed)
        ends = [
            part if part is None or part[-1:].isalpha() or not unit else part + unit[0]
            for part in found.groups()[1:]
        ]
        count, pitch = int(found[1]), parse(str(ends[0]), "length", system)
        first = (length - (count - 1) * pitch) / 2 if ends[1] is None else parse(ends[1], "length", system)
        row = tuple(first + n * pitch for n in range(count))
    else:
        row = _lengths(typed, "length", answers)
    if len(row) < 2 or min(row) < 0 or max(row) > length or sorted(set(row)) != list(row):
        raise BadInput(
            f"these places do not lie on a head {show(length, system, big=True)} long, each behind the other",
            fix="Type count x pitch, count x pitch from the first, or the places from the front end.",
        )
    return row


def _stud(typed: str, _: Answers) -> tuple[str, str]:
    thread, _gap, grade = typed.rpartition(" ")
    thread = re.sub(r"\s*(class|grade)$", "", thread.strip(), flags=re.IGNORECASE)
    grade_of(grade, thread_of(thread))
    return thread, grade


def _base(typed: str, answers: Answers) -> dict[str, Any]:
    words = parts(re.sub(r"(?<=\d)\s*[x×]\s*|\s+[x×]\s+", " ", typed.lower()))
    kind = next((w for w in words if w in ("plate", "block", "rigid")), None)
    if kind is None:
        raise BadInput(
            f"found {typed[:30]!r}", fix="Type plate, block or rigid, with material and thickness."
        )
    metal = next((w for w in words if w in ("steel", "iron", "aluminium", "aluminum")), "steel")
    sizes = [parse(w, "length", answers["units"]) for w in words if w[:1].isdigit() or w[:1] == "."]
    if kind != "rigid" and not sizes:
        raise BadInput(
            "its thickness is missing", fix="Type it behind the word, then width and length if you like."
        )
    return {
        "kind": kind, "material": metal.replace("aluminum", "aluminium"),
        **dict(zip(("thickness", "width", "length"), sizes, strict=False)),
    }  # fmt: skip


def _blades(typed: str, answers: Answers) -> tuple[tuple[float, int], ...]:
    found = []
    unit = _UNIT.search(typed)
    for part in _UNIT.sub("", typed).lower().replace("×", "x").replace(",", " ").split():
        size, _x, count = part.partition("x")
        sized = size if unit is None or size[-1:].isalpha() else size + unit[0]
        found.append((parse(sized, "gap", answers["units"]), int(count) if count.isdigit() else 2))
    return tuple(found)


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
    system = answers["units"]
    if word == "oven" and rest:
        return {"oven": parse(rest, "temperature", system)}
    if word == "torch" and rest:
        return {"torch": _lengths(rest, "length", answers)}
    raise BadInput(
        f"found {typed[:30]!r}", fix="Type torch and the width of its bite, or oven and how hot it gets."
    )


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
