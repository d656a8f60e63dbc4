"""Files and answers as no one should write them: sound ones spoilt in their text, in their tables, or made up from keys."""

from __future__ import annotations

import copy
import datetime as dt
import json
import math
import re
import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from random import Random
from typing import Any

from hypothesis import strategies as st

from straighten.head import template_head

ROOT = Path(__file__).parents[2]
EXAMPLES = ROOT / "worked_examples"
SAWMILL = EXAMPLES / "sand-only-sawmill-four"
KINDS = ("head", "survey", "csv", "setup", "tightening", "sand-log", "surface", "finish", "export", "config")

CSV = """kind,line,mode,station_mm,goes_mm,stops_mm,value,place,side
deck,centre,bridged,70,0.05,0.06,,,
deck,centre,bridged,210,0.15,0.18,,,
deck,centre,bridged,350,0.05,0.06,,,
deck,exhaust edge,bridged,210,0.12,0.15,,,
cam,single,bridged,210,0.10,0.12,,,
hardness,,,,,,84,deck,exhaust
intake,,,,,,none found,cracks,
intake,,,,,,no,magnesium,
height,,,,,,92.4,anywhere,
"""
CONFIG = 'book = "shop.book"\n'

VALUES: tuple[Any, ...] = (
    True, False, -1, 0, 1, 7, 0.0, -0.0, 0.5, -3.5, math.nan, math.inf, -math.inf, 1e308, 5e-324, 2**63, -(2**63), 10**30,
    10**400, "", " ", "0,10 mm", "1e999 mm", "nan mm", "inf", "-5 mm", "½ mm", "٣ mm", "1/0 in", "3/8 in", "1e308 GPa", "0 kg",
    "9" * 39, "0x10", "1_000", "🔧", "\u202egnp.exe", "a" * 5000, "'; DROP TABLE entry; --", "=1+1", "@SUM(A1)", "../x", "C:\\x",
    "CON", "\0", "\x1b[31m", "a\nb", "\ud7ff", [], {}, [[]], [{}], [None], dt.date(1, 1, 1), dt.datetime(9999, 12, 31, 23, 59, 59, tzinfo=dt.UTC),
    dt.time(0, 0), "goes 0.1 stops 0.05", "0.15-0.18", "mm", "inch", "both", "bridged", "dial", "unknown", "A356-T6", 420, 25.4,
)  # fmt: skip
CHUNKS = (
    "\0", "\ufeff", "\x07", "\x1b[2J", "\u202e", "\u2028", "\x85", "\x0b", '"', "'", '"""', "[", "]", "[[", "{", "}", "=", "#",
    "\\", "\r", "\n", "\t", ",", ";", "-", "e", "1e999", "nan", "inf", "0x", "9" * 5000, "[" * 2000, "a." * 2000, "𝔘", "é",
    "a = 1\n" * 500, "\\ud800", "\\u0000", "00", "--", "+", "1979-05-27", "%s%n", "=cmd|' /C calc'!A0",
)  # fmt: skip


def _deep(rng: Random) -> Any:
    found: Any = 1
    for _ in range(rng.choice((3, 11, 13, 60, 200))):
        found = [found] if rng.random() < 0.5 else {"a": found}
    return found


@cache
def sound(kind: str) -> tuple[str, ...]:
    """Return the texts of sound files of a kind."""
    pump, reference = EXAMPLES / "irrigation-pump-four", ROOT / "docs" / "reference" / "examples"
    desk = ROOT / "straighten" / "desk" / "example_survey.toml"
    files: dict[str, tuple[Path, ...]] = {
        "head": (pump / "head.toml", reference / "head.toml"),
        "survey": (desk, pump / "survey-1.toml", EXAMPLES / "hand-it-on-ferry-six" / "survey-1.toml"),
        "setup": (reference / "setup.toml", reference / "soak.toml", pump / "pass-1.toml"),
        "tightening": (reference / "tightening.toml",),
        "sand-log": (SAWMILL / "sand-1.toml",),
        "surface": (SAWMILL / "surface.toml",),
        "finish": (SAWMILL / "final.toml",),
    }
    texts = tuple(path.read_text(encoding="utf-8") for path in files.get(kind, ()))
    more = {"head": (template_head(),), "csv": (CSV,), "config": (CONFIG,), "export": (_export(),)}
    return texts + more.get(kind, ())


def _export() -> str:
    """Return a head with two entries as `export` writes it."""
    import tempfile

    from straighten.book import open_book

    with tempfile.TemporaryDirectory() as folder, open_book(Path(folder) / "b.book") as book:
        head = book.append("pump-four", "head", {"name": "pump-four", "text": template_head()})
        book.append("pump-four", "check", {"refusal": {"gap_mm": [0.1, 0.2]}}, inputs=[head.number])
        return json.dumps(book.export_plain("pump-four"), sort_keys=True, indent=1)


def spoilt(kind: str, rng: Random) -> bytes:
    """Return a file of a kind, spoilt; now and then left sound, or only changed so that it stays sound."""
    text = rng.choice(sound(kind))
    way = rng.random()
    if way < 0.02:
        return text.encode()
    if way < 0.4 or kind == "csv":
        return _bytes_spoilt(_text_spoilt(text, rng), rng)
    tree = json.loads(text) if kind == "export" else tomllib.loads(text)
    if way < 0.9:
        for _ in range(rng.choice((1, 1, 1, 2, 5))):
            _tree_spoilt(tree, rng)
    else:
        tree = _made_up(tree, rng)
    return written(kind, tree)


def written(kind: str, tree: Any) -> bytes:
    """Return tables as a file of a kind."""
    if kind == "export":
        return json.dumps(tree, default=str).encode("utf-8", "surrogatepass")
    top = tree if isinstance(tree, dict) else {"a": tree}
    lines = "".join(f"{_quoted(key)} = {_toml(value)}\n" for key, value in top.items())
    return lines.encode("utf-8", "surrogatepass")


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=True)


def _toml(value: Any) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, dict):
        return "{" + ", ".join(f"{_quoted(str(k))} = {_toml(v)}" for k, v in value.items()) + "}"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(_toml(item) for item in value) + "]"
    if isinstance(value, str):
        return _quoted(value)
    if isinstance(value, dt.date | dt.time):
        return value.isoformat()
    return "''" if value is None else repr(value)  # floats and whole numbers; nan and inf are TOML


@dataclass
class _Place:
    inside: Any
    key: Any

    @property
    def value(self) -> Any:
        return self.inside[self.key]


def _places(tree: Any) -> list[_Place]:
    keys = tree.keys() if isinstance(tree, dict) else range(len(tree)) if isinstance(tree, list) else ()
    found = []
    for key in keys:
        found.append(_Place(tree, key))
        found += _places(tree[key])
    return found


def _tree_spoilt(tree: Any, rng: Random) -> None:
    places = _places(tree)
    if not places:
        return
    place, other = rng.choice(places), rng.choice(places)
    value = place.value
    rng.choice(_CHANGES)(place, other, value, rng)


def _put(place: _Place, _other: _Place, _value: Any, rng: Random) -> None:
    place.inside[place.key] = copy.deepcopy(rng.choice(VALUES))


def _scaled(place: _Place, _other: _Place, value: Any, rng: Random) -> None:
    number = isinstance(value, int | float) and not isinstance(value, bool) and -1e300 < value < 1e300
    factor = rng.choice((-1, 0.1, 0.9, 1.1, 1e-3, 1e3, 25.4, 1 / 25.4, 1e9, rng.uniform(0.2, 3)))
    place.inside[place.key] = value * factor if number else value


def _swapped(place: _Place, other: _Place, value: Any, _rng: Random) -> None:
    kept = copy.deepcopy(other.value)
    other.inside[other.key] = copy.deepcopy(value)
    if not (isinstance(place.inside, list) and place.key >= len(place.inside)):
        place.inside[place.key] = kept


def _dropped(place: _Place, _other: _Place, _value: Any, _rng: Random) -> None:
    del place.inside[place.key]


def _renamed(place: _Place, other: _Place, value: Any, rng: Random) -> None:
    if isinstance(place.inside, dict):
        del place.inside[place.key]
        fresh = rng.choice(
            (place.key[:-1], place.key + "s", place.key.upper(), str(other.key), "", "\u202e", "__class__")
        )
        place.inside[fresh] = value


def _repeated(place: _Place, _other: _Place, value: Any, rng: Random) -> None:
    if isinstance(place.inside, list):
        place.inside.extend(copy.deepcopy(value) for _ in range(rng.choice((1, 5, 250))))
    else:
        place.inside[place.key] = [copy.deepcopy(value)] * rng.choice((1, 2, 70))


def _wrapped(place: _Place, _other: _Place, value: Any, rng: Random) -> None:
    place.inside[place.key] = rng.choice(([value], {"a": value}, str(value), _deep(rng)))


_CHANGES = (_put, _put, _put, _scaled, _scaled, _swapped, _dropped, _renamed, _repeated, _wrapped)


def _made_up(tree: Any, rng: Random) -> Any:
    """Return tables with the keys of a sound file and values of no file."""
    if isinstance(tree, dict):
        return {key: _made_up(value, rng) for key, value in tree.items() if rng.random() < 0.8}
    if isinstance(tree, list) and rng.random() < 0.7:
        return [_made_up(item, rng) for item in tree]
    return tree if rng.random() < 0.7 else copy.deepcopy(rng.choice(VALUES))


def _text_spoilt(text: str, rng: Random) -> str:
    for _ in range(rng.choice((1, 1, 2, 6))):
        at, to = sorted(rng.randrange(len(text) + 1) for _ in "ab")
        way = rng.randrange(7)
        if way == 0:
            text = text[:at] + rng.choice(CHUNKS) + text[at:]
        elif way == 1:
            text = text[:at] + text[min(to, at + rng.choice((1, 2, 40))) :]
        elif way == 2:
            text = text[:at] + text[at:to] * 2 + text[to:]
        elif way == 3:
            text = text[:at]
        elif way == 4:
            lines = text.splitlines(keepends=True)
            rng.shuffle(lines)
            text = "".join(lines)
        else:
            text = _number_changed(text, rng)
    return text


def _number_changed(text: str, rng: Random) -> str:
    digits = [place for place, letter in enumerate(text) if letter.isdigit()]
    if not digits:
        return text
    at = rng.choice(digits)
    return (
        text[:at]
        + rng.choice(("9", "0", "-", ".", ",", "999999", "e9", "nan", "", " ", "٣", "½"))
        + text[at + 1 :]
    )


def _bytes_spoilt(text: str, rng: Random) -> bytes:
    raw = bytearray(text.encode("utf-8", "surrogatepass"))
    way = rng.random()
    if way < 0.25 and raw:
        for _ in range(rng.choice((1, 1, 3, 30))):
            raw[rng.randrange(len(raw))] ^= 1 << rng.randrange(8)
    elif way < 0.3:
        return text.encode(rng.choice(("utf-16", "latin-1", "utf-8-sig", "utf-32")), "replace")
    return bytes(raw)


def made_of_keys() -> st.SearchStrategy[dict[str, Any]]:
    """Return tables of known keys with any values, as hypothesis makes them."""
    known = sorted(
        {word for kind in KINDS for text in sound(kind) for word in re.findall(r"[a-z_]{3,20}", text)}
    )
    cells = st.one_of(st.sampled_from(VALUES), st.text(max_size=20), st.floats(), st.integers())
    keys = st.sampled_from(known)
    inner = st.recursive(
        cells, lambda sub: st.lists(sub, max_size=5) | st.dictionaries(keys, sub, max_size=5)
    )
    return st.dictionaries(keys | st.text(max_size=8), inner, max_size=8)


def words(rng: Random) -> str:
    """Return something typed at a prompt."""
    way = rng.random()
    if way < 0.35:
        return rng.choice(
            (
                "",
                "b",
                "e",
                "r",
                "s",
                "y",
                "n",
                "mm",
                "thou",
                "done",
                "back",
                "skip",
                "why",
                "units",
                "yes",
                "stop",
                "=",
            )
        )
    if way < 0.6:
        return rng.choice(
            (
                "0.10-0.15",
                "goes .004",
                "0.1",
                "84",
                "0,10 mm",
                "4 thou",
                "92.4",
                "500 C",
                "20 Nm",
                "5 s",
                "10:45",
                "P120",
            )
        )
    if way < 0.8:
        return str(rng.choice(VALUES))[:6000] if rng.random() < 0.9 else repr(rng.choice(VALUES[:10]))
    return _text_spoilt(rng.choice(("0.10-0.15", "goes 0.10 stops 0.12", "20 Nm", "84")), rng)[:6000]


NAMES = (
    "../x", "..", ".", "/", "C:\\x", "\\\\host\\share", "", " ", "a" * 300, "a\0b", "\u202egnp", "שלום", "日本", "-", "--", "-x", "a/b/c",
    "\n", "\x1b[31m", "nobody", "~", "~root", "$HOME", "*", "con", "a.toml", "file:///etc/passwd", "%00", "é", "e\u0301", "🔧",
)  # fmt: skip
