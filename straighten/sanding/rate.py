r"""How fast paper takes metal off, Preston's law with paper that wears; and what a look after so many strokes tells.

Preston's law says dh/dt = k p v with k = K / H. Over the whole face the pressure falls as the lands grow, but the
volume does not care: a stroke of sliding length s under the load W takes off

.. math:: V = (K / H)\, W s\, e

where e < 1 is what the worn paper still does of the fresh one. With the face's bearing integral B the volume tells
the depth: V = A h B(d / h).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from straighten.quantiles import Floats
from straighten.sanding.face import ALL_CLEAN, DEPTHS, FALLS, HOLLOWS, MEAN, SHARE, Face
from straighten.sanding.lap import Grit
from straighten.sources import Cited

BRINELL: Final = 9.80665e6  # Pa per HB, exact by definition of the kilogram-force
WEAR_FRESH: Final = Cited(
    1e-2, "", "wear coefficient of fresh abrasive paper, Rabinowicz 1965", "from memory"
)
WEAR_USED: Final = Cited(
    0.2, "of fresh", "used paper 2e-3 against 1e-2 fresh, Rabinowicz 1965", "from memory"
)
WEAR_SPREAD: Final = Cited(
    math.log(5.0) / 1.6449,
    "log-sd",
    "good to a factor of five (90 %): weight, wetness, paper and hand differ",
    "assumed",
)
USED_SPREAD: Final = Cited(0.35, "log-sd", "fresh cuts 2 to 10 times faster than used", "from memory")
FADING: Final = Cited(
    60.0, "strokes", "a wet sheet has lost most of its bite after some fifty strokes", "assumed"
)
FADING_SPREAD: Final = Cited(0.7, "log-sd", "papers and loads differ by two or more either way", "assumed")
CRITICAL_GRAIN: Final = Cited(
    100e-6, "m", "wear grows with the grain up to about 100 um and then no more: size effect", "from memory"
)
GRAIN_SPREAD: Final = Cited(0.4, "log-sd", "how strongly the grain counts below that", "assumed")
STROKE: Final = Cited(0.5, "m", "one stroke there and back, a quarter of a metre each way", "assumed")
SHEET_LIFE: Final = Cited(
    150.0, "strokes", "a fresh sheet about every 150 strokes keeps the rate steady", "assumed"
)
CURVE_MODES: Final = 12
# Unknowns, standard normal, in this order.
NAMES: Final = (
    "rate",
    "used",
    "fading",
    "grain",
    "height",
    *(f"curve {n}" for n in range(1, CURVE_MODES + 1)),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Ground:
    """What is sanded.

    `area` of metal in the face [m2]; `load` on the paper [N]; `hardness` [HB]; the height of the zone as mean
    `height_log` and sd `height_spread` of its logarithm [log m]; bearing curves as `middle`, change with the height
    `with_height` and further modes `with_curves`, each `(13, k)`: square roots of those of `Face`; `unexplained` `(13, k)` standard deviation of what these modes leave open.
    """

    area: float
    load: float
    hardness: float
    height_log: float
    height_spread: float
    middle: Floats
    with_height: Floats
    with_curves: Floats
    unexplained: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Factors:
    """Draws of the unknowns in use, `(n,)` each.

    `volume_rate` of fresh paper of the critical grain [m3 per stroke]; `used` share that worn paper keeps; `fading`
    [strokes]; `grain` power; `height` of the zone [m]; `curves` `(n, 13, k)`; `unexplained` as in `Ground`.
    """

    volume_rate: Floats
    used: Floats
    fading: Floats
    grain: Floats
    height: Floats
    curves: Floats
    unexplained: Floats


def ground_of(face: Face, *, area: float, load: float, hardness: float) -> Ground:
    """Return what is sanded: area [m2], load [N], hardness [HB], draws of the face as height and modes of its curves.

    Source: Principal components (derived).
    """
    logs = np.log(face.height)
    centre, spread = float(logs.mean()), max(float(logs.std()), 1e-3)
    z = (logs - centre) / spread
    curves = np.sqrt(face.curves)  # roots: small cuts count for more
    flat = curves.reshape(logs.size, -1)
    middle = flat.mean(axis=0)
    slope = (z @ (flat - middle)) / (z @ z)
    rest = flat - middle - z[:, None] * slope
    _, sizes, modes = np.linalg.svd(rest, full_matrices=False)
    modes, sizes = modes[:CURVE_MODES], sizes[:CURVE_MODES] / math.sqrt(logs.size)
    left = rest - (rest @ modes.T) @ modes  # what the modes in use leave of the curves' draws
    shape = curves.shape[1:]
    return Ground(
        area=area, load=load, hardness=hardness, height_log=centre, height_spread=spread,
        middle=middle.reshape(shape), with_height=slope.reshape(shape),
        with_curves=(modes * sizes[:, None]).reshape(CURVE_MODES, *shape),
        unexplained=np.sqrt(np.mean(left**2, axis=0)).reshape(shape),
    )  # fmt: skip


def preston(wear: float, hardness: float) -> float:
    """Return Preston's coefficient k = K / H [1/Pa] of a wear coefficient [-] and a hardness [HB].

    Source: Preston, J. Soc. Glass Technol. 11 (1927) 214; K after Rabinowicz 1965 (both from memory).
    Valid: To a factor of five before anything is measured.
    """
    return wear / (hardness * BRINELL)


def factors_of(ground: Ground, u: Floats) -> Factors:
    """Return the unknowns for standard normal draws `(n, 17)`.

    Valid: Any draw; curves are kept between zero and one and rising.
    """
    u = np.clip(u, -6.0, 6.0)  # a search for the mode may stray; nothing lies out there
    rate = preston(WEAR_FRESH.value, ground.hardness) * ground.load * STROKE.value
    curves = (
        ground.middle
        + u[:, 4, None, None] * ground.with_height
        + np.tensordot(u[:, 5:], ground.with_curves, axes=1)
    )
    return Factors(
        volume_rate=rate * np.exp(WEAR_SPREAD.value * u[:, 0]),
        used=np.minimum(WEAR_USED.value * np.exp(USED_SPREAD.value * u[:, 1]), 1.0),
        fading=FADING.value * np.exp(FADING_SPREAD.value * u[:, 2]),
        grain=np.exp(GRAIN_SPREAD.value * u[:, 3]),
        height=np.exp(ground.height_log + ground.height_spread * u[:, 4]),
        curves=_in_order(np.clip(curves, 0.0, 1.0) ** 2),
        unexplained=ground.unexplained,
    )


def _in_order(curves: Floats) -> Floats:
    """Return curves that rise with the depth, the hollow left falling."""
    ordered = np.maximum.accumulate(curves, axis=2)
    ordered[:, HOLLOWS] = np.minimum.accumulate(curves[:, HOLLOWS], axis=2)
    return ordered


def grain_factor(size: float, power: Floats) -> Floats:
    """Return how much a paper of a grain size [m] takes against one at the critical grain size."""
    return np.power(min(size / CRITICAL_GRAIN.value, 1.0), power)


def sheet_work(strokes: Floats, factors: Factors) -> Floats:
    """Return what a fresh sheet does in so many strokes, in strokes of ever fresh paper: r n + (1 - r) m (1 - exp(-n / m)).

    The strokes are broadcast against `(n,)`; r and m are what worn paper keeps and how it fades.
    """
    faded = factors.fading * -np.expm1(-strokes / factors.fading)
    return factors.used * strokes + (1 - factors.used) * faded


def work_done(strokes: float, sheets: int, factors: Factors) -> Floats:
    """Return the work of strokes spread evenly over fresh sheets, in strokes of ever fresh paper, `(n,)`."""
    return sheets * sheet_work(np.asarray(strokes / sheets), factors)


def strokes_for(work: Floats, factors: Factors) -> Floats:
    """Return the strokes that do a given work, a fresh sheet every `SHEET_LIFE` strokes, `(n,)`."""
    life = SHEET_LIFE.value
    whole = sheet_work(np.asarray(life), factors)
    sheets = np.floor(work / whole)
    rest = work - sheets * whole
    low, high = np.zeros_like(work), np.full_like(work, life)
    for _ in range(30):
        middle = (low + high) / 2
        over = sheet_work(middle, factors) > rest
        low, high = np.where(over, low, middle), np.where(over, middle, high)
    return sheets * life + (low + high) / 2


def depth_for(volume: Floats, ground: Ground, factors: Factors) -> Floats:
    """Return the depth taken off the highest place [m] for a volume of metal [m3], `(n,)`."""
    relative = volume / (ground.area * factors.height)
    return factors.height * _inverse(factors.curves[:, MEAN], relative)


def volume_for(depth: Floats, ground: Ground, factors: Factors) -> Floats:
    """Return the volume of metal [m3] for a depth off the highest place [m], `(n,)`."""
    mean = read_curve(factors.curves[:, MEAN], depth / factors.height)
    return ground.area * factors.height * mean


def read_curve(curves: Floats, depth: Floats, *, beyond: float = 1.0) -> Floats:
    """Return curves `(n, k)` over `DEPTHS` at a depth each, growing by `beyond` per unit past full clean-up."""
    step = DEPTHS[1] - DEPTHS[0]
    place = np.clip(depth / step, 0.0, DEPTHS.size - 1 - 1e-9)
    left = place.astype(np.intp)
    rows = np.arange(curves.shape[0])
    inside = curves[rows, left] + (place - left) * (curves[rows, left + 1] - curves[rows, left])
    value: Floats = inside + beyond * np.maximum(depth - 1.0, 0.0)
    return value


def _inverse(curves: Floats, value: Floats) -> Floats:
    """Return the depths at which rising curves `(n, k)` reach a value each; past the end they rise one for one."""
    rows = np.arange(curves.shape[0])
    left = np.clip(np.sum(curves <= value[:, None], axis=1) - 1, 0, DEPTHS.size - 2)
    low, high = curves[rows, left], curves[rows, left + 1]
    share = (value - low) / np.maximum(high - low, 1e-15)
    step = DEPTHS[1] - DEPTHS[0]
    inside = DEPTHS[left] + step * np.clip(share, 0.0, 1.0)
    return np.where(value > curves[:, -1], 1.0 + value - curves[:, -1], inside)


# --- what a look tells ------------------------------------------------------------------------------------------------

SHARE_ERROR: Final = Cited(
    0.04, "of the face", "squares of a pen grid counted, those half worn judged by eye", "assumed"
)
HEIGHT_ERROR: Final = Cited(
    4e-6, "m", "a micrometer read twice at the same place, hand and casting warm", "assumed"
)
GAP_ERROR: Final = Cited(6e-6, "m", "straightedge and feeler, blade tolerance in it", "assumed")
MODEL_ERROR: Final = Cited(
    0.04, "of the value", "lands do not grow quite as the smooth shape says", "assumed"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """One run of strokes and what was seen after it.

    `strokes` there and back on `sheets` fresh sheets of `grit`; `cleaned` share of the face that shines, 0 to 1; `falls`
    of the height since sanding began at each of `readings.records.RIM` [m]; `gaps` left on each of `face.LINES`, what goes and what
    does not [m]; where only one figure is known: `dropped` mean fall of so many `corners` and the `deepest` fall [m], the
    largest `gap` anywhere; None or empty = not looked at.
    """

    strokes: float
    grit: Grit
    sheets: int
    cleaned: float | None = None
    dropped: float | None = None
    corners: int = 4
    gap: tuple[float, float] | None = None
    deepest: float | None = None
    gaps: tuple[tuple[float, float] | None, ...] = ()
    falls: tuple[float | None, ...] = ()


def of_check(check: Check, depth: Floats, factors: Factors) -> Floats:
    """Return the log-likelihood `(n,)` of a check at a depth off the highest place by then, `(n,)` [m].

    Source: Normal errors and a bracket's probability (derived), sizes as named above.
    Valid: Errors of one look independent of each other.
    """
    from scipy.special import log_ndtr

    relative = depth / factors.height
    total: Floats = np.zeros(depth.size)
    if check.cleaned is not None:
        share = read_curve(factors.curves[:, SHARE], relative, beyond=0.0)
        if check.cleaned >= ALL_CLEAN:  # all that is known: at least so much
            total = total + log_ndtr((share - ALL_CLEAN + SHARE_ERROR.value) / SHARE_ERROR.value)
        else:
            total = total - 0.5 * ((share - check.cleaned) / SHARE_ERROR.value) ** 2
    if any(fall is not None for fall in check.falls):
        total = total + _of_falls(check.falls, factors, depth)
    elif check.dropped is not None:
        corner = rim_falls(factors, depth)[:4].mean(axis=0)
        error = math.hypot(
            HEIGHT_ERROR.value * math.sqrt(2 / check.corners), MODEL_ERROR.value * abs(check.dropped)
        )
        total = total - 0.5 * ((corner - check.dropped) / error) ** 2
    if any(gap is not None for gap in check.gaps):
        hollows = zip(check.gaps, hollows_left(factors, depth), strict=True)
        total = total + sum(_between(hollow, gap) for gap, hollow in hollows if gap is not None)
    elif check.gap is not None:
        total = total + _between(hollow_left(factors, depth), check.gap)
    return total


def _of_falls(falls: tuple[float | None, ...], factors: Factors, depth: Floats) -> Floats:
    """Return the log-likelihood of the falls read at the rim, `(n,)`."""
    total: Floats = np.zeros(depth.size)
    for fall, found, own in zip(falls, rim_falls(factors, depth), _rim_errors(factors, depth), strict=True):
        if fall is not None:
            error = np.sqrt(2 * HEIGHT_ERROR.value**2 + (MODEL_ERROR.value * fall) ** 2 + own**2)
            total = total - 0.5 * ((found - fall) / error) ** 2 - np.log(error)
    return total


def _rim_errors(factors: Factors, depth: Floats) -> Floats:
    """Return what the modes of the curves leave open of the fall at each place of the rim [m], `(6, n)`."""
    relative = depth / factors.height
    cut = rim_falls(factors, depth) / factors.height
    rows = [np.broadcast_to(row, (depth.size, row.size)) for row in factors.unexplained[FALLS]]
    sd = np.stack([read_curve(row, relative, beyond=0.0) for row in rows])
    return factors.height * (2 * np.sqrt(cut) * sd + sd**2)  # of a root's square


def hollow_left(factors: Factors, depth: Floats) -> Floats:
    """Return the largest hollow under the straightedge after a depth off the highest place [m], `(n,)`."""
    largest: Floats = hollows_left(factors, depth).max(axis=0)
    return largest


def hollows_left(factors: Factors, depth: Floats) -> Floats:
    """Return the hollow left on each of the five lines after a depth off the highest place [m], `(5, n)`."""
    lines = factors.curves[:, HOLLOWS].transpose(1, 0, 2)
    return factors.height * np.stack([read_curve(line, depth / factors.height, beyond=0.0) for line in lines])


def rim_falls(factors: Factors, depth: Floats) -> Floats:
    """Return the fall of the height at the six places of the rim after a depth off the highest place [m], `(6, n)`."""
    places = factors.curves[:, FALLS].transpose(1, 0, 2)
    return factors.height * np.stack([read_curve(place, depth / factors.height) for place in places])


def _between(value: Floats, gap: tuple[float, float]) -> Floats:
    """Return the log-probability that a feeler brackets a value, with the gauges' error."""
    from scipy.special import ndtr

    error = np.hypot(GAP_ERROR.value, MODEL_ERROR.value * value)
    below = ndtr((gap[0] - value) / error) if gap[0] > 0 else 0.0
    above = ndtr((gap[1] - value) / error) if math.isfinite(gap[1]) else 1.0
    return np.log(np.maximum(above - below, 1e-12))
