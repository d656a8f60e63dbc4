"""Figures drawn with matplotlib, each by its own module; this page loads none of it until a figure is asked for.

`draw_figure` gives SVG, PNG or PDF bytes that are the same for the same picture.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal, get_args

from straighten.sheet import pictures

if TYPE_CHECKING:
    from collections.abc import Callable

    from matplotlib.figure import Figure

    from straighten.sheet.pictures import Picture

Form = Literal["svg", "png", "pdf"]
FORMS: tuple[Form, ...] = get_args(Form)


def draw_figure(picture: Picture, form: Form = "svg") -> bytes:
    """Return a picture as the bytes of a file, with its message as text alternative.

    Args:
        picture: what to show.
        form: file form.
    """
    from straighten.sheet.figures.drawing import render

    return render(_drawer(picture), picture.message, form)


def inline_figure(picture: Picture, name: str) -> str:
    """Return a picture as SVG to stand inside a page, its inner names made its own by `name`."""
    from straighten.sheet.figures.drawing import inline

    return inline(draw_figure(picture, "svg").decode("utf-8"), name)


def _drawer(picture: Picture) -> Callable[[Figure], None]:
    if isinstance(picture, pictures.BowPicture):
        from straighten.sheet.figures.bow import draw_bow

        return lambda figure: draw_bow(figure, picture)
    if isinstance(picture, pictures.SpotPicture):
        from straighten.sheet.figures.spots import draw_spots

        return lambda figure: draw_spots(figure, picture)
    if isinstance(picture, pictures.PassesPicture):
        from straighten.sheet.figures.passes import draw_passes

        return lambda figure: draw_passes(figure, picture)
    if isinstance(picture, pictures.StopPicture):
        from straighten.sheet.figures.stopping import draw_stopping

        return lambda figure: draw_stopping(figure, picture)
    from straighten.sheet.figures.tightening import draw_tightening

    return lambda figure: draw_tightening(figure, picture)
