"""Room `readings`: takes a survey file or typed answers and a head, gives `Readings`; does not know shape."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from straighten.errors import located
from straighten.readings.records import Readings, from_plain, to_plain
from straighten.readings.text import blank_survey, said_back, template_survey

if TYPE_CHECKING:
    from pathlib import Path

    from straighten.head.records import Head

_QUOTED_OR_POINT = re.compile(r"""("(?:[^"\\\n]|\\.)*"|'[^'\n]*'|\#.*)|(?<![\w.])\.(?=\d)""")

__all__ = [
    "Readings",
    "blank_survey",
    "from_plain",
    "read_survey",
    "said_back",
    "survey_from_text",
    "template_survey",
    "to_plain",
]


def read_survey(path: Path, head: Head) -> Readings:
    """Return the readings of a survey file, TOML or (by its name) CSV.

    Raises:
        BadInput: the file cannot be read or a reading makes no sense; file, key and reading named.
    """
    from straighten.filecheck import load_text

    csv = path.suffix.lower() in (".csv", ".tsv", ".txt")
    return survey_from_text(load_text(path), head, str(path), csv=csv)


def survey_from_text(text: str, head: Head, where: str, *, csv: bool = False) -> Readings:
    """Return the readings that the text of a survey file holds, TOML or CSV; `where` names the file.

    Raises:
        BadInput: the first fault found, with file and key; or a survey of nothing but blanks.
    """
    from straighten.filecheck import checked, parse_toml, system_of
    from straighten.readings.file import SurveyFile, tables_of_csv
    from straighten.readings.survey import readings_of

    data = tables_of_csv(text, where) if csv else parse_toml(_with_zeros(text), where)
    system = system_of(data, where, head.system)
    file = checked(SurveyFile, data, where=where, system=system)
    with located(where):
        return readings_of(file, head, system, where)


def _with_zeros(text: str) -> str:
    """Return the text with .15 written as 0.15: TOML needs the zero, people often leave it out."""
    return _QUOTED_OR_POINT.sub(lambda match: match[1] or "0.", text)
