"""A card back from its plain form in the book."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import MISSING, Field, fields
from datetime import datetime
from typing import Any, get_args, get_origin, get_type_hints

from straighten.sheet import card as records
from straighten.sheet.card import Card
from straighten.units import System


def card_from_plain(plain: dict[str, Any]) -> Card:
    """Return the card that `Card.to_plain` wrote; keys that it does not know are left alone.

    Raises:
        ValueError: a part is missing or not of its kind.
    """
    try:
        made = _record(Card, plain)
    except (KeyError, TypeError, AttributeError) as fault:
        raise ValueError(f"no card: {fault!r}") from None
    assert isinstance(made, Card)  # noqa: S101 - for the type checker
    for told in (made.made_at, made.ready_at, made.unclamp_at):
        if told:
            datetime.fromisoformat(told)
    return made


def _record(kind: Any, plain: dict[str, Any]) -> Any:
    hints = get_type_hints(kind, {**vars(records), "System": System})
    return kind(**{f.name: value for f in fields(kind) if (value := _field(f, plain, hints)) is not MISSING})


def _field(field: Field[Any], plain: dict[str, Any], hints: dict[str, Any]) -> Any:
    unit, factor = records._UNITS.get(field.name, ("", 1.0))
    key = f"{field.name}_{unit}" if unit else field.name
    if key not in plain and not (field.default is MISSING and field.default_factory is MISSING):
        return MISSING
    if key not in plain and field.type == "str":  # a card of before that line was printed
        return ""
    return _value(hints[field.name], plain[key], factor)


def _value(kind: Any, plain: Any, factor: float) -> Any:
    if plain is None and (kind is Any or type(None) in get_args(kind)):
        return None
    if get_origin(kind) is tuple:
        inner = get_args(kind)[0]
        return tuple(_value(inner, item, factor) for item in plain)
    chosen = next((k for k in get_args(kind) if hasattr(k, "__dataclass_fields__")), kind)
    if chosen is records.Range:
        return records.Range(**{name: plain[name] / factor for name in ("low", "middle", "high")})
    if hasattr(chosen, "__dataclass_fields__"):
        return _record(chosen, plain)
    kinds = list(_kinds(kind))
    if not any(_is_one(plain, k) for k in kinds):
        raise TypeError(f"{plain!r:.40} is none of {kinds}")
    return plain / factor if isinstance(plain, float | int) and factor != 1.0 else plain


def _kinds(kind: Any) -> Iterator[Any]:
    """Yield what a value may be, a kind or a word; of a table only that it is one."""
    if get_origin(kind) is dict:
        yield dict
    elif parts := get_args(kind):
        for part in parts:
            yield from _kinds(part)
    else:
        yield kind


def _is_one(plain: Any, kind: Any) -> bool:
    if kind is Any:
        return True
    if kind is float:
        return isinstance(plain, float | int) and not isinstance(plain, bool)
    return isinstance(plain, kind) if isinstance(kind, type) else bool(plain == kind)
