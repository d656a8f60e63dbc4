"""Room `head`: takes a head file, gives a `Head`; does not know what was measured on it."""

from __future__ import annotations

from functools import partial
from importlib.resources import files
from pathlib import Path

from straighten.errors import BadInput
from straighten.head.records import Head
from straighten.units import turned

DEFAULT_NAME = "pump-four"


def head_from_text(text: str, where: str) -> Head:
    """Return the head that the TOML text of a head file describes; `where` names the file.

    Raises:
        BadInput: the first fault found, with file and key.
    """
    from straighten.filecheck import checked, parse_toml, system_of
    from straighten.head.build import head_of
    from straighten.head.file import HeadFile

    data = parse_toml(text, where)
    system = system_of(data, where)
    file = checked(HeadFile, data, where=where, system=system)
    try:
        return head_of(file, system)
    except BadInput as fault:
        raise fault.reworded(partial(turned, system=system)).at(where) from None


def read_head(path: Path) -> Head:
    """Return the head of a file.

    Raises:
        BadInput: the file cannot be read or makes no sense.
    """
    from straighten.filecheck import load_text

    return head_from_text(load_text(path), str(path))


def template_head(name: str = DEFAULT_NAME) -> str:
    """Return a commented head file, filled with an invented four-cylinder pump head."""
    text = files("straighten.head").joinpath("template.toml").read_text(encoding="utf-8")
    return text.replace("@NAME@", name.replace("\\", "\\\\").replace('"', '\\"'))
