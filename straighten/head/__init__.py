"""Room `head`: takes a head file, gives a `Head`; does not know what was measured on it."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

from straighten.errors import BadInput
from straighten.head.records import Head

DEFAULT_NAME = "pump-four"


def head_from_text(text: str, where: str) -> Head:
    """Return the head that the text of a head file describes.

    Args:
        text: TOML text.
        where: name of the file, for messages.

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
        raise fault.at(where) from None


def read_head(path: Path) -> Head:
    """Return the head of a file.

    Raises:
        BadInput: the file cannot be read or makes no sense.
    """
    from straighten.filecheck import load_text

    return head_from_text(load_text(path), str(path))


OWN = "#?"  # in the template: a figure that nobody but the owner can give


def template_head(name: str = DEFAULT_NAME) -> str:
    """Return a commented head file, filled with an invented four-cylinder pump head."""
    text = files("straighten.head").joinpath("template.toml").read_text(encoding="utf-8")
    named = text.replace("@NAME@", name.replace("\\", "\\\\").replace('"', '\\"'))
    return "\n".join(line.removesuffix(OWN).rstrip() for line in named.splitlines()).replace(OWN, "#") + "\n"


def blank_head(name: str) -> str:
    """Return the same file for a head of the person's own: height, mass, alloy, limits and engine wait as comments."""
    text = files("straighten.head").joinpath("template.toml").read_text(encoding="utf-8")
    named = text.replace("@NAME@", name.replace("\\", "\\\\").replace('"', '\\"'))
    lines = [f"# {line.replace(OWN, '#')}" if OWN in line else line for line in named.splitlines()]
    return "\n".join(lines) + "\n"
