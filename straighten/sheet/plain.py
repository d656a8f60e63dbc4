"""The plain form of an answer, derived from its record: JSON scalars, the unit in every key; and SI back from it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from typing import Any, ClassVar, Final, NamedTuple

Triple = tuple[float, float, float]

# Units that a key may end in, with the factor from SI.
FACTORS: Final = {
    "mm": 1e3, "urad": 1e6, "kN": 1e-3, "min": 1 / 60, "h": 1 / 3600, "Nm": 1.0, "C": 1.0, "s": 1.0, "HB": 1.0,
}  # fmt: skip
MM: Final[Mapping[str, Any]] = {"unit": "mm"}
DEGREES: Final[Mapping[str, Any]] = {"unit": "C"}
TORQUE: Final[Mapping[str, Any]] = {"unit": "Nm"}
SECONDS: Final[Mapping[str, Any]] = {"unit": "s"}
LEFT_OUT: Final[Mapping[str, Any]] = {"left_out": True}
RAW: Final[Mapping[str, Any]] = {"raw": True}  # plain already


class Range(NamedTuple):
    """10, 50 and 90 % of what is expected; in an answer an object with these keys."""

    low: float
    middle: float
    high: float


def called(key: str, **more: Any) -> Mapping[str, Any]:
    """Return the metadata of a field whose key in the answer is another; its unit stands at the end of the key.

    `names` turns a triple into an object with these keys; `by` turns records into an object by that field of theirs.
    """
    return {"key": key, **more}


class Answer:
    """A record that is an answer: `schema` names its form, `digits` cuts its figures."""

    __slots__ = ()
    schema: ClassVar[str] = ""
    digits: ClassVar[int | None] = None

    def to_plain(self) -> dict[str, Any]:
        """Return the answer as JSON scalars with the unit in every key."""
        named = {"schema": f"straighten/{self.schema}"} if self.schema else {}
        return named | _record(self, 1.0, self.digits)


def _record(record: Any, factor: float, digits: int | None) -> dict[str, Any]:
    keyed = {}
    for field in fields(record):
        meta, value = field.metadata, getattr(record, field.name)
        if "left_out" in meta:
            continue
        key = meta.get("key", f"{field.name}_{meta['unit']}" if "unit" in meta else field.name)
        keyed[key] = _named(value, meta, FACTORS.get(key.rpartition("_")[2], factor), digits)
    return keyed


def _named(value: Any, meta: Mapping[str, Any], factor: float, digits: int | None) -> Any:
    if "raw" in meta:
        return value
    if "by" in meta:
        return {getattr(one, meta["by"]): _plain(one, factor, digits) for one in value}
    told = _plain(value, factor, digits)
    return dict(zip(meta["names"], told, strict=True)) if "names" in meta else told


def _plain(value: Any, factor: float, digits: int | None) -> Any:
    if isinstance(value, Answer):
        return value.to_plain()
    if is_dataclass(value):
        return _record(value, factor, digits)
    if isinstance(value, Range):
        value = value._asdict()
    if isinstance(value, dict):
        return {key: _plain(inner, factor, digits) for key, inner in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(inner, factor, digits) for inner in value]
    return _scaled(value, factor, digits) if _is_figure(value) else value


def _is_figure(value: Any) -> bool:
    return isinstance(value, float | int) and not isinstance(value, bool)


def _scaled(value: float, factor: float, digits: int | None) -> float | None:
    if isinstance(value, int) and factor == 1.0:
        return value
    scaled = float(factor * value)
    if math.isinf(scaled):
        return None
    return scaled if digits is None else float(f"{scaled:.{digits}g}")


def si(plain: Any, factor: float = 1.0) -> Any:
    """Return a plain form with its figures in SI and no unit in its keys."""
    if isinstance(plain, dict):
        return dict(_si_item(key, value, factor) for key, value in plain.items())
    if isinstance(plain, list):
        return [si(value, factor) for value in plain]
    return plain / factor if _is_figure(plain) and factor != 1.0 else plain


def _si_item(key: str, value: Any, factor: float) -> tuple[str, Any]:
    name, _, unit = key.rpartition("_")
    return (name, si(value, FACTORS[unit])) if name and unit in FACTORS else (key, si(value, factor))
