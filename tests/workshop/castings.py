"""Heads as they come in: an invented casting, and the truth of it that nobody sees.

Everything is drawn from the head's number alone. What the head file tells of it is in `files`; what is not told is the
truth: stiffness, response, true flame, friction, the lines as height profiles.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

import numpy as np

from tests.workshop.laws import Metal, Place

XI = np.linspace(0.0, 1.0, 121)
MIDDLE = XI.size // 2
E_HEAD, G_HEAD, E_STEEL, E_IRON = 71e3, 26.7e3, 206e3, 110e3  # MPa
DENSITY = 2.68e-6  # kg/mm3
GAUGES = (
    (0.03, 0.04, 0.05, 0.06, 0.07, 0.08, 0.10, 0.12, 0.15, 0.18, 0.20, 0.25, 0.30, 0.35, 0.40, 0.45, 0.50, 0.60, 0.70, 0.80, 1.00),
    (0.04, 0.05, 0.06, 0.08, 0.10, 0.12, 0.15, 0.18, 0.20, 0.25, 0.30, 0.35, 0.40, 0.45, 0.50, 0.60, 0.70, 0.80, 1.00),
    (0.04, 0.05, 0.08, 0.10, 0.13, 0.15, 0.18, 0.20, 0.23, 0.25, 0.30, 0.33, 0.38, 0.41, 0.46, 0.51, 0.56, 0.64, 0.76, 0.89, 1.02),
)  # fmt: skip
BLADES = (0.05, 0.10, 0.15, 0.20, 0.30, 0.50)  # to stack, four of each
TIPS = (9.0, 12.0, 15.0, 18.0, 22.0)  # mm flux radius


@dataclass(frozen=True)
class Casting:
    """What can be measured or looked up: sizes, limits, tools. Told in the head file, as far as a person would."""

    name: str
    length: float
    width: float
    height: float
    mass: float
    roof: float
    deck: float
    wall: float
    alloy: str
    webs: tuple[float, ...]
    towers: tuple[float, ...]
    cam_lines: int
    bolts: tuple[float, ...]
    base: tuple[str, str, float, float]  # kind, material, thickness, width
    limits: tuple[float, float, float, float]  # deck, cam line, largest removal, removed before
    gauge: tuple[float, ...]
    tips: tuple[float, ...]  # flux radius as the owner takes it to be
    rows: float
    keep_off: tuple[tuple[float, float], ...]  # station, radius

    @property
    def shims(self) -> tuple[float, float]:
        return 10.0, self.length - 10.0

    @property
    def removal_left(self) -> float:
        return self.limits[2] - self.limits[3]

    @property
    def fresh_torch(self) -> float:
        """The tip a person would take up first: the middle one."""
        return self.tips[len(self.tips) // 2]


@dataclass(frozen=True)
class Truth:
    """The head as it is. `deck` (exhaust edge, centre, inlet edge) and `cam` heights over the chord [mm] along XI;
    `tower_off` of every bore; `rough` of the deck; stiffness in N mm2 and N; factors of its own."""

    number: int
    casting: Casting
    metal: Metal
    deck: np.ndarray
    cam: np.ndarray
    tower_off: np.ndarray
    rough: np.ndarray
    bending: float
    shear: float
    arm: float
    inertia: float
    base_bending: float
    give: float  # mm/N: bolts, shims, local
    friction: float
    cam_ratio: float
    flame: tuple[float, ...]  # true over believed, a tip
    hand: dict[str, float]
    start_cam: float
    places: tuple[Place, ...] = ()
    passes: int = 0
    past: bool = False
    scatter: float = 0.12
    odd: dict[str, float] = field(default_factory=dict)

    @property
    def deck_bow(self) -> float:
        """Middle over the ends, mean of the two edges [mm]."""
        return float((bow_of(self.deck[0]) + bow_of(self.deck[2])) / 2)

    @property
    def twist(self) -> float:
        """Lift of the rear inlet corner, and of the front exhaust one [mm]."""
        rise = self.deck[2] - self.deck[0]
        return float(rise[-1] - rise[0]) / 4

    @property
    def cam_bow(self) -> float:
        """Middle over the ends, mean of the cam lines [mm]."""
        return float(np.mean([bow_of(line) for line in self.cam]))


def bow_of(line: np.ndarray) -> float:
    return float(line[MIDDLE] - (line[0] + line[-1]) / 2)


def section(casting: Casting, holes: tuple[float, float]) -> tuple[float, float, float]:
    """Second moment of area, neutral axis, area of the side walls: deck, roof and two walls [mm]; `holes` left of plates and walls."""
    W, H, d, r, w = casting.width, casting.height, casting.deck, casting.roof, casting.wall
    parts = [
        (holes[0] * W * d, d / 2, d), (holes[0] * W * r, H - r / 2, r), (holes[1] * 2 * w * (H - d - r), (H + d - r) / 2, H - d - r),
    ]  # fmt: skip
    area = sum(a for a, _, _ in parts)
    axis = sum(a * z for a, z, _ in parts) / area
    inertia = sum(a * (z - axis) ** 2 + a * t**2 / 12 for a, z, t in parts)
    return inertia, axis, holes[1] * 2 * w * H


def draw(number: int, odd: dict[str, float] | None = None) -> Truth:
    """Return the head of a number. `odd` sets factors that break the planner's model: spot, scatter, feel, friction, gap."""
    rng = np.random.default_rng([number, 101])
    odd = odd or {}
    bow, length = _size(rng)
    casting = _casting(rng, number, length)
    holes = (
        float(np.clip(rng.normal(0.82, 0.06), 0.65, 1.0)),
        float(np.clip(rng.normal(0.75, 0.12), 0.45, 1.0)),
    )
    inertia, axis, walls = section(casting, holes)
    ratio = math.exp(rng.normal(0, 0.30))
    deck, cam, skim = _lines(rng, casting, bow, ratio)
    casting = replace(casting, limits=(*casting.limits[:3], skim))
    arm = casting.height - casting.roof / 2 - axis
    metal = Metal(
        roof=casting.roof * math.exp(rng.normal(0, 0.04)), arm2_i=arm**2 / inertia, length=length, webs=casting.webs,
        short=rng.uniform(), spot=odd.get("spot", math.exp(rng.normal(0, 0.12))), kept=math.exp(rng.normal(0, 0.15)),
        lean=rng.normal(0, 0.12),
    )  # fmt: skip
    kind, material, thickness, width = casting.base
    solid = 1.0 if kind == "plate" else 0.45
    modulus = E_STEEL if material == "steel" else E_IRON if material == "iron" else E_HEAD
    truth = Truth(
        number=number, casting=casting, metal=metal, deck=deck, cam=cam,
        tower_off=rng.normal(0, 0.010, (casting.cam_lines, len(casting.towers))),
        rough=_rough(rng), bending=E_HEAD * inertia, shear=G_HEAD * walls * 0.9, arm=arm, inertia=inertia,
        base_bending=modulus * solid * width * thickness**3 / 12, give=0.6e-6 * math.exp(rng.normal(0, 0.35)),
        friction=odd.get("friction", float(np.clip(math.exp(rng.normal(math.log(0.135), 0.2)), 0.08, 0.24))),
        cam_ratio=ratio, flame=tuple(math.exp(rng.normal(0, 0.08)) for _ in casting.tips),
        hand={
            "feel": odd.get("feel", rng.uniform(0.005, 0.015)), "dwell": math.exp(rng.normal(0, 0.08)), "peak": rng.normal(0, 10),
            "edge": rng.normal(0, 0.003), "gap": odd.get("gap", 0.0),
        },
        start_cam=0.0, scatter=odd.get("scatter", 0.12), odd=odd,
    )  # fmt: skip
    return replace(truth, start_cam=truth.cam_bow)


def _size(rng: np.random.Generator) -> tuple[float, float]:
    """Bow of the cam line 0.10 to 0.60 mm, even; short heads do not bow so far."""
    bow = rng.uniform(0.10, 0.60)
    while True:
        length = rng.uniform(300, 600)
        if bow <= 0.60 * (length / 400) ** 2:
            return bow, length


def _casting(rng: np.random.Generator, number: int, length: float) -> Casting:
    cylinders = max(2, round((length - 30) / rng.uniform(85, 105)))
    pitch = (length - 24) / cylinders
    walls = tuple(12 + pitch * k for k in range(cylinders + 1))
    outer = tuple(min(max(s, 18.0), length - 18.0) for s in walls)
    width, height = rng.uniform(130, 180), rng.uniform(82, 112)
    roof, deck, wall = rng.uniform(7, 10), rng.uniform(9, 13), rng.uniform(6, 9.5)
    plates = width * length * (roof + deck) * 0.8 + 2 * wall * length * height * 0.85
    webs = len(walls) * 9.5 * width * (height - roof - deck) * 0.55
    mass = DENSITY * (plates + webs) * rng.uniform(1.1, 1.5)  # bosses, ports, towers
    block = rng.random() < 0.3
    base = (
        ("block", "iron" if rng.random() < 0.6 else "aluminium", rng.uniform(180, 250), width * 1.15)
        if block
        else ("plate", "steel", float(rng.choice([40, 50, 60, 75])), rng.uniform(1.05, 1.3) * width)
    )
    tips = tuple(sorted(rng.choice(TIPS, size=rng.integers(1, 4), replace=False)))
    if max(tips) < 12:
        tips = (*tips, 12.0)
    middle = (walls[len(walls) // 2], 16.0)
    return Casting(
        name=f"workshop-{number}", length=round(length, 1), width=round(width, 1), height=round(height, 1), mass=round(mass, 2),
        roof=round(roof, 1), deck=deck, wall=wall, alloy=str(rng.choice(["A356-T6", "A356-T6", "AlSi7Mg-T6", "unknown"])),
        webs=tuple(round(w, 1) for w in walls), towers=tuple(round(t, 1) for t in outer), cam_lines=int(rng.integers(1, 3)),
        bolts=tuple(round(t, 1) for t in outer), base=base,
        limits=(round(rng.uniform(0.05, 0.08), 3), round(rng.uniform(0.05, 0.08), 3), round(rng.uniform(0.20, 0.35), 2), 0.0),
        gauge=GAUGES[rng.integers(len(GAUGES))], tips=tuple(float(t) for t in tips), rows=round(0.21 * width, 1),
        keep_off=(middle,) if rng.random() < 0.5 else (),
    )  # fmt: skip


def _lines(
    rng: np.random.Generator, casting: Casting, bow: float, ratio: float
) -> tuple[np.ndarray, np.ndarray, float]:
    """Deck and cam lines of a bent head, and how much was skimmed off it while bent.

    The bow rises as 1 - |2 xi - 1|^p about a leaning top, so it is no parabola; deck and cam line bowed by the same
    unlike answer (in part) with which they will come back; one head in seven was skimmed while bent.
    """
    power, lean = rng.uniform(1.6, 3.2), rng.uniform(-0.25, 0.25)
    u = 2 * XI - 1
    body = (1 - np.abs(u) ** power) * bow - 2.6 * lean * bow * u * (1 - u**2)
    deck_over_cam = math.exp(-0.8 * math.log(ratio) + rng.normal(0, 0.12))
    twist, side, belly = rng.normal(0, 0.010), rng.normal(0, 0.01), rng.normal(0, 0.008)
    deck = np.stack([
        body * deck_over_cam + eta * (twist * u + side * (1 - u**2)) + (eta == 0) * belly * (1 - u**2)
        + rng.normal(0, 0.004) * np.sin(2 * math.pi * XI + rng.uniform(0, 6))
        for eta in (-1.0, 0.0, 1.0)
    ])  # fmt: skip
    cam = np.stack([
        body + rng.normal(0, 0.006) * (1 - u**2) + rng.normal(0, 0.005) * np.sin(3 * math.pi * XI)
        for _ in range(casting.cam_lines)
    ])  # fmt: skip
    skim = 0.0
    if rng.random() < 0.15:
        flat = rng.uniform(0.2, 0.8)
        skim = round(min(flat * bow * deck_over_cam, 0.5 * casting.limits[2]), 2)
        deck = deck - skim * (body / bow)
    return deck, cam, skim


def _rough(rng: np.random.Generator) -> np.ndarray:
    """Unevenness of the deck lines [mm]: 2 to 6 um, over some 15 mm."""
    noise = rng.normal(0, 1, (3, XI.size + 4))
    smooth = np.stack([np.convolve(row, [0.25, 0.6, 0.6, 0.6, 0.25], "valid") for row in noise])
    return rng.uniform(0.002, 0.006) * smooth
