"""Small parts that several sides of the pass page share: step headings, pencil boxes, clock boxes."""

from __future__ import annotations

from typing import TYPE_CHECKING

from straighten.sheet.markup import node

if TYPE_CHECKING:
    from xml.etree.ElementTree import Element


def step(number: int, title: str, *after: Element | str) -> Element:
    """Return a step heading: its number on a blade, its title, and words beside it."""
    return node("h2", node("span", str(number), class_="tag"), " ", title, *after)


def pencil(class_: str = "pencil") -> Element:
    """Return an empty box to write in."""
    return node("span", class_=class_, aria_hidden="true")


def clock(first: str, second: str) -> Element:
    """Return two empty boxes for clock times with the words before them."""
    blank = node("span", class_="pencil time", aria_hidden="true")
    return node(
        "p",
        first,
        " ",
        blank,
        " ",
        second,
        " ",
        node("span", class_="pencil time", aria_hidden="true"),
        class_="clock",
    )
