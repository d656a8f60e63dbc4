"""Every figure says its message in words, shows both unit systems, and comes out in the same bytes each time."""

import subprocess
import sys
import xml.etree.ElementTree as ET
from dataclasses import replace
from itertools import combinations
from pathlib import Path

import matplotlib as mpl
import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.text import Text

from straighten.desk.pictures import picture_of
from straighten.sheet import figures as drawing
from straighten.sheet.decision import StopPicture
from straighten.sheet.figures import draw_figure, inline_figure
from straighten.sheet.figures.bows import PassesPicture, PassLine, PassPoint
from straighten.sheet.figures.shape import SpotPicture
from straighten.sheet.plain import Range
from tests.sheet.test_pass_page import used_places

ROOT = Path(__file__).parents[2]
SVG = "{http://www.w3.org/2000/svg}"


def middle(value):
    return Range(low=value - 2e-5, middle=value, high=value + 2e-5)


PASSES = PassesPicture(
    system="mm",
    lines=tuple(
        PassLine(
            title=title,
            limit=5e-5,
            points=(
                PassPoint(number=0, name="before", predicted=None, measured=middle(3e-4)),
                PassPoint(number=1, name="1", predicted=middle(2e-4), measured=middle(1.9e-4)),
                PassPoint(number=2, name="2", predicted=middle(1.2e-4), measured=middle(1.6e-4)),
            ),
        )
        for title in ("Deck", "Cam line")
    ),
)
STOP = StopPicture(
    costs=(260.0, 210.0, 205.0),
    options=(("heat again", 205.0, 150.0, 290.0), ("sand now", 260.0, 255.0, 265.0)),
    choice="heat again",
    stopped_by="",
)


@pytest.fixture(scope="module")
def pictures(dossier, found):
    made = {kind: picture_of(kind, found.dossier, found) for kind in ("bow", "spots", "tightening")}
    return made | {"passes": PASSES, "stop": STOP}


KINDS = ["bow", "spots", "tightening", "passes", "stop"]


@pytest.mark.parametrize("kind", KINDS)
def test_bytes_are_the_same_each_time(pictures, kind):
    for form in ("svg", "png", "pdf"):
        assert draw_figure(pictures[kind], form) == draw_figure(pictures[kind], form)


def test_bytes_are_the_same_in_another_process():
    script = (
        "import hashlib; from tests.sheet.test_figures import PASSES; from straighten.sheet.figures import draw_figure;"
        "print(hashlib.sha256(draw_figure(PASSES, 'svg')).hexdigest())"
    )
    import hashlib

    done = subprocess.run(
        [sys.executable, "-c", script], cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == hashlib.sha256(draw_figure(PASSES, "svg")).hexdigest()


@pytest.mark.parametrize("kind", KINDS)
def test_the_message_is_the_text_alternative(pictures, kind):
    root = ET.fromstring(draw_figure(pictures[kind], "svg"))
    assert root.get("role") == "img"
    assert root.get("aria-label") == pictures[kind].message
    assert root.find(f"{SVG}title").text == pictures[kind].message
    assert len(pictures[kind].message) > 40


@pytest.mark.parametrize(("kind", "units"), [("bow", {"mm", "thou", "in"}), ("spots", {"mm", "in"}), ("tightening", {"mm", "thou", "Nm", "ft-lb"}), ("passes", {"mm", "thou"})])  # fmt: skip
@pytest.mark.parametrize("system", ["mm", "inch"])
def test_both_unit_systems_stand_on_the_axes(pictures, kind, units, system):
    text = draw_figure(replace(pictures[kind], system=system), "svg").decode()
    for unit in units:
        assert f"[{unit}]" in text


def test_second_axis_is_the_first_in_the_other_unit():
    from matplotlib.figure import Figure

    from straighten.sheet.figures import heights_axis

    axes = Figure().subplots()
    axes.set_ylim(0, 0.254)
    heights_axis(axes, "mm", "gap")
    right = axes.child_axes[0]
    right.apply_aspect()
    right._set_lims()
    assert np.allclose(right.get_ylim(), (0, 10.0))  # 0.254 mm = 10 thou: the inch is 25.4 mm exactly


def test_no_setting_of_matplotlib_is_left_changed(pictures):
    before = dict(mpl.rcParams)
    draw_figure(pictures["stop"], "svg")
    assert dict(mpl.rcParams) == before


def test_text_stays_text_so_that_it_can_be_read_out(pictures):
    root = ET.fromstring(draw_figure(pictures["tightening"], "svg"))
    said = [e.text for e in root.iter(f"{SVG}text")]
    assert "stop here" in said
    assert "round 1" in said


def words_of(picture, monkeypatch):
    """Every word drawn and the box it takes on the paper."""
    drawn, draw = [], Text.draw

    def watched(self, renderer):
        if self.get_visible() and self.get_text().strip():
            drawn.append((self.get_text(), Text.get_window_extent(self, renderer)))
        draw(self, renderer)

    with mpl.rc_context(drawing._STYLE), monkeypatch.context() as patch:
        figure = Figure(layout="constrained")
        picture.draw(figure)
        canvas = FigureCanvasAgg(figure)
        canvas.draw()  # settles where all stands
        patch.setattr(Text, "draw", watched)
        canvas.draw()
    return drawn


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("share", [0.1, 0.5, 0.9])
def test_no_word_lies_on_another(pictures, kind, share, monkeypatch):
    """Also where the curve in the clamp runs close to the one expected after, as in the oven, and with a round logged."""
    picture = pictures[kind]
    if kind == "bow":
        lines = tuple(
            replace(line, clamped=tuple(share * low for low in line.after.low)) for line in picture.lines
        )
        picture = replace(picture, lines=lines)
    elif kind == "passes":
        after = PassPoint(number=3, name="sanded", predicted=None, measured=middle(2e-5))
        picture = replace(
            picture, lines=tuple(replace(line, points=(*line.points, after)) for line in picture.lines)
        )
    elif kind == "tightening":
        gap = picture.gap.middle[0]
        first = replace(picture.rounds[0], stops=share * gap, goes=share * gap / 2)
        picture = replace(
            picture,
            rounds=(first, *picture.rounds[1:]),
            logged=((first.torque, share * gap / 2, share * gap),),
        )
    found = words_of(picture, monkeypatch)
    assert len(found) > 5
    over = [(a, b) for (a, one), (b, two) in combinations(found, 2) if one.overlaps(two)]
    assert over == []


def test_curves_differ_by_dashes_and_hatch_not_by_colour_alone(pictures):
    text = draw_figure(pictures["bow"], "svg").decode()
    dashes = {part.split(";")[0] for part in text.split("stroke-dasharray: ")[1:]}
    assert len(dashes) >= 2  # dashed after, dotted clamp; before is whole
    assert "<pattern" in text  # band of before is hatched


def test_figures_on_one_page_do_not_share_names(pictures):
    first, second = inline_figure(pictures["bow"], "one"), inline_figure(pictures["bow"], "two")
    names = [{e.get("id") for e in ET.fromstring(f).iter() if e.get("id")} for f in (first, second)]
    assert names[0]
    assert not names[0] & names[1]
    for text, mine in zip((first, second), names, strict=True):
        used = {part.split(")")[0] for part in text.split("url(#")[1:]} | {
            part.split('"')[0] for part in text.split('href="#')[1:]
        }
        assert used <= mine


def test_used_places_have_their_own_shape(second):
    card = second.card
    picture = SpotPicture(system="mm", sketch=second.sketch, spots=card.spots)
    assert f"{len(second.sketch.used)} places were heated before" in picture.message
    assert len(draw_figure(picture)) > len(
        draw_figure(replace(picture, sketch=replace(second.sketch, used=())))
    )


@pytest.mark.parametrize("apart", [0.0165, 0.02, 0.027, 0.05])
@pytest.mark.parametrize("longer", [1.0, 1.5, 2.0])
def test_no_ring_of_the_map_covers_a_used_place(sheet, apart, longer):
    """From a sixth of a bay on, the nearest that places of two passes come; heads up to 840 mm."""
    spots = sheet.card.spots
    used = used_places(spots, apart)
    sketch = replace(sheet.sketch, used=used, length=longer * sheet.sketch.length)
    with mpl.rc_context(drawing._STYLE):
        figure = Figure(layout="constrained")
        SpotPicture(system="mm", sketch=sketch, spots=spots).draw(figure)
        FigureCanvasAgg(figure).draw()
    axes, point = figure.axes[0], figure.dpi / 72
    rings, squares = ([line for line in axes.lines if line.get_marker() == mark] for mark in "os")
    assert len(rings) == len(spots)
    assert len(squares) == len(used) > 0
    reach = point * sum((m.get_markersize() + m.get_markeredgewidth()) / 2 for m in (rings[0], squares[0]))
    places = [
        [axes.transData.transform((m.get_xdata()[0], m.get_ydata()[0])) for m in marks]
        for marks in (rings, squares)
    ]
    assert min(np.hypot(*(a - b)) for a in places[0] for b in places[1]) >= reach


def test_a_round_read_above_all_that_was_believed_is_still_seen(pictures):
    picture = pictures["tightening"]
    torque, above = picture.rounds[0].torque, 2 * max(picture.gap.high)
    figure = Figure()
    replace(picture, logged=((torque, above, 1.1 * above),)).draw(figure)
    assert figure.axes[0].get_ylim()[1] > 1.1e3 * above


def test_predictions_that_missed_are_not_called_met():
    assert "inside the predicted range after 1 of 2 passes" in PASSES.message


def test_text_commands_load_no_matplotlib():
    script = (
        "import sys; from straighten.cli import main; main(['sheet', '--help']);"
        "import straighten.sheet.pass_page, straighten.sheet.figures.bows, straighten.sheet.verdict;"
        "assert not [m for m in sys.modules if m.startswith('matplotlib')]"
    )
    done = subprocess.run(
        [sys.executable, "-c", script], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
