"""Read a person's TOML file into a checked model, and turn every fault into one clear sentence.

The ground for the files of `head`, `readings` and the set-ups to try: quantities with units as annotated
types, unknown keys that name their nearest neighbour, and a wall against files no bench ever wrote.
"""

import re
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Annotated, Any, TypeVar, get_args

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationError, ValidationInfo
from pydantic_core import ErrorDetails, PydanticCustomError

from straighten.errors import BadInput, nearest, printable
from straighten.units import Kind, System, parse

LARGEST_FILE = 1_000_000  # bytes; a survey of a thousand readings has a tenth of that
ONE_TABLE, TABLES = "one table", "several tables"  # a key takes one table, or several of a kind
DEEPEST = 12  # nested tables; ours need four
LARGEST_WHOLE = 2**63
# tomllib takes minutes over a.a.a. ... = 1
_DOTTED = re.compile(r"""(?<![\w"'-])(?:[\w"'-]++[ \t]*+\.[ \t]*+){30}""")
MOST_MISSING = 20  # missing keys that one message names
LONGEST_KEY = 80  # characters of a key, with the tables it lies in, that a message shows

Model = TypeVar("Model", bound=BaseModel)

_SURVEY = "head units date who room mode stations cam_and_deck_disagree_is_right intake gauges deck cam plate hardness heights"
KINDS = {
    kind: frozenset(keys.split())
    for kind, keys in {
        "head file": "name units casting alloy limits cam bolts base shims gauge wrench torch oven spots engine prices thresholds",
        "survey": _SURVEY,
        "set-up file": "units heated head bow_before deck_bow_before cam_bow_before rounds clamp spots strokes soak heat",
        "tightening log": "units load load_doubt rounds",
        "sanding log": "units date who strokes grit sheets cleaned_percent gap gaps heights note",
        "survey of a surface": f"name length width grade {_SURVEY}",
        "final list": "who note cracks cam_free guides_seats pressure_test washed block valve_to_piston timing bolts"
        " cause surface_finish after_24_hours",
    }.items()
}
"""Every kind of file by its keys at the top, so that a wrong file is told from a misspelt key."""


class Table(BaseModel):
    """A table of a person's file: no unknown keys, no change after reading."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True, allow_inf_nan=False, defer_build=True)


def _quantity(kind: Kind) -> Callable[[object, ValidationInfo], float]:
    def read(found: object, info: ValidationInfo) -> float:
        system: System = (info.context or {}).get("system", "mm")
        try:
            return parse(found, kind, system)
        except BadInput as fault:
            raise PydanticCustomError(
                "quantity", "{text}", {"text": f"{fault.problem}. {fault.fix}".strip()}
            ) from None

    return read


def _comma(found: object) -> object:
    """Return a number typed with a decimal comma as one with a point."""
    plain = isinstance(found, str) and re.fullmatch(r"\s*-?\d+,\d{1,2}\s*", found)
    return str(found).replace(",", ".") if plain else found


Number = Annotated[float, Field(strict=False), BeforeValidator(_comma)]
Length = Annotated[float, BeforeValidator(_quantity("length"))]
Gap = Annotated[float, BeforeValidator(_quantity("gap"))]
Mass = Annotated[float, BeforeValidator(_quantity("mass"))]
Torque = Annotated[float, BeforeValidator(_quantity("torque"))]
Temperature = Annotated[float, BeforeValidator(_quantity("temperature"))]
Power = Annotated[float, BeforeValidator(_quantity("power"))]
Duration = Annotated[float, BeforeValidator(_quantity("duration"))]
Force = Annotated[float, BeforeValidator(_quantity("force"))]
Angle = Annotated[float, BeforeValidator(_quantity("angle"))]
Volume = Annotated[float, BeforeValidator(_quantity("volume"))]


def load_text(path: Path, largest: int = LARGEST_FILE) -> str:
    """Return the text of a person's file; the one door through which files are read.

    Raises:
        BadInput: the file is missing, unreadable, no regular file, larger than so many bytes, or not UTF-8 text.
    """
    where = printable(str(path))
    try:
        if path.exists() and not path.is_file():  # a pipe would be waited for, a device never ends
            raise BadInput("this is a folder or a device, a text file is due", where=where)
        with path.open("rb") as file:
            raw = file.read(largest + 1)
        if len(raw) > largest:
            size = f"the file has {path.stat().st_size} bytes"
            raise BadInput(f"{size}; at most {largest} are read", where=where)
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        raise BadInput(
            f"byte {fault.start} is not UTF-8 text", where=where, fix="Save the file as plain text (UTF-8)."
        ) from None
    except FileNotFoundError:
        raise BadInput("no such file", where=where, fix="Check the name and the folder.") from None
    except (OSError, ValueError) as fault:
        reason = getattr(fault, "strerror", None) or str(fault)
        raise BadInput(f"cannot be read: {reason}", where=where[:200]) from None


def parse_toml(text: str, where: str) -> dict[str, Any]:
    """Return the tables of a TOML text.

    Raises:
        BadInput: not TOML (line and column told), or nested deeper than any file of ours.
    """
    if _DOTTED.search(text):
        raise BadInput(f"tables nested deeper than {DEEPEST}", where=where)
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as fault:
        raise BadInput(
            f"not readable as TOML: {printable(str(fault))[:160]}",
            where=where,
            fix='Texts stand in quotes: mass = "11.5 kg".',
        ) from None
    except (RecursionError, ValueError) as fault:
        raise BadInput(f"not readable as TOML: {printable(str(fault))[:80]}", where=where) from None
    _refuse_extremes(data, where)
    return data


def _refuse_extremes(data: object, where: str, level: int = 0) -> None:
    """Refuse what no file of ours holds: whole numbers over 64 bits (TOML 1.0 asks for no more), nesting without end."""
    if isinstance(data, int) and not -LARGEST_WHOLE <= data < LARGEST_WHOLE:
        raise BadInput(f"a whole number of {data.bit_length()} bits; at most 64 are read", where=where)
    if not isinstance(data, dict | list):
        return
    if level >= DEEPEST:
        raise BadInput(f"tables nested deeper than {DEEPEST}", where=where)
    for item in data.values() if isinstance(data, dict) else data:
        _refuse_extremes(item, where, level + 1)


def system_of(data: dict[str, Any], where: str, default: System = "mm") -> System:
    """Return the unit system that a file names under `units`: "mm", or "inch" (also written "thou").

    Raises:
        BadInput: another word stands there.
    """
    named = data.get("units", default)
    if named in ("mm", "inch"):
        return "mm" if named == "mm" else "inch"
    if named in ("thou", "in"):
        return "inch"
    raise BadInput(f"found {str(named)[:40]!r}", where=f"{where}: units", fix='Allowed: "mm" or "inch".')


def checked(model: type[Model], data: object, *, where: str, system: System) -> Model:
    """Return the data as a checked model; bare numbers are in the unit system, `where` names the file.

    Raises:
        BadInput: the first fault, with file and key, what was found, what is allowed.
    """
    try:
        return model.model_validate(data, context={"system": system})
    except ValidationError as fault:
        refuse_other_kind(data, kind_of(model), where)
        raise _told(fault.errors(), model, where) from None
    except RecursionError:
        raise BadInput("tables nested too deep", where=where) from None


def kind_of(model: type[BaseModel]) -> str | None:
    """Return the kind of file that a model reads, None for anything else."""
    return next((kind for kind, keys in KINDS.items() if keys == set(model.model_fields)), None)


def refuse_other_kind(data: object, due: str | None, where: str) -> None:
    """Refuse a file whose keys are rather those of another kind; `due` is one of `KINDS`, or None.

    Raises:
        BadInput: which kind it looks like and which is due.
    """
    if due is None or not isinstance(data, dict):
        return
    keys = set(data)
    likely = max(KINDS, key=lambda kind: (len(keys & KINDS[kind]), kind == due, -len(KINDS[kind])))
    if likely == due:
        return
    told = sorted((keys & KINDS[likely]) - KINDS[due])
    raise BadInput(
        f"this looks like a {likely} ({', '.join(told[:4])}), a {due} is due",
        where=where,
        fix="Check which file was named.",
    )


def _told(errors: list[ErrorDetails], model: type[BaseModel], where: str) -> BadInput:
    """Return the fault to tell: an unknown key first, since a misspelt one also counts as missing; missing keys all at once."""
    plainest = next((error for error in errors if error["type"] == "extra_forbidden"), errors[0])
    missing = [_key_of(error) for error in errors if error["type"] == "missing"]
    if plainest["type"] != "missing" or len(missing) < 2:
        return _sentence(plainest, model, where)
    return BadInput(f"these keys are missing: {', '.join(missing[:MOST_MISSING])}", where=where)


def _key_of(error: ErrorDetails) -> str:
    """Return the dotted key of a fault, list places counted from one."""
    parts = (str(part + 1) if isinstance(part, int) else part for part in _place(error))
    return printable(".".join(parts))[:LONGEST_KEY]


def _place(error: ErrorDetails) -> list[str | int]:
    return [
        part
        for part in error["loc"]
        if not (isinstance(part, str) and (part in (ONE_TABLE, TABLES) or part.startswith("function-")))
    ]


def one_or_many(value: object) -> str:
    """Return which of the two a key holds that takes one table or several."""
    return TABLES if isinstance(value, list) else ONE_TABLE


def _sentence(error: ErrorDetails, model: type[BaseModel], where: str) -> BadInput:
    place, key = _place(error), _key_of(error)
    spot = f"{where}: {key}" if key else where
    kind = error["type"]
    if kind == "extra_forbidden":
        fix = nearest(str(place[-1]), sorted(_fields_at(model, place[:-1])), "Known keys here")
        return BadInput("unknown key", where=spot, fix=fix)
    if kind == "missing":
        return BadInput("this key is missing", where=spot)
    if kind == "quantity":
        problem, _, fix = error["msg"].partition(". ")
        return BadInput(problem, where=spot, fix=fix)
    found = repr(error["input"])
    found = found if len(found) <= 60 else found[:57] + "..."
    message = error["msg"].removeprefix("Value error, ")
    if kind == "value_error":
        return BadInput(message, where=spot)
    return BadInput(f"found {found}; {_PLAIN.get(kind) or _plainly(message)}", where=spot)


_PLAIN = {
    "float_parsing": "a number is due",
    "float_type": "a number is due",
    "int_type": "a whole number is due",
    "int_parsing": "a whole number is due",
    "bool_type": "true or false is due, without quotes",
    "string_type": "a text in quotes is due",
    "list_type": "a list in brackets is due, [ ... ]",
    "model_type": "a table is due",
}


def _plainly(message: str) -> str:
    """Return what the checker says in a person's words."""
    if message.startswith("Input should be"):
        return message.replace("Input should be", "allowed:", 1)
    return message[:1].lower() + message[1:]


def _fields_at(model: type[BaseModel], place: list[str | int]) -> list[str]:
    """Return the keys allowed at a place of the model, following nested tables and lists."""
    current: list[type[BaseModel]] = [model]
    for part in place:
        if isinstance(part, int):
            continue
        found = [m.model_fields[part].annotation for m in current if part in m.model_fields]
        if found:
            current = [inner for annotation in found for inner in _models_in(annotation)]
    return [(field.alias or name) for m in current for name, field in m.model_fields.items()]


def _models_in(annotation: Any) -> list[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return [annotation]
    return [inner for argument in get_args(annotation) for inner in _models_in(argument)]
