"""Heats one after another, strokes, rows, wide flames, other boxes and bars through `straighten try`, against 3D elements."""

import json
import tomllib
from itertools import groupby
from pathlib import Path

import numpy as np
import pytest

from straighten.cli import main

SOURCE = "3D finite elements, heats one after another on hollow boxes and a bar, through `straighten try`; own runs too"
MARK = "derived"

HERE = Path(__file__).parent
CASES = tomllib.loads((HERE / "heats.toml").read_text(encoding="utf-8"))["case"]
LINES = ("deck centre", "deck edges", "cam face centre", "cam face edges")
ALLOWED = {"given": 0.10, "own run": 0.15, "bar": 0.20}
SHORT = (
    (20, 100, 150, 200, 250, 300, 350, 400, 450, 540),
    (195.0, 189.0, 175.5, 156.0, 117.0, 64.4, 23.4, 11.7, 7.8, 3.9),
)
SOAKED = ((20, 100, 150, 205, 260, 315, 370, 450, 540), (185, 165, 138, 60, 34, 21, 14, 8, 4))
SNUG = "shims = 0\ngap = 0.3496\n"  # the middle held where it stands


def head_of(case, folder):
    """The head file of a case: another yield curve, other plates."""
    text = (HERE / f"{case.get('head', 'box')}.toml").read_text(encoding="utf-8")
    if case.get("curve") == "short exposure":
        text = text.replace(f"temperature_C = {list(SOAKED[0])}", f"temperature_C = {list(SHORT[0])}")
        text = text.replace(f"yield_MPa = {list(SOAKED[1])}", f"yield_MPa = {list(SHORT[1])}")
        text = text.replace(
            "E_GPa = [72.4, 69.0769, 67, 63, 56, 48, 38, 25, 10]",
            f"E_GPa = {np.round(np.interp(SHORT[0], SOAKED[0], (72.4, 69.0769, 67, 63, 56, 48, 38, 25, 10)), 4).tolist()}",
        )
    if plates := case.get("plates"):
        text = with_plates(text, plates)
    path = folder / "head.toml"
    path.write_text(text, encoding="utf-8")
    return path


def with_plates(text, plates):
    length, half = plates["length"], plates["webs"]
    stations = sorted({length / 2 + sign * x for x in half for sign in (-1, 1)})
    webs = ", ".join(f"{{ station = {x:g}, thickness = {plates['web']} }}" for x in stations)
    pull = {66: 33, 80: 40, 100: 50}[half[1]]
    kept = [
        line
        for line in text.splitlines()
        if not line.startswith(("length =", "width =", "height =", "webs =", "deck =", "roof =", "side_walls =", "end_walls =",
                                "stations =", "towers =", "front_station =", "rear_station ="))
    ]  # fmt: skip
    more = {
        "[casting]": f"length = {length}\nwidth = {plates['width']}\nheight = {plates['height']}\nwebs = [{webs}]",
        "[casting.plates]": f"deck = {plates['deck']}\nroof = {plates['roof']}\nside_walls = {plates['wall']}\n"
        f"end_walls = {plates['end']}",
        "[[bolts]]": f"stations = [{length / 2 - pull}, {length / 2 + pull}]",
        "[cam]": f"towers = [0, {length}]",
        "[shims]": f"front_station = {length / 2 - plates['shim_x']}\nrear_station = {length / 2 + plates['shim_x']}",
    }
    return "\n".join(f"{line}\n{more[line]}" if line in more else line for line in kept)


def heat_table(heat, length, bar):
    shim = heat.get("shim")
    clamp = (
        ""
        if shim is None
        else "[heat.clamp]\n" + (SNUG if shim == "snug" else f'shims = "{shim} mm"\ngap = 0\n')
    )
    text, ended = f"[[heat]]\n{clamp}", None
    signs = (1,) if heat.get("one_end") else (-1, 1)
    for (begin, end, *_), fire in groupby(
        heat["flames"], key=lambda f: (f[5], f[6], f[1], f[3], f[4], *f[8:])
    ):
        flames = list(fire)
        pause = 0 if ended is None else begin - ended
        text, ended = text + fire_table(flames, (length, signs), bar, pause), end
    return text


def fire_table(flames, where, bar, pause):
    length, signs = where
    stations = sorted({length / 2 + sign * f[0] for f in flames for sign in signs})
    begins, ends = flames[0][5:7]
    power = sum(f[7] for f in flames) / len(flames)
    shared = f"stations = {stations}\nflux_radius = {flames[0][4]}\nabsorbed_power = {power:.1f}\n"
    (side,) = flames[0][8:] or (["inlet"] if bar else ["both"])
    shared += f'side = "{side}"\n'
    x, y, x_to, y_to = flames[0][:4]
    if (x, y) == (x_to, y_to):
        return f"[[heat.spots]]\n{shared}across = {y}\ndwell = {ends - begins}\npause = {pause}\n"
    last = sorted({length / 2 + sign * f[2] for f in flames for sign in signs})
    along = "" if x == x_to else f"stations_to = {last}\n"
    return f"[[heat.strokes]]\n{shared}{along}across_from = {y}\nacross_to = {y_to}\ntime = {ends - begins}\nwait = {pause}\n"


def tried(capsys, folder, case):
    bar = case.get("head") == "bar"
    length = case.get("plates", {}).get("length", 400)
    heats = "\n".join(heat_table(heat, length, bar) for heat in case["heats"])
    path = folder / "setup.toml"
    path.write_text(f'head = "{head_of(case, folder)}"\nbow_before = "0.40 mm"\n{heats}', encoding="utf-8")
    assert main(["try", str(path), "--json"]) == 0
    return json.loads(capsys.readouterr().out)["rounds"]


def errors(found, case):
    """Relative error of every line's change since the start, after every heat."""
    ours = np.cumsum([[r["change_of_bow_mm"][line] for line in LINES] for r in found], axis=0)
    theirs = np.array([heat["change"] for heat in case["heats"]])
    return np.where(
        np.abs(theirs) < 0.01, (ours - theirs) / 0.01, ours / np.where(theirs == 0, 1.0, theirs) - 1
    )


@pytest.mark.parametrize("case", CASES, ids=lambda c: c["name"].replace(" ", "-"))
def test_change_of_bow_after_every_heat(capsys, tmp_path, case):
    # source: 3D finite elements, see heats.toml; a change of less than 0.01 mm may be off by that share of 0.01 mm
    found = tried(capsys, tmp_path, case)
    assert len(found) == len(case["heats"])
    worst = float(np.abs(errors(found, case)).max())
    allowed = ALLOWED["bar" if case.get("head") == "bar" else case["source"]]
    if "missed" in case:
        assert allowed < worst <= case["missed"] + 0.005  # it is no worse than is said, and still missed
    else:
        assert worst <= allowed


# Highest surface temperatures while four flames burn at once: Y7 given, the others own runs; all seen before the law was set.
TOGETHER = {"Y7": 397.9, "b3 R25 30s 450": 450.0, "b4 R30 40s 300": 300.0}


@pytest.mark.parametrize("name", TOGETHER)
def test_the_surface_told_holds_the_heat_of_all_flames(name, tmp_path, capsys):
    # each flame alone brings 366, 395 and 245 C; a peak from a power is told as known to 30 K, allowed here are 10
    (case,) = [one for one in CASES if one["name"] == name]
    (told,) = tried(capsys, tmp_path, case)
    peaks = [spot["surface_peak_C"] for spot in told["spots"]]
    assert peaks == pytest.approx([TOGETHER[name]] * len(peaks), abs=10.0)
