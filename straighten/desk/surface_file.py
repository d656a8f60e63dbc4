"""The file of a reference surface: its size, and either its grade or its own survey along the lines of a deck."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from straighten.errors import BadInput
from straighten.filecheck import checked, parse_toml, refuse_other_kind, system_of
from straighten.readings.file import SurveyFile
from straighten.readings.survey import readings_of
from straighten.sanding.surface import Surface, graded_surface, measured_surface
from straighten.shape import fit_shape
from straighten.units import Plausible, parse

if TYPE_CHECKING:
    from straighten.head.records import Head
    from straighten.units import System

_SIZE = Plausible(0.05, 3.0)
_OWN = ("name", "length", "width", "grade")


def surface_from_text(text: str, head: Head, where: str) -> Surface:
    """Return the surface that a file describes.

    Args:
        text: TOML: name, length, width, and either grade or deck lines as in a survey.
        head: the head to be sanded; its blades read the gaps.
        where: name of the file, for messages.

    Raises:
        BadInput: a key is missing or makes no sense.
    """
    data = parse_toml(text, where)
    system = system_of(data, where, head.system)
    refuse_other_kind(data, "survey of a surface", where)
    own = {key: data.pop(key) for key in _OWN if key in data}
    try:
        size = _size(own, "length", system), _size(own, "width", system)
    except BadInput as fault:
        raise fault.at(where) from None
    name = str(own.get("name", "surface"))[:80]
    if "grade" in own:
        if data.get("deck"):
            raise BadInput(
                "a grade and readings at once", where=where, fix="Keep the readings: they tell more."
            )
        try:
            return replace(graded_surface(str(own["grade"]), *size), name=f"{name}, {own['grade']}")
        except BadInput as fault:
            raise fault.at(where) from None
    return _measured(name, size, data, (head, system, where))


def _size(own: dict[str, Any], key: str, system: System) -> float:
    if key not in own:
        raise BadInput("this key is missing", where=key, fix='For example length = "600 mm".')
    try:
        return _SIZE.check(parse(own[key], "length", system), key)
    except BadInput as fault:
        raise fault.at(key) from None


def _measured(
    name: str, size: tuple[float, float], data: dict[str, Any], told: tuple[Head, System, str]
) -> Surface:
    head, system, where = told
    file = checked(SurveyFile, data, where=where, system=system)
    if not file.deck:
        raise BadInput(
            "neither a grade nor readings of the surface",
            where=where,
            fix='Write grade = "DIN 876/1", or read the lines of a deck on it.',
        )
    casting = replace(head.casting, length=size[0], width=size[1])
    lent = replace(head, casting=casting, towers=(0.0, size[0]))
    try:
        readings = readings_of(file, lent, system, where)
    except BadInput as fault:
        raise fault.at(where) from None
    return measured_surface(name, fit_shape(readings, lent), size, head)
