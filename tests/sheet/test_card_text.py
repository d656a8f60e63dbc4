"""The card as text is enough to place the spots and to time them, in both unit systems."""

import re
from dataclasses import replace

import pytest

from straighten.desk.kept import card_from_plain
from straighten.sheet.card import KeepOffLine
from straighten.sheet.card_text import card_text
from straighten.sheet.layout import WIDTH
from straighten.sheet.pass_page import pass_page


def heat(card):
    """The part of the card that goes to the torch, unfolded."""
    part = re.search(r"3 HEAT.*?4 COOL", card_text(card), flags=re.DOTALL)
    return re.sub(r"\s+", " ", part.group())


def test_the_card_says_how_long_to_wait_from_spot_to_spot(sheet, found):
    """The plan heats a spot when the one before has lost its heat: its own start times tell the pause."""
    first, second = found.setup.spots[:2]
    pause = second.start - first.start - first.dwell
    assert pause == pytest.approx(60.0)
    assert "from spot to spot: flame off for 60 s" in heat(sheet.card)
    page = re.sub(r"<[^>]+>", "", pass_page(sheet))
    assert "From spot to spot: flame off for 60 s" in page


@pytest.mark.parametrize(("system", "rows", "zone"), [
    ("mm", "32.0 mm (1.26 in)", "16.0 mm (0.63 in) around 210.0 mm (8.27 in), both rows (oil drilling)"),
    ("inch", "1.26 in (32.0 mm)", "0.63 in (16.0 mm) around 8.27 in (210.0 mm), both rows (oil drilling)"),
])  # fmt: skip
def test_spots_can_be_placed_from_the_text_alone(sheet, system, rows, zone):
    text = heat(replace(sheet.card, system=system))
    assert f"rows: {rows} from the middle line" in text
    assert f"keep off: {zone}" in text


def test_a_zone_on_one_side_names_it(sheet):
    zone = KeepOffLine(station=0.1, side="inlet", radius=0.012, reason="")
    assert "keep off: 12.0 mm (0.47 in) around 100.0 mm (3.94 in), inlet" in heat(
        replace(sheet.card, keep_off=(zone,))
    )


def test_a_single_row_lies_on_the_middle_line(sheet):
    assert "row: on the middle line" in heat(replace(sheet.card, spot_rows=0.0))


def test_no_line_is_wider_than_the_paper(sheet):
    assert max(map(len, card_text(sheet.card).splitlines())) <= WIDTH


def test_a_card_of_an_earlier_version_tells_no_pause_it_does_not_know(sheet):
    plain = sheet.card.to_plain()
    for key in ("spot_pause_s", "spot_rows_mm", "keep_off"):
        del plain[key]
    text = heat(card_from_plain(plain))
    assert "from spot to spot" not in text
    assert "NEVER ABOVE" in text
