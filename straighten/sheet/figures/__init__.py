"""Figures: each a finished record in SI that says its message and draws itself; here how every one of them is drawn.

Inks stay apart in grey and for the colour-blind, both unit systems are told, bytes are stable. Matplotlib loads when one is drawn.
"""

from __future__ import annotations

import re
from html import escape
from io import BytesIO
from typing import TYPE_CHECKING, Any, Final, Literal, Protocol, get_args

from straighten.units import FOOT_POUND, INCH, THOU, System

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Form = Literal["svg", "png", "pdf"]
Units = dict[str, tuple[str, float]]  # by unit system: name of the unit, its size in SI
FORMS: Final[tuple[Form, ...]] = get_args(Form)


class Picture(Protocol):
    """A finished record that can be drawn, and says in one sentence what it shows."""

    @property
    def message(self) -> str:
        """What the picture says."""

    def draw(self, figure: Figure) -> None:
        """Put the drawing on an empty figure."""


# Okabe and Ito's colour-blind safe inks (from memory), chosen so that their greys differ as well.
INK, QUIET, BLUE, RED, PALE = "#17130f", "#55504a", "#0072B2", "#B84A00", "#e4e0d8"
WIDTH, HEIGHT = 5.0, 3.6  # inches; narrow, so that the words stay readable on a phone
GROUND: dict[str, Any] = {"facecolor": "white", "edgecolor": "none", "pad": 1.2, "alpha": 0.85}

_STYLE: Any = {
    "svg.hashsalt": "straighten",
    "svg.fonttype": "none",
    "font.family": "sans-serif",
    "font.sans-serif": ["DejaVu Sans", "Liberation Sans", "Arial"],
    "font.size": 11.5,
    "axes.edgecolor": INK,
    "axes.labelcolor": INK,
    "axes.linewidth": 1.1,
    "axes.titlesize": 12.5,
    "axes.titleweight": "bold",
    "axes.titlelocation": "left",
    "xtick.color": INK,
    "ytick.color": INK,
    "text.color": INK,
    "hatch.linewidth": 0.6,
    "path.simplify": False,
}
SMALL: Units = {"mm": ("mm", 1e-3), "inch": ("thou", THOU)}
LARGE: Units = {"mm": ("mm", 1e-3), "inch": ("in", INCH)}
TORQUES: Units = {"mm": ("Nm", 1.0), "inch": ("ft-lb", FOOT_POUND)}


def draw_figure(picture: Picture, form: Form = "svg") -> bytes:
    """Return a picture as the bytes of a file, the same for the same picture, with its message as text alternative."""
    import matplotlib as mpl
    from matplotlib.figure import Figure

    with mpl.rc_context(_STYLE):
        figure = Figure(figsize=(WIDTH, HEIGHT), layout="constrained")
        picture.draw(figure)
        out = BytesIO()
        figure.savefig(out, format=form, dpi=160, metadata=_metadata(form, picture.message))
    made = out.getvalue()
    return _named(made.decode("utf-8"), picture.message).encode("utf-8") if form == "svg" else made


def inline_figure(picture: Picture, name: str) -> str:
    """Return a picture as SVG to stand inside a page: no prologue, no fixed size, inner names made its own by `name`."""
    svg = draw_figure(picture, "svg").decode("utf-8")
    body = svg[svg.index("<svg ") :]
    for size in ("height", "width"):
        body = re.sub(rf'(<svg [^>]*?) {size}="[^"]*pt"', r"\1", body, count=1)
    body = re.sub(r"<metadata>.*?</metadata>", "", body, count=1, flags=re.DOTALL)
    for mark in (' id="', "url(#", 'href="#'):
        body = body.replace(mark, f"{mark}{name}-")
    return body.strip()


def _metadata(form: str, message: str) -> dict[str, Any]:
    if form == "svg":
        return {"Date": None, "Creator": None, "Title": message}
    if form == "png":
        return {"Software": None, "Title": message, "Description": message}
    return {"CreationDate": None, "Creator": None, "Producer": None, "Title": message}


def _named(svg: str, message: str) -> str:
    """Return the SVG as one picture with a title that readers of the screen speak."""
    text = escape(message)
    begin = svg.index("<svg ")
    end = svg.index(">", begin)
    return f'{svg[:end]} role="img" aria-label="{text}"><title>{text}</title>{svg[end + 1 :]}'


def small(values: object, system: System) -> Any:
    """Return gaps or heights [m] in the person's small unit: mm or thou."""
    return _counted(values, SMALL[system][1])


def large(values: object, system: System) -> Any:
    """Return stations [m] in the person's large unit: mm or inches."""
    return _counted(values, LARGE[system][1])


def _counted(values: object, size: float) -> Any:
    import numpy as np

    return np.asarray(values, dtype=np.float64) / size


def heights_axis(axes: Axes, system: System, what: str) -> None:
    """Label the upright axis in the person's small unit, with the other one on the right."""
    axes.set_ylabel(f"{what} [{SMALL[system][0]}]")
    second_axis(axes, "right", SMALL, system)
    axes.spines["top"].set_visible(False)


def stations_axis(top: Axes, bottom: Axes, system: System) -> None:
    """Label the level axis with the station in the person's large unit below, with the other one above."""
    bottom.set_xlabel(f"station from the front end [{LARGE[system][0]}]")
    second_axis(top, "top", LARGE, system)


def second_axis(axes: Axes, side: Literal["left", "right", "top"], kind: Units, system: System) -> None:
    """Put the other unit of a kind on one side of an axis in the person's own."""
    second, size = kind["inch" if system == "mm" else "mm"]
    ratio = kind[system][1] / size
    ways = (lambda value: value * ratio, lambda value: value / ratio)
    if side == "top":
        axes.secondary_xaxis(side, functions=ways).set_xlabel(f"[{second}]")
    else:
        axes.secondary_yaxis(side, functions=ways).set_ylabel(f"[{second}]")


def limit_band(axes: Axes, limit: float) -> None:
    """Shade what lies inside a limit, either way of the line through the ends."""
    axes.axhspan(-limit, limit, color=PALE, lw=0)
    axes.axhline(0, color=QUIET, lw=0.8)


def tagged(axes: Axes, x: float, y: float, text: str, **how: Any) -> None:
    """Write a word beside its curve, on a white ground so that lines do not strike it through."""
    axes.text(x, y, text, bbox=GROUND, **how)


def named_below(figure: Figure, handles: list[Any], names: list[str]) -> None:
    """Write what each line or mark is under the drawing, each word in front of its own sample."""
    look: dict[str, Any] = {"frameon": False, "handlelength": 2.2, "columnspacing": 1.0}
    figure.legend(handles, names, loc="outside lower center", ncols=3, **look)
