"""Numbers on paper: the person's own unit big, the other small, rounded to what a blade can tell."""

from __future__ import annotations

from collections.abc import Sequence
from xml.etree.ElementTree import Element

from straighten.sheet.markup import node
from straighten.sheet.plain import Range
from straighten.units import INCH, System, outward, show, show_temperature, show_torque

NOTHING = 5e-6  # m: less than this is printed as 0.00 mm


def split(text: str) -> tuple[str, str]:
    """Return own unit and other unit of a text such as "0.20 mm (8 thou)".

    Example:
        >>> split("0.20 mm (8 thou)")
        ('0.20 mm', '8 thou')
    """
    own, _, other = text.removesuffix(")").partition(" (")
    return own, other


def pair(text: str, class_: str = "size") -> Element:
    """Return a text in both units with the own one big."""
    own, other = split(text)
    return node("span", node("b", own), " ", node("small", other), class_=class_)


def size(value: float, system: System, *, big: bool = False) -> Element:
    """Return a length [m]."""
    return pair(show(value, system, big=big))


def span(found: Range, system: System) -> Element:
    """Return a range of lengths [m] for a table whose heading says how likely it is."""
    mm, thou = f"{outward(found.low, found.high, 'mm')} mm", f"{outward(found.low, found.high, 'inch')} thou"
    return pair(f"{mm} ({thou})" if system == "mm" else f"{thou} ({mm})")


def torque(value: float, system: System) -> Element:
    """Return a torque [N m]."""
    return pair(show_torque(value, system))


def temperature(value: float, system: System) -> Element:
    """Return a temperature [degC]."""
    return pair(show_temperature(value, system).replace(" C", " °C").replace(" F", " °F"))


def ruler(station: float, system: System) -> str:
    """Return a station as it is read off a rule, in the person's unit without its name.

    Example:
        >>> ruler(0.21, "mm"), ruler(0.0862, "mm"), ruler(0.0862, "inch")
        ('210', '86', '3.39')
    """
    return f"{station * 1e3:.0f}" if system == "mm" else f"{station / INCH:.2f}"


def bare(values: Sequence[float], system: System) -> tuple[str, str]:
    """Return lengths [m] that stand in one row without their units, own unit first: "0.20 + 0.05", "8 + 2".

    Example:
        >>> bare([0.0002032, 0.0000508], "mm")
        ('0.20 + 0.05', '8 + 2')
    """
    pairs = [split(show(value, system)) for value in values]
    own, other = (" + ".join(text.rsplit(" ", 1)[0] for text in texts) for texts in zip(*pairs, strict=True))
    return own, other


def bare_range(found: Range, system: System) -> tuple[str, str]:
    """Return a range without units for a narrow box, own unit first: "0.06–0.14", "2.5–5.5".

    A gap is never less than nothing, so what lies below counts as 0.
    """
    low, high = max(found.low, 0.0), max(found.high, 0.0)
    if high < NOTHING:
        return "nothing", "goes"
    other: System = "inch" if system == "mm" else "mm"
    own, second = (outward(low, high, one).replace(" to ", "–") for one in (system, other))
    return own, second
