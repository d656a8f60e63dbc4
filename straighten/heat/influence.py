"""What shrinking zones of the roof do to one another, in this head and in an endless plate of the same elements."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, Final

import numpy as np

from straighten.heat.plates import element
from straighten.heat.roof import Roof
from straighten.heat.zone import Zone

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Counts = NDArray[np.intp]


ALIKE: Final = 0.05  # of a scaled M; under it zones are one place to the elements, and shrink alike (zones apart: 0.12 and more)
_PERIOD: Final = 128  # cells after which the endless plate repeats itself


@lru_cache(maxsize=16)
def _endless(dx: float, dy: float, nu: float) -> Floats:
    """Elastic answer of the same elements in an endless plate to a strain in one cell, `(period, period, 2, 2)`: by Fourier."""
    stiff, force, _ = element(dx, dy, nu)
    wave = 2 * np.pi * np.fft.fftfreq(_PERIOD)
    corner = np.array([(0, 0), (1, 0), (1, 1), (0, 1)])
    turn = np.exp(1j * (wave[:, None, None] * corner[:, 0] + wave[None, :, None] * corner[:, 1]))
    both = np.repeat(turn, 2, axis=2)
    spread = np.zeros((8, 2))
    spread[::2, 0] = spread[1::2, 1] = 1.0
    stiffness = np.einsum("xya,ab,xyb,ai,bj->xyij", both.conj(), stiff, both, spread, spread, optimize=True)
    push = np.einsum("xya,ac,ai->xyic", both.conj(), force, spread, optimize=True)
    stiffness[0, 0] = np.eye(2) * 1e30
    energy = np.einsum("xyia,xyib->xyab", push.conj(), np.linalg.solve(stiffness, push))
    return np.asarray(np.fft.ifft2(energy, axes=(0, 1)).real)


def mutual(roof: Roof, zones: tuple[Zone, ...]) -> Floats:
    """Return M, the stress over E along and across in every zone per shrinkage of every zone, `(2 zones, 2 zones)` [1/m3].

    Args:
        roof: the elastic head.
        zones: patches that shrink evenly.

    Source: membrane elements; reciprocity (derived).
    Valid: zones larger than the elements; `endless` tells what the elements make of the same zones in an endless plate.
    """
    answers = [roof.answer(zone) for zone in zones]
    area, thick, law = roof.dx * roof.dy, roof.sizes.roof, roof.law[:2, :2]
    covers = [roof.cover(zone) for zone in zones]
    found = np.zeros((len(zones), 2, len(zones), 2))
    for i, cover in enumerate(covers):
        at = np.nonzero(cover)
        weight = cover[at] / cover.sum()
        for j, (other, answer) in enumerate(zip(covers, answers, strict=True)):
            shared = float(weight @ other[at]) / (other.sum() * area)
            felt = np.tensordot(weight, answer[at], axes=1)
            found[i, :, j, :] = law * shared / thick - felt
    whole = found.reshape(2 * len(zones), -1)
    return np.asarray((whole + whole.T) / 2)


def inverse_of(among: Floats) -> Floats:
    """Return the inverse of M among zones [m3]; of a place named twice each half takes half.

    Source: eigenvalues of M scaled to a unit diagonal; those under `ALIKE` are differences between zones that the
        elements do not see, and are left out.
    Valid: M without negative eigenvalue.
    """
    scale = 1 / np.sqrt(np.diag(among))
    values, vectors = np.linalg.eigh(among * scale * scale[:, None])
    seen = vectors[:, values > ALIKE] * scale[:, None]
    return np.asarray(seen / values[values > ALIKE] @ seen.T)


@lru_cache(maxsize=2048)
def endless(roof: Roof, zones: tuple[Zone, ...]) -> Floats:
    """Return the same for zones of one flame in an endless plate of the same elements.

    Source: Fourier's series over the elements; derived.
    Valid: zones within a few hundred millimetres of one another.
    """
    kernel = _endless(roof.dx, roof.dy, roof.sizes.poisson) / (roof.dx * roof.dy)
    area, thick, law = roof.dx * roof.dy, roof.sizes.roof, roof.law[:2, :2]
    covers = [roof.cover(zone) for zone in zones]
    cells = [np.nonzero(cover) for cover in covers]
    weights = [cover[at] / cover.sum() for cover, at in zip(covers, cells, strict=True)]
    found = np.zeros((len(zones), 2, len(zones), 2))
    for i, at in enumerate(cells):
        for j, other in enumerate(cells[: i + 1]):
            apart = [(a[:, None] - b) % _PERIOD for a, b in zip(at, other, strict=True)]
            felt = np.einsum("p,q,pqab->ab", weights[i], weights[j], kernel[apart[0], apart[1]])
            shared = float((covers[i] * covers[j]).sum()) / (covers[i].sum() * covers[j].sum() * area)
            found[i, :, j, :] = (law * shared - felt / area) / thick
            found[j, :, i, :] = found[i, :, j, :].T
    return found.reshape(2 * len(zones), -1)
