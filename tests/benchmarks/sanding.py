"""How well the strokes to the goal are foretold after the first logged check, and whether the removal limit ever breaks.

Run as ``python -m tests.benchmarks.sanding [sandings [seed]]``. Heads are simulated as metal: a smooth shape with
unevenness and pits, chambers cut out of the face, lying on paper that gives like a bed of springs (Winkler); the plane
settles by force and moments, and every place wears by its own pressure (Archard). The rate is off by up to five times
either way, the paper fades in its own way, sheets differ, shares are judged by eye, heights read with a micrometer,
gaps with blades. The survey passes the same door as a person's.

`within_25pct`: of the sandings whose goal can be reached inside the removal limit, the share whose whole number of
strokes from the first one to the goal is foretold within 25 % after the first logged check; `..._of_the_strokes_left`
the same for what is still to do after that check, the stricter reading: 0.79 on seed 1, on which the first check's
place was chosen, 0.78 on seed 2; the split stands in docs/theory/finish.md; `limit_breaks`: sandings in which any place lost more than allowed.
The last line printed is one JSON object.
"""

from __future__ import annotations

import json
import math
import sys
from dataclasses import dataclass, field, replace
from multiprocessing import Pool

import numpy as np

from straighten.readings import survey_from_text
from straighten.sanding.face import ALL_CLEAN
from straighten.sanding.lap import Grit, unknown_surface
from straighten.sanding.learning import Stop, learn_rate, sheets_for
from straighten.sanding.plan import Wanted, sanding_plan
from straighten.sanding.rate import STROKE, WEAR_FRESH, Check, preston
from straighten.shape import fit_shape
from straighten.shape.modes import INDEX, deck_rows
from tests.benchmarks.survey import HEAD, Metal, as_text, cast, survey

BED = 2e10  # stiffness of paper on glass [Pa/m]
SHEET_SCATTER = 0.10
EYE, MICROMETER, MICROMETER_STEP, BLADE_HAND = 0.03, 3e-6, 1e-6, 4e-6
RIM = [0, 15, 42 * 16, 43 * 16 - 1, 21 * 16, 21 * 16 + 15]  # four corners, middles of both edges
PEN = 1e-6  # a place whose pen mark is gone has lost this much [m]
CHECKS = 12


@dataclass
class Bench:
    """One simulated sanding: metal, paper and the hand that reads."""

    metal: Metal
    rng: np.random.Generator
    limit: float
    goal: str
    load: float
    factor: float
    used: float
    fading: float
    grain: float
    x: np.ndarray = field(init=False)
    y: np.ndarray = field(init=False)
    z: np.ndarray = field(init=False)  # height of the metal towards the paper [m]
    land: np.ndarray = field(init=False)
    cell: float = field(init=False)
    zero: np.ndarray = field(init=False)  # heights at the rim before the first stroke [m]
    strokes: float = 0.0

    def __post_init__(self) -> None:
        along, across = np.linspace(0, 1, 43), np.linspace(-1, 1, 16)
        xi, eta = (v.ravel() for v in np.meshgrid(along, across, indexing="ij"))
        length, width = HEAD.casting.length, HEAD.casting.width
        self.x, self.y = xi * length, eta * width / 2
        self.z = -(deck_rows(xi, eta) @ self.metal.state) - self.metal.uneven(xi, eta)
        self.start = self.z.copy()
        centres = (np.array(HEAD.towers[1:]) + np.array(HEAD.towers[:-1])) / 2
        bore = HEAD.engine.bore or 0.084
        far = np.min(np.hypot(self.x[:, None] - centres, self.y[:, None]), axis=1)
        self.land = far > bore / 2
        self.cell = length * width / self.land.size
        self.plane = np.zeros(3)
        self.zero = self.heights()
        self.rows = np.stack([np.ones_like(xi), 2 * xi - 1, eta], axis=1)[self.land]

    def pressure(self) -> np.ndarray:
        """Pressure on the land: springs under a plane that settles until force and moments balance."""
        z, rows = self.z[self.land], self.rows
        wanted = np.array([self.load / (BED * self.cell), 0.0, 0.0])
        plane = self.plane if self.plane.any() else np.array([z.max(), 0.0, 0.0])
        for _ in range(60):
            sink = z - rows @ plane
            touch = sink > 0
            miss = rows[touch].T @ sink[touch] - wanted
            if np.abs(miss).max() < 1e-4 * wanted[0]:
                break
            stiffness = rows[touch].T @ rows[touch] + 1e-6 * np.eye(3)
            step = np.linalg.solve(stiffness, miss) if touch.sum() > 3 else np.array([-1e-6, 0, 0])
            plane = plane + step * min(1.0, 5e-6 / np.abs(step).max())
        self.plane = plane
        return BED * np.maximum(z - rows @ plane, 0.0)

    def wear(self, volume: float) -> None:
        """Take a volume off, a little at a time."""
        left = volume
        while left > 0:
            pressure = self.pressure()
            total = pressure.sum() * self.cell
            part = min(left, 0.6e-6 * total / max(pressure.max(), 1e-9))
            self.z[self.land] -= part * pressure / total
            left -= part

    def fresh_rate(self, grit: Grit) -> float:
        nominal = preston(WEAR_FRESH.value, 84.0) * self.load * STROKE.value
        return nominal * self.factor * min(grit.size / 100e-6, 1.0) ** self.grain

    def sheet(self, strokes: float) -> float:
        return self.used * strokes + (1 - self.used) * self.fading * -math.expm1(-strokes / self.fading)

    def run(self, most: int, grit: Grit, stop: Stop) -> int:
        """Sand up to `most` strokes, looking at the pen grid on the way; return the strokes done."""
        sheets = sheets_for(most)
        each, eye = most / sheets, EYE * self.rng.standard_normal()
        done = 0.0
        for _ in range(sheets):
            rate = self.fresh_rate(grit) * math.exp(SHEET_SCATTER * self.rng.standard_normal())
            start = 0.0
            while start < each - 1e-9:
                end = min(start + min(50.0, max(10.0, 0.25 * (done + 1e-9))), each)
                self.wear(rate * (self.sheet(end) - self.sheet(start)))
                done, start = done + end - start, end
                if self.share() + eye >= stop.share or self.fell() >= stop.fall:
                    return round(done)
        return round(done)

    def depth(self) -> float:
        return float((self.start - self.z).max())

    def share(self) -> float:
        return float(np.mean((self.start - self.z)[self.land] > PEN))

    def fell(self) -> float:
        """Largest fall of the six heights as a micrometer reads it."""
        return float(np.max(self.zero - self.heights()))

    def hollow(self) -> float:
        return max(self.hollows())

    def hollows(self) -> list[float]:
        """Gap under a straightedge laid on edges, centre and diagonals, of what lies under the plane of the land."""
        grid = self.z.reshape(43, 16)
        plane = (
            self.plane
            @ np.stack(
                [np.ones_like(self.x), 2 * self.x / HEAD.casting.length - 1, 2 * self.y / HEAD.casting.width]
            )
        ).reshape(43, 16)
        gap = np.where(self.land.reshape(43, 16), plane - grid, 0.0)
        diagonal = np.round(np.linspace(0, 15, 43)).astype(int)
        lines = [
            gap[:, 0],
            gap[:, 7],
            gap[:, 15],
            gap[np.arange(43), diagonal],
            gap[np.arange(43), diagonal[::-1]],
        ]
        return [float(line.max()) for line in lines]

    def there(self, left: float) -> bool:
        return self.share() >= ALL_CLEAN if self.goal == "clean-up" else self.hollow() <= left

    def read(self, strokes: int, grit: Grit) -> Check:
        seen = (
            round(50 * (self.share() + EYE * self.rng.standard_normal())) / 50
            if self.share() < ALL_CLEAN
            else 1.0
        )
        falls = self.zero - self.heights()
        gaps = tuple(self.bracket(gap + BLADE_HAND * self.rng.standard_normal()) for gap in self.hollows())
        return Check(
            strokes=strokes, grit=grit, sheets=sheets_for(strokes), cleaned=float(np.clip(seen, 0, 1)), gaps=gaps,
            gap=max(gaps), falls=tuple(float(fall) for fall in falls), deepest=float(np.max(falls)),
        )  # fmt: skip

    def bracket(self, gap: float) -> tuple[float, float]:
        blades = np.array(HEAD.gauge_blades)
        return float(blades[blades <= gap].max(initial=0.0)), float(
            blades[blades > gap].min(initial=math.inf)
        )

    def heights(self) -> np.ndarray:
        exact = self.z[RIM] + MICROMETER * self.rng.standard_normal(len(RIM))
        return np.round(exact / MICROMETER_STEP) * MICROMETER_STEP


def bench(rng: np.random.Generator) -> tuple[Bench, Metal]:
    """Return a head that is nearly straight, with a limit that is sometimes tight."""
    metal = cast(rng)
    size = rng.uniform(0.06, 0.18) * 1e-3
    metal.state *= 0.6
    metal.state[INDEX["deck_bow"]] = size if rng.random() < 0.85 else -size
    metal.dips = []
    found = Bench(
        metal=metal, rng=rng, limit=float(rng.choice([0.12, 0.2, 0.3]) * 1e-3), goal=str(rng.choice(["limit", "clean-up"])),
        load=(HEAD.casting.mass or 7.0) * 9.81, factor=math.exp(rng.uniform(-1, 1) * math.log(5)),
        used=0.2 * math.exp(0.35 * rng.standard_normal()), fading=60 * math.exp(0.7 * rng.standard_normal()),
        grain=math.exp(0.4 * rng.standard_normal()),
    )  # fmt: skip
    return found, metal


def truth(bench_: Bench, grit: Grit, left: float) -> tuple[float, float]:
    """Return the strokes that really lead to the goal from here, fresh sheets all the way, and the depth then, by going there."""
    ghost = replace_bench(bench_)
    done, run = 0.0, 50
    while not ghost.there(left):
        before = ghost.share() if ghost.goal == "clean-up" else ghost.hollow()
        whole = ghost.fresh_rate(grit) * ghost.sheet(150) / 150 * run
        ghost.wear(whole)
        done += run
        after = ghost.share() if ghost.goal == "clean-up" else ghost.hollow()
        if ghost.there(left):
            goal = ALL_CLEAN if ghost.goal == "clean-up" else left
            over = (after - goal) / (after - before) if after != before else 0.0
            return done - run * min(max(over, 0.0), 1.0), ghost.depth()
        run = max(int(0.04 * done), 50)
        if done > 300_000:
            break
    return done, ghost.depth()


def replace_bench(bench_: Bench) -> Bench:
    ghost = replace(bench_)
    ghost.z, ghost.start, ghost.plane = bench_.z.copy(), bench_.start.copy(), bench_.plane.copy()
    return ghost


@dataclass
class Result:
    """What one sanding came to."""

    said: float | None
    true: float | None
    done: float
    reachable: bool
    broke: bool
    ended: str
    checks: int


def sanding(seed: int) -> Result:
    """Sand one head from survey to stop."""
    rng = np.random.default_rng([seed, 5])
    work, metal = bench(rng)
    readings = survey_from_text(as_text(survey(metal)), HEAD, "survey")
    shape = fit_shape(readings, HEAD)
    job = Wanted(goal=work.goal, surface=perfect(), hardness=84.0)  # type: ignore[arg-type]
    plan = sanding_plan(replace(HEAD, limits=replace(HEAD.limits, left=work.limit)), shape, job)
    grit, left = plan.grits[0], plan.target.left
    checks: list[Check] = []
    said = true = None
    reachable, first = True, 0.0
    state = plan.sanding
    while state.state == "go on" and len(checks) < CHECKS:
        done = work.run(state.next_strokes, grit, state.stop)
        checks.append(work.read(done, grit))
        state = learn_rate(plan.ground, checks, plan.target, grit)
        if len(checks) == 1 and state.state == "go on":
            said = state.quantiles(state.strokes)[1]
            true, deepest = truth(work, grit, left)
            first, reachable = checks[0].strokes, deepest <= work.limit
    broke = work.depth() > work.limit
    return Result(
        said=said,
        true=true,
        done=first,
        reachable=reachable,
        broke=broke,
        ended=state.state,
        checks=len(checks),
    )


def perfect():
    return replace(unknown_surface(), error=np.full(256, 1e-6))


def near(ratios: np.ndarray) -> float:
    return float(np.mean(np.abs(ratios - 1) <= 0.25))


def main(count: int = 300, seed: int = 1) -> None:
    with Pool() as pool:
        results = pool.map(sanding, [1000 * seed + number for number in range(count)], chunksize=8)
    told = [r for r in results if r.said and r.true]
    whole = np.array([(r.done + r.said) / (r.done + r.true) for r in told if r.said and r.true])
    rest = np.array([r.said / r.true for r in told if r.said and r.true])
    can = np.array([r.reachable for r in told])
    ends = {name: sum(r.ended == name for r in results) for name in ("flat enough", "removal limit", "go on")}
    summary = {
        "sandings": count,
        "judged": int(can.sum()),
        "within_25pct": near(whole[can]),
        "within_25pct_of_the_strokes_left": near(rest[can]),
        "within_25pct_goals_past_the_limit_too": near(whole),
        "median_ratio": float(np.median(whole[can])),
        "limit_breaks": sum(r.broke for r in results),
        "checks_median": float(np.median([r.checks for r in results])),
        **{f"ended_{name.replace(' ', '_')}": number for name, number in ends.items()},
    }
    print(json.dumps({key: round(value, 4) for key, value in summary.items()}))


if __name__ == "__main__":
    main(*(int(word) for word in sys.argv[1:3]))
