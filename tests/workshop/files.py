"""Files a person would write: head, survey, what was done. TOML text only; no record of the program."""

from __future__ import annotations

import numpy as np

from tests.workshop.bench import Deed
from tests.workshop.castings import BLADES, Casting, Truth
from tests.workshop.laws import Heat
from tests.workshop.reading import Line, Survey

_HEAD = """
name = "{c.name}"
units = "mm"
[casting]
length = {c.length}
width = {c.width}
height = {c.height}
mass = "{c.mass} kg"
alloy = "{c.alloy}"
roof_thickness = "{c.roof} mm"
webs = [{webs}]
[limits]
deck_overall = "{deck} mm"
cam_line = "{cam} mm"
tower_step = "{cam} mm"
largest_removal = "{removal} mm"
removed_before = "{before} mm"
[cam]
towers = {towers}
lines = {c.cam_lines}
[[bolts]]
stations = {bolts}
side = "both"
thread = "M10x1.5"
grade = "10.9"
stretch = false
[base]
{base}
[shims]
front_station = {front}
rear_station = {rear}
blades = [{blades}]
[gauge]
blades = {gauge}
{torch}
[spots]
rows = {c.rows}
keep_off = [{keep_off}]
[thresholds]
most_passes = 5
"""

# every tip brings its own spot to 500 C in five seconds: a larger one burns more gas
_TIP = """[[torch]]
tip = "{tip:g}"
flame_radius = "{tip} mm"
dwell = "5 s"
peak = "500 C"
"""


def head_file(casting: Casting) -> str:
    """Return the head file: what can be measured or looked up, nothing of the truth."""
    kind, material, thickness, width = casting.base
    base = f'kind = "{kind}"\nmaterial = "{material}"\nthickness = {thickness:.0f}\nwidth = {width:.0f}\nlength = {casting.length + 100:.0f}'
    deck, cam, removal, before = casting.limits
    return _HEAD.format(
        c=casting, webs=", ".join(f"{{ station = {w}, thickness = 9.5 }}" for w in casting.webs),
        deck=deck, cam=cam, removal=removal, before=before, towers=list(casting.towers), bolts=list(casting.bolts), base=base,
        front=casting.shims[0], rear=casting.shims[1], gauge=list(casting.gauge), torch="\n".join(_TIP.format(tip=tip) for tip in casting.tips),
        blades=", ".join(f"{{ thickness = {b}, count = 4 }}" for b in BLADES),
        keep_off=", ".join(
            f'{{ station = {s}, side = "both", radius = {r}, reason = "oil drilling" }}' for s, r in casting.keep_off
        ),
    )  # fmt: skip


def survey_file(truth: Truth, survey: Survey, *, sure: bool = False) -> str:
    """Return the survey file; `sure` says that every line was read twice, unlike cam line and deck too."""
    rng = np.random.default_rng([truth.number, 5])
    hard = 84 + rng.normal(0, 3, 4) - 0.5 * truth.passes
    skimmed = "yes" if truth.casting.limits[3] > 0 else "no"
    out = [
        'units = "mm"', "cam_and_deck_disagree_is_right = true" if sure else "", "[intake]", 'cracks = "none found"', 'magnesium = "no"',
        f'skimmed = "{skimmed}"', *(_line(line, sure) for line in survey.lines),
    ]  # fmt: skip
    for side, values in (("exhaust", hard[:2]), ("inlet", hard[2:])):
        out.append(f'[[hardness]]\nside = "{side}"\nvalues = [{values[0]:.0f}, {values[1]:.0f}]')
    return "\n".join(out) + "\n"


def _line(line: Line, sure: bool) -> str:
    cells = ", ".join(
        f'">{goes}"' if stops is None else f'"{goes:g}-{stops:g}"'
        for goes, stops in zip(line.goes, line.stops, strict=True)
    )
    at = f"stations = {list(line.stations)}\n" if line.part == "deck" else ""
    return f'[[{line.part}]]\nline = "{line.name}"\nmode = "{line.mode}"\n{at}gaps = [{cells}]' + (
        "\nsure = true" if sure else ""
    )


def done_file(deed: Deed, gap: float) -> str:
    """Return what was done, as the person believes it: the card's figures, and the gap read in the middle."""
    out = [
        'units = "mm"',
        "[clamp]",
        f"corners = {[round(s, 3) for s in deed.shims]}",
        f"pull_at = {list(deed.pulls)}",
    ]
    out += [f"gap = {gap}", f"reverse = {str(deed.reverse).lower()}"]
    return "\n".join(out + [_heat(heat) for heat in deed.heats]) + "\n"


def _heat(heat: Heat) -> str:
    if heat.across_to is not None:
        return (
            f'[[strokes]]\nstations = [{heat.station}]\nside = "{_side(heat)}"\nacross_from = {abs(heat.across)}\n'
            f'across_to = {abs(heat.across_to)}\nflux_radius = {heat.radius}\ntime = "{heat.time} s"\npeak = "{heat.peak} C"'
        )
    return (
        f'[[spots]]\nstations = [{heat.station}]\nside = "{_side(heat)}"\nacross = {abs(heat.across)}\nflux_radius = {heat.radius}\n'
        f'dwell = "{heat.time} s"\npeak = "{heat.peak} C"\ntogether = false\npause = "60 s"'
    )


def _side(heat: Heat) -> str:
    return "inlet" if heat.across > 0 else "exhaust"
