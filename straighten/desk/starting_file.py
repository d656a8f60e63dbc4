"""The head file written of what was told about a new head; what was not told waits as a comment with its unit."""

from __future__ import annotations

import re
from dataclasses import dataclass

from straighten.desk.starting import QUESTIONS, Answers
from straighten.errors import BadInput
from straighten.units import INCH, THOU, System


def copied(text: str, name: str) -> str:
    """Return the text of a head file under another name; what was taken off the other one waits as a comment.

    Raises:
        BadInput: it has no name of its own at its top.
    """
    quoted = name.replace("\\", "\\\\").replace('"', '\\"')
    made, count = re.subn(r"(?m)^name\s*=.*$", lambda _: f'name = "{quoted}"', text, count=1)
    made = re.sub(r"(?m)^([ \t]*)(removed_before\s*=)", r"\1# of the head copied: \2", made)
    if not count:
        raise BadInput("the head file to copy has no line that begins with name =", where="--like")
    return made


def head_text(name: str, answers: Answers) -> str:
    """Return a commented head file: what was told, and what was not as a comment that names its unit and an example."""
    system: System = answers.get("units", "mm")
    write = _Written(answers=answers, system=system)
    quoted = name.replace("\\", "\\\\").replace('"', '\\"')
    return "\n".join([
        "# Head file of the straightening planner. A quantity may carry its unit (\"8 thou\", \"0.2 mm\", \"75 ft-lb\", \"450 F\").",
        "# A line that begins with # is not read: take the # away and put your own figure in place of the example.",
        f'name = "{quoted}"',
        f'units = "{system}"   # of bare numbers; "mm": mm, kg, Nm, C   "inch": inches (gaps and blades in thou), lb, ft-lb, F',
        "", "[casting]   # the stripped head, deck face down, stations counted from the front end",
        write.line("length", "length", "length", "deck, front to rear"),
        write.line("width", "width", "length", ""),
        write.line("height", "height", "length", "deck face to cam face"),
        write.line("mass", "mass", "mass", "everything off; without it give [casting.plates], or log the load weighed on the clamp"),
        write.text("alloy", "alloy", "unknown costs a wider range"),
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


@dataclass(frozen=True, slots=True)
class _Written:
    """Writes answers as lines of TOML in the person's own units."""

    answers: Answers
    system: System

    def _bare(self, value: float, kind: str) -> str:
        unit = {
            "length": {"mm": 1e-3, "inch": INCH},
            "gap": {"mm": 1e-3, "inch": THOU},
            "mass": {"mm": 1.0, "inch": 0.45359237},
        }
        return f"{value / unit[kind][self.system]:.6g}"

    def _open(self, key: str, example: str, comment: str = "") -> str:
        return f"# {key} = {example}" + (f"   # {comment}" if comment else "")

    def _example(self, key: str) -> str:
        question = next(q for q in QUESTIONS if q.key == key)
        return question.examples[self.system].split(",")[0]

    def eg(self, key: str, mm: str, inch: str, comment: str = "") -> str:
        """Return a line that waits as a comment, with an example in the person's own unit."""
        return self._open(key, mm if self.system == "mm" else inch, comment)

    def line(self, key: str, asked: str, kind: str, comment: str) -> str:
        value = self.answers.get(asked)
        if value is None:
            example = self._example(asked)
            return self._open(key, f'"{example}"', comment)
        return f"{key} = {self._bare(value, kind)}" + (f"   # {comment}" if comment else "")

    def text(self, key: str, asked: str, comment: str) -> str:
        value = self.answers.get(asked)
        if value is None:
            return self._open(key, f'"{self._example(asked)}"', comment)
        escaped = value.replace("\\", "\\\\").replace('"', '\\"')
        return f'{key} = "{escaped}"'

    def row(self, key: str, asked: str) -> str:
        row = self.answers.get(asked)
        if row is None:
            return self._open(
                key,
                "[20, 111, 210, 309, 400]" if self.system == "mm" else "[0.8, 4.4, 8.3, 12.2, 15.7]",
                "each from the front end",
            )
        return f"{key} = [{', '.join(self._bare(x, 'length') for x in row)}]"

    def walls(self) -> list[str]:
        walls = self.answers.get("walls")
        if walls is None:
            return [
                "# [casting.plates]   # walls in place of the mass",
                *(
                    self.eg(key, f'"{mm} mm"', f'"{inch} in"')
                    for key, mm, inch in (("deck", 10, 0.4), ("roof", 9, 0.35), ("side_walls", 6, 0.24))
                ),
            ]
        return [
            "",
            "[casting.plates]",
            *(
                f"{k} = {self._bare(v, 'length')}"
                for k, v in zip(("deck", "roof", "side_walls"), walls, strict=True)
            ),
        ]

    def stud(self) -> list[str]:
        stud = self.answers.get("stud")
        if stud is None:
            thread, grade = self._example("stud").rsplit(" ", 1)
            return [self._open("thread", f'"{thread}"'), self._open("grade", f'"{grade}"')]
        return [f'thread = "{stud[0]}"', f'grade = "{stud[1]}"']

    def base(self) -> list[str]:
        base = self.answers.get("base")
        if base is None:
            return [
                '# kind = "plate"   # or "block" or "rigid"',
                '# material = "steel"',
                self.eg("thickness", '"60 mm"', '"2.5 in"'),
            ]
        return [
            f'{k} = "{v}"' if isinstance(v, str) else f"{k} = {self._bare(v, 'length')}"
            for k, v in base.items()
        ]

    def blades(self) -> str:
        blades = self.answers.get("blades")
        if blades is None:
            return self._open(
                "blades",
                "[{ thickness = 0.05, count = 4 }]"
                if self.system == "mm"
                else "[{ thickness = 2, count = 4 }]",
                "what there is to stack",
            )
        return (
            "blades = ["
            + ", ".join(f"{{ thickness = {self._bare(t, 'gap')}, count = {n} }}" for t, n in blades)
            + "]"
        )

    def gauge(self) -> str:
        gauge = self.answers.get("gauge")
        if gauge is None:
            return self._open(
                "blades", f"[{', '.join(self._example('gauge').split()[:-1])}]", "feeler blades for gauging"
            )
        return f"blades = [{', '.join(self._bare(b, 'gap') for b in gauge)}]"

    def heat(self) -> list[str]:
        heat = self.answers.get("heat") or {}
        if "oven" in heat:
            hottest = heat["oven"]
            told = f"{hottest:.0f} C" if self.system == "mm" else f"{hottest * 9 / 5 + 32:.0f} F"
            return ["[oven]", f'hottest = "{told}"', '# longest = "4 h"']
        tips = heat.get("torch")
        if tips is None:
            return [
                "# [torch]   # or [oven] with hottest", self.eg("flame_radius", '"12 mm"', '"0.5 in"', "half the width that the flame bites"),
                '# dwell = "5 s"', self.eg("peak", '"500 C"', '"930 F"', "surface temperature aimed at"), *self._trial(),
            ]  # fmt: skip
        lines: list[str] = []
        for number, width in enumerate(tips, start=1):
            lines += [
                "[[torch]]",
                f'tip = "{number}"',
                f"flame_radius = {self._bare(width / 2, 'length')}   # half the width that the flame bites",
            ]
        return [*lines, *self._trial()]

    def _trial(self) -> list[str]:
        return [
            self.eg("crayon", '"250 C"', '"480 F"', "tried on this roof: it melted ..."),
            '# crayon_after = "1.2 s"   # ... after so long',
        ]

    def engine(self) -> list[str]:
        count = self.answers.get("cylinders")
        told = (
            ["# [engine]   # for what the removed metal does", "# cylinders = 4"]
            if count is None
            else ["[engine]   # for what the removed metal does", f"cylinders = {count}"]
        )
        return [
            *told,
            self.eg("bore", '"84 mm"', '"3.31 in"'),
            self.eg("stroke", '"90 mm"', '"3.54 in"'),
            "# compression_ratio = 9.2",
            '# drive = "belt"',
        ]
