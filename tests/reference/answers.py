"""Keys of the JSON answers: the commands are run on the worked examples, what they say is told as JSON Schema."""

from __future__ import annotations

import contextlib
import io
import json
import re
import shutil
import tempfile
from functools import cache
from pathlib import Path
from typing import Any

from tests.reference import FOLDER, NOTE, ROOT

EXAMPLES = ROOT / "worked_examples"
UNITS = {
    "mm": "mm", "um": "um", "m": "m", "N": "N", "Nm": "Nm", "kN": "kN", "C": "degC", "K": "K", "s": "s", "h": "h",
    "min": "min", "HB": "HB", "rad": "rad", "deg": "deg", "percent": "per cent", "money": "owner's money", "kg": "kg",
    "cm3": "cm3", "W": "W", "MPa": "MPa", "GPa": "GPa", "Nm2": "N m2", "J": "J",
}  # fmt: skip
# Answers whose keys are names of things, not of fields: one entry stands for all.
FREE = re.compile(r"^(factors|consequences|change_of_bow_mm|before_mm|after_mm|heights_mm)$")


def runs(folder: Path) -> list[list[str]]:
    """Return the commands that are run, in order, in a folder that holds the worked examples."""
    pump, saw, ferry = ("irrigation-pump-four", "sand-only-sawmill-four", "hand-it-on-ferry-six")
    setup, strong = FOLDER / "examples" / "setup.toml", folder / "strong.toml"
    text = setup.read_text(encoding="utf-8").replace('"0.40 mm"', '"0.02 mm"')  # told among the dangers
    strong.write_text(text.replace('"head.toml"', f'"{setup.parent / "head.toml"}"'), encoding="utf-8")
    return [
        ["where"],
        ["plan"],
        ["explain"],
        ["measure", pump, "survey-1.toml"],
        ["check", pump],
        ["bench", pump],
        ["plan", pump],
        ["sheet", pump, "--out", str(folder / "card.html")],
        ["tighten", pump, "--torque", "10 Nm", "--goes", "0.10", "--stops", "0.12"],
        ["stage", pump, "--gap", "0.20-0.25", "--after", "2 min"],
        ["log", pump, "survey-2.toml", "--done", "pass-1.toml"],
        ["plan", pump],
        ["decide", pump],
        ["explain", pump],
        ["sheet", pump, "--report", "--all", "--out", str(folder / "report.html")],
        ["measure", saw, "survey-1.toml"],
        ["sand", saw, "--surface", "surface.toml"],
        ["sand", saw, "--surface", "surface.toml", "--log", "sand-1.toml"],
        ["measure", saw, "survey-2.toml"],
        ["finish", saw, "--answers", "final.toml"],
        ["measure", ferry, "survey-1.toml"],
        ["finish", ferry],
        ["try", str(setup)],
        ["try", str(strong)],
        ["heads"],
        ["history"],
        ["new", "fresh-four"],
        ["export", pump, "--out", str(folder / "pump.json")],
        ["import", str(folder / "pump.json")],
        ["strike", "2", "--reason", "a trial"],
        ["settle", pump],
        ["book", "check"],
        ["book", "rescue", str(folder / "fresh.book")],
        ["book", "merge", str(folder / "fresh.book")],
    ]


@cache
def answers() -> dict[str, list[Any]]:
    """Return the answers of all runs by schema name, asked for once."""
    found: dict[str, list[Any]] = {}
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        shutil.copytree(EXAMPLES, folder / "examples")
        with contextlib.chdir(folder / "examples"):
            for words in runs(folder):
                answer = json.loads(said([*words, "--json"], folder / "reference.book"))
                found.setdefault(answer["schema"], []).append(answer)
    return found


def said(words: list[str], book: Path) -> str:
    """Run a command in this process and return what it printed."""
    from straighten.cli import main

    out, err = io.StringIO(), io.StringIO()
    told = (
        []
        if words[0] in ("try", "new") or words[:2] in (["plan", "--json"], ["explain", "--json"])
        else ["--book", str(book)]
    )
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = main([*words, *told])
    if code != 0:
        raise RuntimeError(f"{' '.join(words)} gave {code}: {err.getvalue()}")
    return out.getvalue()


def answer_pages() -> dict[str, str]:
    """Return the page of answers and one JSON Schema an answer."""
    pages: dict[str, str] = {}
    parts = [
        NOTE,
        "# Answers as JSON\n",
        "Every answer comes as one JSON object with `--json`: keys sorted, numbers finite, `schema` naming its form. The"
        " unit stands in the key; a triple in a range is the 10, 50 and 90 % point. Below are the keys of each answer, those"
        " inside them in brackets. The JSON Schema files (draft 2020-12) tell every key with kind and unit, as the"
        " commands say them on the worked examples; a key that is empty there is told as null. Within one schema number"
        " keys are added, never renamed or dropped.\n",
    ]
    told = {name: _widened(schema_of(samples), _before(name)) for name, samples in sorted(answers().items())}
    judgement = next(s["properties"]["judgement"] for s in told.values() if "judgement" in s["properties"])
    parts += [f"`schema` and `name` (of the head) say what they say. `judgement` holds {_keys(judgement)}.\n"]
    for name, merged in told.items():
        head = {"$schema": "https://json-schema.org/draft/2020-12/schema", "title": name}
        pages[f"schemas/{_slug(name)}.json"] = json.dumps({**head, **merged}, indent=1, sort_keys=True) + "\n"
        parts.append(f"**[{name}](schemas/{_slug(name)}.json)**: {_keys(merged)}.\n")
    return {**pages, "answers.md": "\n".join(parts) + "\n"}


def _slug(name: str) -> str:
    return name.removeprefix("straighten/").replace("/", "-")


def _before(name: str) -> dict[str, Any]:
    path = FOLDER / "schemas" / f"{_slug(name)}.json"
    return json.loads(path.read_text(encoding="utf-8")) if path.exists() else {}


def _widened(now: dict[str, Any], before: dict[str, Any]) -> dict[str, Any]:
    """Return the schema with what was told before of a list that is empty today, or of a value that is missing.

    Keys are those of today: one that is gone shows.
    """
    found = {**{k: v for k, v in before.items() if k not in ("$schema", "title")}, **now}
    kinds = sorted({kind for one in (now, before) for kind in _kinds(one)})
    if kinds:
        found["type"] = kinds[0] if len(kinds) == 1 else kinds
    for part in ("items", "additionalProperties"):
        if part in now and part in before:
            found[part] = _widened(now[part], before[part])
    if "properties" in now:
        old = before.get("properties", {})
        found["properties"] = {n: _widened(one, old.get(n, {})) for n, one in now["properties"].items()}
    return found


def _kinds(schema: dict[str, Any]) -> list[str]:
    told = schema.get("type", [])
    return [told] if isinstance(told, str) else told


def schema_of(samples: list[Any], key: str = "", above: str = "") -> dict[str, Any]:
    """Return a JSON Schema that holds for all samples; a key without a unit takes that of the key above it."""
    kinds = sorted({_kind(s) for s in samples})
    schema: dict[str, Any] = {"type": kinds[0] if len(kinds) == 1 else kinds}
    unit = unit_of(key) or above
    if unit and "number" in kinds:
        schema["unit"] = unit
    objects = [s for s in samples if isinstance(s, dict)]
    if objects:
        schema.update(_object(objects, key, unit))
    items = [i for s in samples if isinstance(s, list) for i in s]
    if items:
        schema["items"] = schema_of(items, key, unit)
    return schema


def _object(objects: list[dict[str, Any]], key: str, unit: str) -> dict[str, Any]:
    if FREE.search(key):
        return {"additionalProperties": schema_of([v for o in objects for v in o.values()], "", unit)}
    names = sorted({name for o in objects for name in o})
    return {
        "properties": {n: schema_of([o[n] for o in objects if n in o], n, unit) for n in names},
        "required": [n for n in names if all(n in o for o in objects)],
    }


def _kind(value: Any) -> str:
    if value is None:
        return "null"
    if isinstance(value, bool):
        return "boolean"
    if isinstance(value, int | float):
        return "number"
    return {str: "string", list: "array", dict: "object"}[type(value)]


def unit_of(key: str) -> str:
    """Return the unit that stands at the end of a key."""
    return UNITS.get(key.rpartition("_")[2], "") if "_" in key else ""


def _keys(schema: dict[str, Any]) -> str:
    """Return the keys of an answer, those inside an object or a list of objects in brackets."""
    told = []
    for key, inner in schema["properties"].items():
        inside = "" if key == "judgement" else ", ".join(_deep(inner).get("properties", {}))
        told += [f"`{key}`" + (f" ({inside})" if inside else "")] if key not in ("schema", "name") else []
    return ", ".join(told)


def _deep(schema: dict[str, Any]) -> dict[str, Any]:
    return schema.get("items", schema)
