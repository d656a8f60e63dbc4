"""The roof on paper in its own size: measured in the printed file itself, in points of 1/72 inch (ISO 32000-1, 8.3.2.3)."""

import re
import zlib
from dataclasses import replace

import pytest

from straighten.sheet.sketch import PROOF, template_page
from tests.browser.test_pages import A4, LETTER, judged, sheet  # noqa: F401 - the fixture

MM = 72 / 25.4  # points


def times(one, other):
    """Return the product of two matrices of PDF, the first applied first."""
    a, b, c, d, e, f = one
    g, h, i, j, k, m = other
    return (a * g + b * i, a * h + b * j, c * g + d * i, c * h + d * j, e * g + f * i + k, e * h + f * j + m)


def shapes(pdf):
    """Return of each page the boxes [mm] of its paths with their colours, in the order they are drawn."""
    pages = []
    for raw in re.findall(rb"stream\r?\n(.*?)\r?\nendstream", pdf, re.DOTALL):
        try:
            text = zlib.decompress(raw)
        except zlib.error:
            continue
        if b" cm" in text and b" re" in text and b"BT" in text:
            pages.append(drawn(text.decode("latin-1")))
    return pages


def drawn(text):  # noqa: C901 - one branch for each operator
    """Play the operators of one page: state, matrix, colours, paths."""
    now, kept, stack, points, found = (1, 0, 0, 1, 0, 0), [], [], [], []
    fill = stroke = (0.0, 0.0, 0.0)
    for token in re.findall(r"\([^)]*\)|<[^>]*>|\[[^\]]*\]|/\S+|[^\s\[\]<>()]+", text):
        try:
            stack.append(float(token))
            continue
        except ValueError:
            pass
        if token == "q":
            kept.append((now, fill, stroke))
        elif token == "Q":
            now, fill, stroke = kept.pop()
        elif token == "cm":
            now = times(tuple(stack[-6:]), now)
        elif token == "rg":
            fill = tuple(stack[-3:])
        elif token == "RG":
            stroke = tuple(stack[-3:])
        elif token in ("m", "l", "c"):
            pairs = (
                list(zip(stack[-6:][::2], stack[-6:][1::2], strict=True))
                if token == "c"
                else [tuple(stack[-2:])]
            )
            points += [at(now, x, y) for x, y in pairs]
        elif token == "re":
            x, y, w, h = stack[-4:]
            points += [at(now, x, y), at(now, x + w, y + h)]
        elif token in ("S", "s", "f", "f*", "B", "n"):
            if points and token != "n":
                xs, ys = zip(*points, strict=True)
                found.append((min(xs), min(ys), max(xs), max(ys), fill if token.startswith("f") else stroke))
            points = []
        if not token.startswith("/"):
            stack = []
    return found


def at(matrix, x, y):
    a, b, c, d, e, f = matrix
    return (a * x + c * y + e) / MM, (b * x + d * y + f) / MM


def near(colour, wanted):
    return all(abs(a - b / 255) < 0.02 for a, b in zip(colour, wanted, strict=True))


@pytest.fixture(params=[A4, LETTER], ids=["A4", "Letter"])
def printed_template(request, shown, sheet):  # noqa: F811
    page = shown(template_page(sheet), 1200)
    width, height = request.param
    return shapes(page.pdf(width=width, height=height, print_background=False))


def test_a_head_of_420_mm_takes_two_sheets(printed_template):
    assert len(printed_template) == 2


def test_the_proof_line_is_100_mm_long_on_every_sheet(printed_template):
    for one in printed_template:
        lines = [s for s in one if near(s[4], (28, 63, 134)) and s[2] - s[0] > 50]
        assert [s[2] - s[0] for s in lines] == pytest.approx([PROOF], abs=0.1)


def test_spots_lie_on_the_paper_where_the_card_says(printed_template, sheet):  # noqa: F811
    """Distances between rings and their size, to a tenth of a millimetre: along the head, across it, and the flame's bite."""
    found = [
        ((s[0] + s[2]) / 2, (s[1] + s[3]) / 2, s[2] - s[0])
        for s in printed_template[0] if near(s[4], (156, 47, 0)) and s[2] - s[0] < 60
    ]  # fmt: skip
    card, rows = sheet.card, 1e3 * sheet.sketch.rows
    on_it = [s for s in (*card.spots, *card.reserve) if 1e3 * s.station < 225]
    rings = found[: len(on_it)]
    assert len(rings) == len(on_it) >= 2
    one, two = rings[:2]
    assert abs(one[0] - two[0]) == pytest.approx(2 * rows, abs=0.1)
    assert one[2] == pytest.approx(2e3 * card.spots[0].flux_radius, abs=0.1)
    outline = max(printed_template[0], key=lambda s: (s[2] - s[0]) * (s[3] - s[1]))
    assert outline[2] - outline[0] == pytest.approx(1e3 * sheet.sketch.width, abs=0.1)
    assert outline[3] - one[1] == pytest.approx(
        1e3 * card.spots[0].station, abs=0.1
    )  # front at the top, y runs up


def test_every_place_stands_on_some_sheet(shown, sheet):  # noqa: F811
    page = shown(template_page(sheet), 1200)
    told = page.evaluate("[...document.querySelectorAll('.tile .number')].map(e => e.textContent)")
    assert {str(s.order) for s in (*sheet.card.spots, *sheet.card.reserve)} <= set(told)
    assert page.told == []


def test_a_wide_head_takes_sheets_side_by_side(sheet):  # noqa: F811
    wide = replace(sheet, sketch=replace(sheet.sketch, width=0.3, length=0.6))
    assert template_page(wide).count('class="tile"') == 3 * 2


def test_axe_finds_nothing_serious_on_the_template(shown, sheet):  # noqa: F811
    assert judged(shown(template_page(sheet), 1200)) == []
