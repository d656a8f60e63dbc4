"""Which files the program uses: the book, and the head file that a name stands for."""

import os
from pathlib import Path

from straighten.errors import BadInput

BOOK_NAME = "shop.book"


def data_folder() -> Path:
    """Return the data folder after the XDG Base Directory Specification; a relative setting is ignored as it demands."""
    told = os.environ.get("XDG_DATA_HOME", "")
    root = Path(told) if told and Path(told).is_absolute() else Path.home() / ".local" / "share"
    return root / "straighten"


def book_path(option: Path | None) -> Path:
    """Return the book to use: the option, else the environment's STRAIGHTEN_BOOK, else the data folder's."""
    if option is not None:
        return option
    told = os.environ.get("STRAIGHTEN_BOOK", "")
    return Path(told) if told else data_folder() / BOOK_NAME


def head_file(name: str) -> Path | None:
    """Return the head file that a name stands for, or None where only the book may know it.

    NAME may be the file itself, a folder that holds head.toml, or a name with NAME/head.toml or NAME.toml here.

    Raises:
        BadInput: the name is empty or holds characters that no file name has.
    """
    if not name.strip() or "\0" in name or len(name) > 240:
        raise BadInput("a head needs a name", where="NAME", fix="For example: straighten plan pump-four")
    given = Path(name)
    for path in (given, given / "head.toml", given.with_name(given.name + ".toml")):
        if path.is_file():
            return path
    if given.suffix == ".toml":
        raise BadInput("no such file", where=name, fix="Check the name and the folder.")
    return None
