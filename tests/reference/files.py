"""Keys of the files that a person writes: kind and default from the models, meaning from meanings.toml beside this file."""

from __future__ import annotations

import datetime as dt
import tomllib
import types
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo
from pydantic_core import PydanticUndefined

from tests.reference import MEANINGS, NOTE, table

PLAIN = {
    str: "text",
    int: "whole number",
    float: "number",
    bool: "true or false",
    dt.datetime: "date",
    dt.date: "date",
}


def file_pages() -> dict[str, str]:
    """Return one page a file, and the page that lists them."""
    words = tomllib.loads(MEANINGS.read_text(encoding="utf-8"))
    pages, rows = {}, []
    for title, slug, model in models():
        told = words[slug]
        parts = [NOTE, f"# {title}\n", told["page"] + "\n"]
        parts += list(_tables(model, told))
        if "closing" in told:
            parts.append(told["closing"] + "\n")
        for name in told.get("examples", []):
            parts.append(f"\nAn example to read along: [{name}](examples/{name}).\n")
        pages[f"{slug}.md"] = "\n".join(parts)
        rows.append((f"[{title}]({slug}.md)", told["used"]))
    rows += [tuple(row) for row in words["others"]]
    pages["README.md"] = "\n".join(
        [
            NOTE,
            "# Reference\n",
            table(("page", "what it tells"), rows),
            words["units"],
        ]
    )
    return pages


def models() -> list[tuple[str, str, type[BaseModel]]]:
    """Return title, slug and model of every file."""
    from straighten.desk.finishing import FinishFile
    from straighten.desk.logging import TighteningFile
    from straighten.desk.sanding_files import SandLogFile
    from straighten.desk.setup_file import SetupFile
    from straighten.head.file import HeadFile
    from straighten.readings.file import SurveyFile

    return [
        ("Head file", "head", HeadFile),
        ("Survey file", "survey", SurveyFile),
        ("Set-up file", "setup", SetupFile),
        ("Tightening file", "tightening", TighteningFile),
        ("Sand log", "sand-log", SandLogFile),
        ("Final list", "final-list", FinishFile),
    ]


def _tables(model: type[BaseModel], told: dict[str, Any], path: str = "", shown: str = "") -> Any:
    inner: list[tuple[str, str, type[BaseModel]]] = []
    rows = []
    meanings = told["keys"]
    for name, field in model.model_fields.items():
        key = f"{path}.{name}" if path else name
        below = _model_in(field.annotation)
        if below is not None:
            many = "list" in str(field.annotation)
            if not issubclass(model, below):  # a heat of a sequence has the file's own keys
                inner.append((key, f"[[{key}]]" if many else f"[{key}]", below))
        rows.append((f"`{name}`", kind_of_field(field), _default(field), meanings[key]))
    if path:
        yield f"\n## {shown}\n"
    yield table(("key", "kind", "default", "meaning"), rows)
    for key, heading, below in inner:
        yield from _tables(below, told, key, heading)


def keys_of(model: type[BaseModel], path: str = "") -> list[str]:
    """Return every key of a file with its path."""
    found = []
    for name, field in model.model_fields.items():
        key = f"{path}.{name}" if path else name
        found.append(key)
        below = _model_in(field.annotation)
        if below is not None and not issubclass(model, below):
            found += keys_of(below, key)
    return found


def _model_in(annotation: Any) -> type[BaseModel] | None:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    return next((m for a in get_args(annotation) if (m := _model_in(a)) is not None), None)


def _default(field: FieldInfo) -> str:
    value = field.default
    if field.is_required():
        return "**needed**"
    if value is None or value is PydanticUndefined or value in ("", []) or isinstance(value, BaseModel):
        return ""
    if isinstance(value, bool):
        return f"`{str(value).lower()}`"
    if isinstance(value, float):
        kind = quantity_of(field)
        return f"{value:g} {SI[kind]}".strip() if kind else f"{value:g}"
    return f"`{value}`" if not isinstance(value, str) else f'`"{value}"`'


SI = {"length": "m", "gap": "m", "mass": "kg", "torque": "Nm", "temperature": "C", "power": "W", "duration": "s",
      "stress": "Pa", "force": "N", "angle": "rad", "volume": "m3"}  # fmt: skip


def quantity_of(field: FieldInfo | Any) -> str | None:
    """Return the kind of quantity that a field holds, or None."""
    for part in (*getattr(field, "metadata", ()), *_flat(getattr(field, "annotation", field))):
        reader = getattr(part, "func", None)
        if reader is not None and reader.__qualname__.startswith("_quantity"):
            return dict(
                zip(reader.__code__.co_freevars, (c.cell_contents for c in reader.__closure__), strict=True)
            )["kind"]
    return None


def _flat(annotation: Any) -> list[Any]:
    return [part for a in get_args(annotation) for part in (a, *_flat(a))]


def kind_of_field(field: FieldInfo) -> str:
    """Return what a field may hold, in words, with its bounds."""
    annotation = field.annotation
    bounds = _bounds([*field.metadata, *_flat(annotation)])
    many = any(get_origin(a) is list for a in (annotation, *_flat(annotation)))
    inner = quantity_of(field)
    if _model_in(annotation) is not None:
        return "tables" if get_origin(annotation) is list else "table"
    words = inner or _words(annotation)
    return (f"list of {words}" if many else words) + (f", {bounds}" if bounds and not many else "")


def _bounds(parts: list[Any]) -> str:
    found = []
    for part in parts:
        for name, sign in (("ge", ">="), ("gt", ">"), ("le", "<="), ("lt", "<")):
            value = getattr(part, name, None)
            if value is not None:
                found.append(f"{sign} {value:g}")
    return " and ".join(dict.fromkeys(found))


def _words(annotation: Any) -> str:
    origin = get_origin(annotation)
    if origin is Annotated:
        return _words(get_args(annotation)[0])
    if origin is Literal:
        return " or ".join(f'`"{a}"`' if isinstance(a, str) else f"`{a}`" for a in get_args(annotation))
    if origin in (Union, types.UnionType, list):
        inner = [_words(a) for a in get_args(annotation) if a is not type(None)]
        return " or ".join(dict.fromkeys(inner))
    return PLAIN.get(annotation, getattr(annotation, "__name__", str(annotation)))
