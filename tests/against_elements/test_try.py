"""`straighten try` against 3D finite elements of a solid bar and of a hollow head-like box."""

import json
import tomllib
from pathlib import Path

import pytest

from straighten.cli import main

SOURCE = "3D finite elements, hollow box and solid bar, through `straighten try`; derived: own runs of the same kind"
MARK = "seen"

HERE = Path(__file__).parent
CASES = tomllib.loads((HERE / "cases.toml").read_text(encoding="utf-8"))
LINES = ("deck centre", "deck edges", "cam face centre", "cam face edges")


def tried(capsys, folder, head, shims=None, spots="", extra=""):
    clamp = "" if shims is None else f'[clamp]\nshims = "{shims} mm"\ngap = 0\n'
    path = folder / "setup.toml"
    path.write_text(f'head = "{HERE / head}.toml"\nbow_before = "0.40 mm"\n{extra}\n{clamp}\n{spots}')
    assert main(["try", str(path), "--json"]) == 0
    return json.loads(capsys.readouterr().out)["rounds"]


def mark_of(case):
    """Four spots of the given runs set the constants of the lines and of the kept strain: no independent check."""
    if case.get("name", "").startswith("four spots"):
        return "fitted"
    return "seen" if case["source"] == "given" else "derived"


def spot_tables(case):
    side, across = case.get("side", "both"), case.get("across")
    return "".join(
        f'[[spots]]\nstations = {stations}\nside = "{side}"\nflux_radius = {case["radius"]}\ndwell = {case["dwell"]}\n'
        f"absorbed_power = {case['power']}\npause = 3600\n"
        + ("" if across is None else f"across = {across}\n")
        for stations in case["stations"]
    )


@pytest.mark.parametrize("case", CASES["elastic"], ids=lambda c: f"{c['head']}-{c['shims']}")
def test_clamp_force_and_height_of_the_middle(capsys, tmp_path, case, published):
    # source: 3D finite elements, see cases.toml; 8 % is what a beam with local give can be asked for
    (found,) = tried(capsys, tmp_path, case["head"], case["shims"])
    told = {"rel": 0.08, "mark": mark_of(case), "case": f"{case['head']} over {case['shims']} mm"}
    published("clamp force", found["clamp_force_N"], case["force"], unit="N", **told)
    published("height of the middle", found["clamped_middle_height_mm"], case["middle"], unit="mm", **told)


@pytest.mark.parametrize("case", CASES["heat"], ids=lambda c: c["name"])
def test_change_of_bow(capsys, tmp_path, case, published):
    # source: 3D finite elements, see cases.toml
    (found,) = tried(capsys, tmp_path, case["head"], case.get("shims"), spot_tables(case))
    # own runs: nothing is fitted to them; a long dwell leaves the cam face's edges 15.0 % high, the worst of all lines
    allowed = 0.10 if case["source"] == "given" else 0.16
    for line, change in zip(LINES, case["change"], strict=True):
        ours = found["change_of_bow_mm"][line]
        published(f"{case['name']}: {line}", ours, change, unit="mm", rel=allowed, mark=mark_of(case))


def test_the_same_places_again_give_next_to_nothing(capsys, tmp_path):
    # source: 3D finite elements: the second heating took 0.00585 mm, 6 % of the first round's 0.1032 mm
    case = next(c for c in CASES["heat"] if c["name"].startswith("four spots, clamped"))
    first, second = tried(capsys, tmp_path, "box", 0.1, spot_tables(case), "rounds = 2")
    ratio = second["change_of_bow_mm"]["deck centre"] / first["change_of_bow_mm"]["deck centre"]
    assert 0.0 < ratio < 0.10


def test_kept_share_of_the_bend(capsys, tmp_path, published):
    # source: 3D finite elements: (0.1032 - 0.0620) mm kept of 0.444 mm by which the clamp moves the middle
    case = next(c for c in CASES["heat"] if c["name"].startswith("four spots, clamped"))
    (found,) = tried(capsys, tmp_path, "box", 0.1, spot_tables(case))
    moved = 0.361 + 0.083
    printed = (0.1032 - 0.0620) / moved
    published(
        "kept share of the bend, four spots", found["kept_set_mm"] / moved, printed, rel=0.20, mark="fitted"
    )
