"""The file in which a person answers the final list."""

from pathlib import Path
from typing import Annotated

from pydantic import Field

from straighten.filecheck import Table, checked, load_text, parse_toml

Answer = bool | Annotated[str, Field(min_length=1, max_length=200)]


class FinishFile(Table):
    """Answers: true = done and good, false = done and bad, a text = what was found, "skipped: why" = left out."""

    who: Annotated[str, Field(max_length=200)] = ""
    note: Annotated[str, Field(max_length=2000)] = ""
    cracks: Answer | None = None
    cam_free: Answer | None = None
    guides_seats: Answer | None = None
    pressure_test: Answer | None = None
    washed: Answer | None = None
    block: Answer | None = None
    valve_to_piston: Answer | None = None
    timing: Answer | None = None
    bolts: Answer | None = None
    cause: Answer | None = None
    surface_finish: Answer | None = None
    after_24_hours: Answer | None = None


def answers_of(path: Path) -> dict[str, bool | str]:
    """Return the answers that a file gives, those left out missing.

    Raises:
        BadInput: the file makes no sense.
    """
    where = str(path)
    file = checked(FinishFile, parse_toml(load_text(path), where), where=where, system="mm")
    return {key: value for key, value in file.model_dump().items() if value is not None and value != ""}
