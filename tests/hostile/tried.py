"""Set-ups drawn over the whole range that the files allow, their answers judged by physics from outside the program.

Three things hold whatever the model inside does. A share lies between nothing and all. What a clamped head keeps is no more
than it was bent, and what a heated roof shortens by is no more than hot metal expands by over what was hot; in the oven
bolts push on as the head grows in height, until its middle lies on the base: no more than its bow, the shims and the gap. One
more spot, all else alike, takes no less off.
"""

from __future__ import annotations

import contextlib
import io
import json
from collections.abc import Mapping
from pathlib import Path
from random import Random
from typing import Any

from straighten.cli import main
from tests.hostile.doors import Fault
from tests.hostile.spoilt import EXAMPLES

LENGTH, WIDTH, HEIGHT = 420.0, 150.0, 92.0  # mm, of the example's head
HEAD = EXAMPLES / "irrigation-pump-four" / "head.toml"
# Free expansion of aluminium up to 600 C: 23e-6 to 27e-6 per K (ASM Handbook, vol. 2, from memory), rounded up.
EXPANSION = 0.016
HOT = 4.0  # flux radii across: beyond two radii a Gaussian flame brings a fiftieth of its heat
LINES = 2.0  # a line of the head moves by no more than so many times the deck's middle (cam and deck are one casting)
UNBENT_MM = 0.02  # a head bent by less has nothing that a share could be told of
SLACK_MM, SLACK = 0.002, 0.02  # of the last digit printed, and of curves read off a grid


def drawn(rng: Random) -> dict[str, Any]:
    """Return a set-up: each figure anywhere between the ends that its key takes, the middle of the trade included."""
    spots = rng.randint(0, 8)
    stations = sorted(
        rng.uniform(0, LENGTH) if rng.random() < 0.2 else rng.uniform(100, 320) for _ in range(spots)
    )
    found: dict[str, Any] = {
        "head": str(HEAD),
        "bow_before": f"{rng.choice((0.1, 0.2, 0.4, rng.uniform(-3, 3))):.3f} mm",
        "rounds": rng.choice((1, 1, 2, 4)),
    }
    if rng.random() < 0.8:
        shim = rng.choice((0.05, 0.1, 0.2, rng.uniform(0, 5)))
        pull = {"gap": f"{rng.choice((0.0, 0.05, rng.uniform(0, 2))):.3f} mm"}
        if rng.random() < 0.3:
            pull = {"torque": f"{rng.choice((10, 20, rng.uniform(0, 1000))):.1f} Nm"}
        found["clamp"] = {"shims": f"{shim:.3f} mm", **pull}
    if spots:
        found["spots"] = [
            {
                "stations": stations,
                "side": rng.choice(("both", "exhaust", "inlet")),
                "flux_radius": f"{rng.choice((8, 12, 18, rng.uniform(1, 80))):.2f} mm",
                "dwell": f"{rng.choice((4, 8, rng.uniform(0.2, 600))):.2f} s",
                **_heat(rng),
            }
        ]
    elif "clamp" in found and rng.random() < 0.7:
        found["soak"] = {
            "temperature": f"{rng.uniform(60, 420):.0f} C",
            "hold": f"{rng.choice((0, 2, rng.uniform(0, 300))):.2f} h",
        }
    return found


def _heat(rng: Random) -> dict[str, str]:
    if rng.random() < 0.7:
        return {"peak": f"{rng.choice((420, 480, rng.uniform(-300, 700))):.0f} C"}
    return {"absorbed_power": f"{rng.choice((800, 2000, rng.uniform(0, 20000))):.0f} W"}


def tried(setup: Mapping[str, Any], folder: Path) -> tuple[int, str, str]:
    """Return exit code, answer and error of `try` on a set-up."""
    path = folder / "tried.toml"
    path.write_text("".join(_table(key, value) for key, value in _last(setup)), encoding="utf-8")
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = main(["try", str(path), "--json"])
    return code, out.getvalue(), err.getvalue()


def _last(setup: Mapping[str, Any]) -> list[tuple[str, Any]]:
    return sorted(setup.items(), key=lambda item: isinstance(item[1], dict | list))


def _table(key: str, value: Any) -> str:
    if isinstance(value, dict):
        return f"[{key}]\n" + "".join(f"{k} = {json.dumps(v)}\n" for k, v in value.items())
    if isinstance(value, list):
        return "".join(
            f"[[{key}]]\n" + "".join(f"{k} = {json.dumps(v)}\n" for k, v in t.items()) for t in value
        )
    return f"{key} = {json.dumps(value)}\n"


def judged(setup: Mapping[str, Any], folder: Path) -> Fault | None:
    """Try a set-up and one with a spot less; return what cannot be."""
    code, out, told = tried(setup, folder)
    raw = json.dumps(setup).encode()
    if code == 1 or "outside what can be computed" in told or "Traceback" in told:
        return Fault("hang" if "TimeoutError" in told else "traceback", "try", told[:300], raw)
    if code != 0:
        return None
    rounds = json.loads(out)["rounds"]
    problem = next((p for p in (_impossible(r, setup) for r in rounds) if p), "") or _less(
        setup, rounds[0], folder
    )
    return Fault("absurd", "try", problem, raw) if problem else None


def _impossible(found: Mapping[str, Any], setup: Mapping[str, Any]) -> str:
    share = found["kept_share_of_bend"]
    bend, free = abs(found["bend_imposed_mm"] or 0.0), _free(setup)
    room = max(bend, _to_the_base(found, setup)) if "soak" in setup else bend
    if share is None and bend >= UNBENT_MM:
        return f"no kept share, bent {bend:.3f} mm"
    if share is not None and not 0 <= share <= 1:
        return f"kept share {share:.3f}"
    for line, change in found["change_of_bow_mm"].items():
        if not abs(change) <= LINES * (room + free) + SLACK_MM:
            return f"{line} moves {change:.3f} mm, bent {bend:.3f} mm, heat alone at most {free:.3f} mm"
    return ""


def _to_the_base(found: Mapping[str, Any], setup: Mapping[str, Any]) -> float:
    """Return how far the middle can come down before it lies on the base [mm]: bow and shims."""
    return abs(found["bow_before_mm"]["deck edges"]) + float(setup["clamp"]["shims"].split()[0])


def _free(setup: Mapping[str, Any]) -> float:
    """Return what the heat could take off in the middle at most [mm]: every hot place of the roof shortened by all that it expands."""
    total = 0.0
    for table in setup.get("spots", []):
        hot = HOT * float(table["flux_radius"].split()[0])
        sides = 2 if table["side"] == "both" else 1
        kink = EXPANSION * hot * min(1.0, hot / WIDTH) / HEIGHT
        total += sum(sides * kink * min(x, LENGTH - x) / 2 for x in table["stations"])
    return total


def _less(setup: Mapping[str, Any], first: Mapping[str, Any], folder: Path) -> str:
    """Say where a spot less, all else alike, takes more off."""
    spots = setup.get("spots", [])
    if not spots or len(spots[0]["stations"]) < 2:
        return ""
    fewer = {**setup, "rounds": 1, "spots": [{**spots[0], "stations": spots[0]["stations"][:-1]}]}
    code, out, _ = tried(fewer, folder)
    if code != 0:
        return ""
    before = json.loads(out)["rounds"][0]
    more, less = (-r["change_of_bow_mm"]["deck edges"] for r in (first, before))
    if more < less - SLACK_MM - SLACK * abs(less):
        return f"{len(spots[0]['stations'])} stations take {more:.3f} mm, one less {less:.3f} mm"
    return ""
