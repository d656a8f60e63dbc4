"""The part of the pass page that goes to the measuring plate: boxes to fill; and what to do with them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from straighten.sheet import sizes
from straighten.sheet.layout import percent
from straighten.sheet.markup import node, nodes
from straighten.sheet.parts import pencil, step

if TYPE_CHECKING:
    from collections.abc import Sequence
    from xml.etree.ElementTree import Element

    from straighten.sheet.card import BoxRow, Card, PassSheet
    from straighten.sheet.plain import Range
    from straighten.units import System


FEW = 5  # boxes side by side that take the bench's size of print on A5


def measure_side(sheet: PassSheet) -> tuple[Element, ...]:
    """Return the boxes with what to expect in each."""
    hardness = node("span", "HB exhaust ", pencil(), " inlet ", pencil(), class_="hardness")
    return (
        step(6, "Measure", node("span", " cold, free; what goes (expected)", class_="aside"), hardness),
        *(_box_table(rows, sheet) for rows in _alike(sheet.rows)),
    )


def _alike(rows: Sequence[BoxRow]) -> list[list[BoxRow]]:
    """Return the rows grouped where they are read alike and at the same stations."""
    groups: dict[tuple[object, ...], list[BoxRow]] = {}
    for row in rows:
        groups.setdefault((row.part, row.how, *(box.station for box in row.boxes)), []).append(row)
    return list(groups.values())


def _box_table(rows: Sequence[BoxRow], sheet: PassSheet) -> Element:
    system, first = sheet.card.system, rows[0]
    stations = [sizes.ruler(box.station, system) for box in first.boxes]
    unit = "mm" if system == "mm" else "in"
    return node(
        "table",
        node("caption", node("b", first.part), f", {first.how}"),
        node("thead", node("tr", node("th", f"at {unit}", scope="col"), *nodes("th", stations, scope="col"))),
        node("tbody", *(_box_row(row, system) for row in rows)),
        class_="boxes" if len(stations) <= FEW else "boxes many",
    )  # fmt: skip


def _box_row(row: BoxRow, system: System) -> Element:
    cells = []
    for box in row.boxes:
        own, other = sizes.bare_range(box.expected, system)
        cells.append(node("td", pencil(), node("b", own), " ", node("small", other)))
    return node("tr", node("th", row.title, scope="row"), *cells)


def expect_side(card: Card) -> tuple[Element, ...]:
    """Return the main result: bow of deck and cam line after release against their limits, with the chances."""
    head = nodes("th", ("bow after release", "8 times in 10", "about", "limit", "inside"), scope="col")
    rows = (
        ("deck", card.deck_after, card.deck_limit, card.chance_deck),
        ("cam line", card.cam_after, card.cam_limit, card.chance_cam),
    )
    table = node(
        "table",
        node("thead", node("tr", *head)),
        node("tbody", *(_expected_row(row, card.system) for row in rows)),
        class_="expect",
    )
    chances = (
        f"Both inside: {percent(card.chance_inside)}. Past straight by more than the limit: "
        f"{percent(card.chance_overshoot)}."
    )
    return (node("div", node("h2", "Expect"), table, node("p", chances), class_="together"),)


def _expected_row(row: tuple[str, Range, float, float], system: System) -> Element:
    name, after, limit, chance = row
    cells = (sizes.span(after, system), sizes.size(after.middle, system), sizes.size(limit, system))
    return node(
        "tr", node("th", name, scope="row"), *nodes("td", cells), node("td", node("b", percent(chance)))
    )


def then_side(card: Card) -> tuple[Element, ...]:
    """Return what to do with the readings."""
    lines = node("ul", *(_if(text) for text in card.if_then), class_="then")
    return (node("div", step(7, "Then"), lines, class_="together"),)


def _if(text: str) -> Element:
    """Return one line of what to do, the part after its colon in bold."""
    condition, colon, deed = text.partition(": ")
    return node("li", condition + colon, node("b", deed)) if colon else node("li", text)
