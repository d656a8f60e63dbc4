"""Figure: the heat-spot map, fresh places and used ones told apart by shape and word."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from straighten.sheet.card import SketchData, SpotLine, UsedPlace
from straighten.sheet.figures.drawing import INK, PALE, QUIET, RED, WIDTH, large, stations_axis
from straighten.units import System, show

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

RING, SQUARE = 16.5, 10.0  # widths of the marks [pt]
AGAIN = 2e-3  # m: a spot so near a used place heats it again
DRAWN = 280.0  # length of the head on the paper [pt], a little less than it is
_FIGURE: dict[str, Any] = {"ha": "center", "va": "center", "weight": "bold", "size": 10.5}


@dataclass(frozen=True, slots=True, kw_only=True)
class SpotPicture:
    """Where to heat: the head from above with spots in their order and places used before."""

    system: System
    sketch: SketchData
    spots: tuple[SpotLine, ...]

    @property
    def message(self) -> str:
        """What the picture says."""
        used = len(self.sketch.used)
        before = f", {used} places were heated before" if used else ""
        if not self.spots:
            marked = f"{used} places were heated, each marked with a crossed square."
            return marked if used else "No place was heated."
        ends = [spot.station for spot in self.spots]
        first, last = (show(end, self.system, big=True) for end in (min(ends), max(ends)))
        return f"{len(self.spots)} spots between {first} and {last} from the front end{before}."

    def draw(self, figure: Figure) -> None:
        """Draw the head from above, cam side up, inlet side at the top."""
        from matplotlib.patches import Circle, Rectangle

        sketch, system = self.sketch, self.system
        figure.set_size_inches(WIDTH, 3.5)
        axes = figure.subplots()
        length, width = float(large(sketch.length, system)), float(large(sketch.width, system))
        axes.add_patch(Rectangle((0, -width / 2), length, width, facecolor=PALE, edgecolor=INK, lw=1.4))
        for web in sketch.webs:
            x = float(large(web, system))
            axes.plot([x, x], [-width / 2, width / 2], color=QUIET, lw=2, alpha=0.5)
        for station, side, radius in sketch.zones:
            x, reach = large((station, radius), system)
            at = x, _row(side, self)
            axes.add_patch(Circle(at, reach, fill=False, edgecolor=INK, ls="--", hatch="\\\\\\"))
        _places(axes, self)
        axes.set_xlim(-0.02 * length, 1.02 * length)
        axes.set_ylim(-0.56 * width, 0.56 * width)
        axes.set_aspect("equal")
        axes.set_yticks([_row("exhaust", self), _row("inlet", self)], ["exhaust", "inlet"])
        axes.set_title("\n".join(_title(self)), size=9.5)
        axes.spines[["left", "right"]].set_visible(False)
        stations_axis(axes, axes, system)


def _title(picture: SpotPicture) -> tuple[str, ...]:
    """Return the title and under it what each mark means, two to a line."""
    marks = ["ring = heat"] if picture.spots else []
    marks += ["crossed square = heated before"] if picture.sketch.used else []
    marks += ["hatched = keep off"] if picture.sketch.keep_off else []
    return ("Heat spots, cam side up", *(", ".join(marks[n : n + 2]) for n in range(0, len(marks), 2)))


def _row(side: str, picture: SpotPicture) -> float:
    return float(large(picture.sketch.rows, picture.system)) * (1 if side == "inlet" else -1)


def _places(axes: Axes, picture: SpotPicture) -> None:
    ring, square = _mark_sizes(picture)
    for place in picture.sketch.used:
        at = float(large(place.station, picture.system)), _row(place.side, picture)
        again = any(_same(spot, place) for spot in picture.spots)
        size = ring + 9.0 if again else square  # around the ring, the arms of the cross in its corners
        axes.plot(*at, marker="s", ms=size, mfc="white", mec=QUIET, mew=1.2)
        axes.plot(*at, marker="x", ms=0.9 * size if again else 0.7 * size, mec=QUIET, mew=1.2)
    for spot in picture.spots:
        at = float(large(spot.station, picture.system)), _row(spot.side, picture)
        axes.plot(*at, marker="o", ms=ring, mfc="white", mec=RED, mew=2.2)
        aside = 0.0 if ring == RING else (ring / 2 + 8) * (1 if spot.side == "inlet" else -1)
        axes.annotate(str(spot.order), at, xytext=(0, aside), textcoords="offset points", **_FIGURE)


def _same(spot: SpotLine, place: UsedPlace) -> bool:
    """Return whether a spot heats a used place again, so that its ring lies in the square."""
    return spot.side == place.side and abs(spot.station - place.station) < AGAIN


def _mark_sizes(picture: SpotPicture) -> tuple[float, float]:
    """Return the widths of rings and squares [pt], smaller where the two would meet; small rings carry no number inside."""
    strokes_and_air = 4.4
    fresh = [spot for spot in picture.spots if not any(_same(spot, place) for place in picture.sketch.used)]
    room = DRAWN * picture.sketch.apart(fresh) / picture.sketch.length - strokes_and_air
    if room >= (RING + SQUARE) / 2:
        return RING, SQUARE
    return min(max(1.1 * room, 4.0), 11.0), min(max(0.9 * room, 3.0), SQUARE)
