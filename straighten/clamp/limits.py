"""What the clamp may not exceed: bolts, threads, the face under the washer, and the casting itself."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from straighten.clamp.bolts import PROOF_MARGIN, Thread, clamp_thread, proof_load
from straighten.clamp.clamped import Clamped, ClampSetup
from straighten.clamp.section import Section, curve_at
from straighten.head.records import Alloy, Head, HeadBolt
from straighten.quantiles import Floats
from straighten.sources import Cited

BASE_STRENGTH: Final = {
    "steel": Cited(360e6, "Pa", "least tensile strength of S235, EN 10025-2", "from memory"),
    "iron": Cited(250e6, "Pa", "least tensile strength of GJL-250, EN 1561", "from memory"),
    "aluminium": Cited(
        200e6, "Pa", "cast block, least tensile strength of EN AC-46000 about 240 MPa", "from memory"
    ),
}
BASE_YIELD: Final = {
    "steel": Cited(215e6, "Pa", "S235 over 40 mm thick, EN 10025-2", "from memory"),
    "iron": Cited(125e6, "Pa", "half the tensile strength of GJL-250; grey iron does not yield", "assumed"),
    "aluminium": Cited(110e6, "Pa", "wrought 5083 plate, EN 485-2", "from memory"),
}
SHEAR_SHARE: Final = Cited(
    0.6, "", "shear over tensile strength; VDI 2230 gives 0.6 to 0.9 by material", "from memory"
)
THREAD_MARGIN: Final = Cited(
    0.6, "", "a tapped hole is used again and again; keep to this share of stripping", "assumed"
)
_VDI_FACES: Final = "limiting surface pressure, fastener makers' tables after VDI 2230 (2003), marked there as not yet confirmed"
FACE_PRESSURE: Final = {  # under a nut or washer, by kind of casting
    "AlSi7Mg hardened": Cited(380e6, "Pa", f"GK-AlSi7Mg wa, Rm 250 MPa: {_VDI_FACES}", "seen"),
    "AlSiCu hardened": Cited(290e6, "Pa", f"GD-AlSi9Cu3, Rm 240 MPa: {_VDI_FACES}", "seen"),
    "as cast": Cited(220e6, "Pa", f"GK-AlSi9Cu3, Rm 180 MPa: {_VDI_FACES}", "seen"),
}
YIELD_SHARE: Final = Cited(
    0.5,
    "",
    "cold bending stress of the casting over its yield: ports and bosses raise the stress about twofold",
    "assumed",
)
BRITTLE_STRAIN: Final = Cited(
    3e-3, "", "cold bending strain of a casting that breaks at 1 to 2 % in its worst places", "assumed"
)
SPARE_ENGAGEMENT: Final = Cited(1.0, "diameters", "thread in the base where none is told", "assumed")


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """One limit of the clamp over n draws.

    `name`; `value` and `allowed` [N], [Pa] or strain; `share` value over allowed, `(n,)`; `words` what it is and what to do;
    `source` of the allowed figure.
    """

    name: str
    value: Floats
    allowed: float
    words: str
    source: str

    @property
    def share(self) -> Floats:
        """Value over allowed, `(n,)`."""
        return np.asarray(self.value / self.allowed)

    def chance(self) -> float:
        """Return the chance that the limit is exceeded."""
        return float(np.mean(self.share > 1))


def limits_of(head: Head, section: Section, clamped: Clamped, setup: ClampSetup) -> tuple[Limit, ...]:
    """Return the limits of a clamped state, for the bolt that is nearest to each.

    Raises:
        BadInput: a thread or grade that does not exist.

    Source: ISO 898-1, VDI 2230, FED-STD-H28 (from memory); margins as marked.
    Valid: at room temperature; for hot metal see `springs.grow`.
    """
    found: dict[str, list[Limit]] = {}
    for bolt in sorted(set(setup.bolts)):
        for limit in _bolt_limits(head, head.bolts[bolt], clamped.bolt_tension[:, bolt]):
            found.setdefault(limit.name, []).append(limit)
    worst = [max(alike, key=lambda limit: float(limit.share.max())) for alike in found.values()]
    return (*worst, *_casting_limits(head, section, clamped), *_base_limits(head, clamped))


def bolt_loads(head: Head, hole: HeadBolt) -> dict[str, float]:
    """Return the most tension of a bolt by each limit of its own, by name [N]; a stud with a nut below has no base thread.

    Raises as `limits_of`.
    """
    return {limit.name: limit.allowed for limit in _bolt_limits(head, hole, np.zeros(1))}


def _bolt_limits(head: Head, hole: HeadBolt, tension: Floats) -> tuple[Limit, ...]:
    thread, grade = clamp_thread(hole)
    pressure, strength = face_pressure(head.alloy), BASE_STRENGTH[head.base.material]
    bolt = Limit(
        name="bolt proof load",
        value=tension,
        allowed=PROOF_MARGIN.value * proof_load(thread, grade),
        words=f"{hole.thread} {hole.grade}: share more bolts, or a stronger grade",
        source=f"{grade.source}; {PROOF_MARGIN}",
    )
    washer = Limit(
        name="face under the washer",
        value=tension,
        allowed=pressure.value * bearing_area(hole, thread),
        words="a wider, thicker hard washer",
        source=str(pressure),
    )
    if hole.through:
        return bolt, washer
    length = engagement(head, hole, thread)
    base = Limit(
        name="thread in the base",
        value=tension,
        allowed=THREAD_MARGIN.value * stripping_load(thread, length, strength.value),
        words=f"{hole.thread}, {length * 1e3:.0f} mm of thread in {head.base.material}: deeper thread, or a nut below",
        source=f"{strength}; {THREAD_MARGIN}",
    )
    return bolt, base, washer


def face_pressure(alloy: Alloy) -> Cited[float]:
    """Return the limiting pressure under a washer on this metal [Pa]; what nobody knows counts as cast.

    Valid: flat, unpainted face; hardened means T5, T6 and their like.
    """
    if alloy.temper[:2] not in ("T5", "T6", "TF"):
        return FACE_PRESSURE["as cast"]
    return FACE_PRESSURE["AlSi7Mg hardened" if alloy.family == "Al-Si7-Mg" else "AlSiCu hardened"]


def engagement(head: Head, bolt: HeadBolt, thread: Thread) -> float:
    """Return the length of thread in the base [m]: as told, else one diameter, never more than the base is thick."""
    told = bolt.engagement if bolt.engagement is not None else SPARE_ENGAGEMENT.value * thread.diameter
    return told if head.base.kind == "rigid" else min(told, head.base.thickness)


def stripping_load(thread: Thread, length: float, strength: float) -> float:
    r"""Return the load that strips an internal thread [N].

    .. math:: F = \tau \pi d L \left(\frac{1}{2} + 0.57735 \frac{d - d_2}{P}\right)

    `length` engaged length [m]; `strength` tensile strength of the tapped metal [Pa].

    Source: FED-STD-H28/2 shear area of internal threads at basic size; shear strength 0.6 of tensile (from memory).
    Valid: bolt stronger than the tapped metal; tolerances take up to a tenth off.
    """
    per_length = math.pi * thread.diameter
    area = per_length * length * (0.5 + 0.57735 * (thread.diameter - thread.pitch_diameter) / thread.pitch)
    return SHEAR_SHARE.value * strength * area


def bearing_area(bolt: HeadBolt, thread: Thread) -> float:
    """Return the area under washer or nut [m2]: washer's outer diameter as told, else a washer of twice the bolt's.

    Source: ISO 7089 washers are twice the thread's diameter, ISO 273 medium holes a tenth wider (from memory).
    Valid: flat face, hard washer thick enough to spread the load.
    """
    outer = bolt.washer if bolt.washer is not None else 2 * thread.diameter
    return math.pi / 4 * max(outer**2 - (1.1 * thread.diameter) ** 2, 1e-6)


def cold_yield(alloy: Alloy) -> float:
    """Return the yield of the cold casting less one deviation [Pa]: castings differ.

    Valid: at room temperature.
    """
    return curve_at(alloy.yield_short, 20.0) * math.exp(-alloy.spread)


def _casting_limits(head: Head, section: Section, clamped: Clamped) -> tuple[Limit, Limit]:
    reach = max(section.neutral_axis, section.height - section.neutral_axis)
    strain = np.abs(clamped.curvature).max(axis=1) * reach
    return (
        Limit(
            name="casting against its cold yield",
            value=strain * section.modulus,
            allowed=YIELD_SHARE.value * cold_yield(head.alloy),
            words="bend less in one pass",
            source=f"{head.alloy.name}, yield less one deviation; {YIELD_SHARE}",
        ),
        Limit(
            name="strain of a brittle casting",
            value=strain,
            allowed=BRITTLE_STRAIN.value,
            words="bend less in one pass; a cold over-bend cracks castings",
            source=str(BRITTLE_STRAIN),
        ),
    )


def _base_limits(head: Head, clamped: Clamped) -> tuple[Limit, ...]:
    """Return the base's bending stress: it carries the head's moments turned round. A block is not followed."""
    if head.base.kind != "plate":
        return ()
    resists = head.base.width * head.base.thickness**2 / 6
    return (
        Limit(
            name="base against its yield",
            value=np.abs(clamped.moment).max(axis=1) / resists,
            allowed=BASE_YIELD[head.base.material].value,
            words="a thicker base; one that yields takes the bend instead of the head",
            source=str(BASE_YIELD[head.base.material]),
        ),
    )
