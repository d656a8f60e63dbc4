"""How well a survey tells the shape: coverage, error against one centre reading, slips found, false alarms.

Run as ``python -m tests.benchmarks.survey [surveys [seed]]``. Heads are simulated as metal, not as the fit's own equations:
a smooth bow with skew, twist, side, belly and dish, a field of unevenness, local dips, a straightedge that finds its
own rests on the uneven metal, blades off their nominal thickness, a hand that feels, a straightedge not quite
straight, and a survey file that passes the same door as a person's. Slips are planted where they change what is
written down: a rocked line whose far gap is 0.15 mm or more, swapped ends on a bow that leans by 0.06 mm or more. The
last line printed is one JSON object.
"""

from __future__ import annotations

import json
import sys
import time
from dataclasses import dataclass, replace

import numpy as np

from straighten.errors import BadInput
from straighten.head import head_from_text, template_head
from straighten.readings import survey_from_text
from straighten.shape import fit_shape
from straighten.shape.modes import INDEX, STATE, track

HEAD = head_from_text(template_head(), "template")
DECK_STATIONS = (20.0, 115.0, 210.0, 305.0, 400.0)
LENGTHWISE = ("exhaust edge", "centre", "inlet edge")
DIAGONALS = ("front exhaust to rear inlet", "front inlet to rear exhaust")
ROUGH, FEEL, BLADE, LEVEL = 8e-6, 3e-6, 5e-6, 10e-6
EDGE = 6.2e-6
DENSE = np.linspace(0, 1, 43)


@dataclass
class Metal:
    """One simulated head with the tools used on it."""

    state: np.ndarray
    field: np.ndarray  # unevenness on a grid over the deck [m]
    dips: list[tuple[float, float, float, float]]  # xi, eta, depth [m], radius [m]
    towers: np.ndarray  # unevenness of every bore [m]
    blades: np.ndarray  # true thickness [m]
    edge: float  # proud middle of the straightedge [m]
    rng: np.random.Generator

    def profile(self, part: str, name: str, share: np.ndarray) -> np.ndarray:
        """Height of the metal away from a straightedge along a line."""
        run = track(part, name, HEAD)
        smooth = run.towards * (run.rows(share) @ self.state)
        if part == "cam":
            return smooth + self.towers
        xi, eta = run.points(share)
        return smooth + self.uneven(xi, eta) - self.edge * 4 * share * (1 - share)

    def uneven(self, xi: np.ndarray, eta: np.ndarray) -> np.ndarray:
        n, m = self.field.shape
        a, b = xi * (n - 1), (eta + 1) / 2 * (m - 1)
        i, j = np.minimum(a.astype(int), n - 2), np.minimum(b.astype(int), m - 2)
        u, v = a - i, b - j
        f = self.field
        height = (
            (1 - u) * (1 - v) * f[i, j]
            + u * (1 - v) * f[i + 1, j]
            + (1 - u) * v * f[i, j + 1]
            + u * v * f[i + 1, j + 1]
        )
        height /= np.sqrt(
            ((1 - u) ** 2 + u**2) * ((1 - v) ** 2 + v**2)
        )  # the same spread between the nodes as on them
        for x, y, depth, radius in self.dips:
            far = ((xi - x) * HEAD.casting.length) ** 2 + ((eta - y) * HEAD.casting.width / 2) ** 2
            height = height + depth * np.exp(-far / (2 * radius**2))
        return height

    def goes(self, gap: float) -> float:
        """Nominal thickness of the largest blade that goes [mm]; 0 where none does."""
        fits = np.flatnonzero(self.blades <= gap + self.rng.normal(0, FEEL))
        return round(HEAD.gauge_blades[fits[-1]] * 1e3, 3) if fits.size else 0.0


def cast(rng: np.random.Generator) -> Metal:
    """Return a head as it comes in: four of five hollow, the rest crowned, one in three with a local dip."""
    state = np.zeros(len(STATE))
    state[INDEX["deck_bow"]] = rng.uniform(0.03, 0.6) * 1e-3 * (1 if rng.random() < 0.8 else -1)
    for name, sd in (("deck_skew", 0.05), ("deck_peak", 0.02), ("deck_side", 0.04), ("deck_belly", 0.02),
                     ("twist", 0.03), ("dish", 0.02), ("cam_skew", 0.05), ("cam_peak", 0.02)):  # fmt: skip
        state[INDEX[name]] = rng.normal(0, sd) * 1e-3
    state[INDEX["cam_bow"]] = state[INDEX["deck_bow"]] * rng.uniform(0.7, 1.1) + rng.normal(0, 0.02) * 1e-3
    dips = []
    if rng.random() < 1 / 3:
        dips.append((rng.uniform(0.1, 0.9), rng.uniform(-0.9, 0.9), rng.uniform(0.02, 0.05) * 1e-3, 20e-3))
    nominal = np.array(HEAD.gauge_blades)
    return Metal(
        state=state,
        field=rng.normal(0, ROUGH, (15, 6)),
        dips=dips,
        towers=rng.normal(0, ROUGH, len(HEAD.towers)),
        blades=nominal + rng.uniform(-BLADE, BLADE, nominal.size),
        edge=rng.uniform(-EDGE, EDGE),
        rng=rng,
    )


@dataclass
class Row:
    """One line as the person writes it down."""

    part: str
    name: str
    mode: str
    stations: list[float]
    goes: list[object]


def seat(metal: Metal, part: str, name: str) -> str:
    """What the person finds when laying the edge on: it sits on its ends, or it rocks and is balanced."""
    share = np.array(HEAD.towers) / HEAD.casting.length if part == "cam" else DENSE
    f = metal.profile(part, name, share)
    lam = (share - share[0]) / (share[-1] - share[0])
    sag = f - (1 - lam) * f[0] - lam * f[-1]
    return "bridged" if sag[sag.size // 2] >= 0 else "balanced"


def lay(metal: Metal, part: str, name: str, mode: str, stations: np.ndarray) -> np.ndarray:
    """Gaps under the straightedge at the stations [m], from real contact on the uneven metal."""
    x = np.array(HEAD.towers) / HEAD.casting.length if part == "cam" else DENSE
    f = metal.profile(part, name, x)
    at = np.interp(stations, x, f)
    rng = metal.rng
    if mode == "bridged":
        middle = (x[0] + x[-1]) / 2
        left, right = np.flatnonzero(x <= middle), np.flatnonzero(x >= middle)
        share = (middle - x[left][:, None]) / np.maximum(x[right][None, :] - x[left][:, None], 1e-12)
        rest = (1 - share) * f[left][:, None] + share * f[right][None, :]
        i, j = np.unravel_index(np.argmin(rest), rest.shape)
        a, b = left[i], right[j]
        return at - (f[a] + (f[b] - f[a]) * (stations - x[a]) / max(x[b] - x[a], 1e-12))
    lam, own = (stations - x[0]) / (x[-1] - x[0]), (x - x[0]) / (x[-1] - x[0])
    if mode == "balanced":
        tilt = rng.normal(0, LEVEL)
        chord = f[0] + (f[-1] - f[0]) * own
        return at - (f[0] + (f[-1] - f[0]) * lam) - np.min(f - chord) + tilt * (2 * lam - 1)
    touch, pivot = (0.0, 0.5) if rng.random() < 0.5 else (1.0, 0.5)
    pivot += rng.normal(0, 0.03)
    z0, z1 = np.interp([touch, pivot], own, f)
    return at - (z0 + (z1 - z0) * (lam - touch) / (pivot - touch))


def survey(metal: Metal, blanks: float = 0.04) -> list[Row]:
    """What the person writes down: three long lines, two diagonals (middle only), one number per tower."""
    rows = []
    for part, name in [("deck", n) for n in (*LENGTHWISE, *DIAGONALS)] + [("cam", "single")]:
        stations = [210.0] if name in DIAGONALS else list(DECK_STATIONS)
        if part == "cam":
            stations = [s * 1e3 for s in HEAD.towers]
        mode = seat(metal, part, name)
        gaps = lay(metal, part, name, mode, np.array(stations) / (HEAD.casting.length * 1e3))
        if name in DIAGONALS and mode == "balanced":
            stations = [5.0, 415.0]
            gaps = lay(metal, part, name, mode, np.array(stations) / (HEAD.casting.length * 1e3))
        goes: list[object] = [metal.goes(g) for g in gaps]
        goes = ["" if len(goes) > 2 and metal.rng.random() < blanks else g for g in goes]
        rows.append(Row(part, name, mode, stations, goes))
    return rows


def as_text(rows: list[Row]) -> str:
    """The survey file of these rows."""
    parts = ['units = "mm"']
    for row in rows:
        parts += [f"[[{row.part}]]", f'line = "{row.name}"', f'mode = "{row.mode}"']
        if row.part == "deck":
            parts.append(f"stations = {row.stations}")
        parts.append("gaps = [" + ", ".join(json.dumps(g) for g in row.goes) + "]")
    return "\n".join(parts)


# -- slips ----------------------------------------------------------------------------------------------------------


def plant_rocked(metal: Metal, rows: list[Row]) -> tuple[list[Row], str]:
    """Read one crowned line with the edge rocked and enter it as bridged or balanced."""
    crowned = [n for n, row in enumerate(rows) if row.mode == "balanced" and len(row.goes) == 5]
    number = int(metal.rng.choice(crowned))
    row = rows[number]
    share = np.array(row.stations) / (HEAD.casting.length * 1e3)
    gaps = lay(metal, row.part, row.name, "rocked", share)
    entered = str(metal.rng.choice(["bridged", "balanced"]))
    spoilt = replace(row, mode=entered, goes=[metal.goes(g) for g in gaps])
    return [*rows[:number], spoilt, *rows[number + 1 :]], title(row)


def plant_swapped(metal: Metal, rows: list[Row]) -> tuple[list[Row], str]:
    """Write one long line down from the rear end."""
    number = int(metal.rng.integers(0, 3))
    row = rows[number]
    return [*rows[:number], replace(row, goes=row.goes[::-1]), *rows[number + 1 :]], title(row)


def plant_thou(metal: Metal, rows: list[Row]) -> tuple[list[Row], str]:
    """Write one gap in thou into a file in millimetres."""
    places = [
        (n, k) for n, r in enumerate(rows) for k, g in enumerate(r.goes) if isinstance(g, float) and g > 0
    ]
    number, k = places[int(metal.rng.integers(len(places)))]
    row = rows[number]
    goes = list(row.goes)
    goes[k] = round(goes[k] / 0.0254)
    return [*rows[:number], replace(row, goes=goes), *rows[number + 1 :]], title(row)


def title(row: Row) -> str:
    return "cam line" if row.part == "cam" else f"deck, {row.name}"


def asymmetric(rng: np.random.Generator) -> Metal:
    """A head whose bow leans enough that a swap of ends changes what is written down."""
    metal = cast(rng)
    lean = rng.uniform(0.06, 0.15) * 1e-3 * rng.choice([-1, 1])
    metal.state[INDEX["deck_skew"]] = lean
    return metal


KINDS = {
    "rocked": (cast, plant_rocked, ("rocked", "rocked gap in the middle")),
    "swapped": (asymmetric, plant_swapped, ("swapped ends",)),
    "thou": (cast, plant_thou, ("thou for mm",)),
}


def named(text: str, where: str, kinds: tuple[str, ...]) -> bool:
    """Whether the slip is refused at the door with its name, or named by the fit at the right line."""
    try:
        shape = fit_shape(survey_from_text(text, HEAD, "survey"), HEAD)
    except BadInput as fault:
        return "thou" in kinds[0] and "thou" in fault.fix
    return any(s.title == where and s.kind in kinds for s in shape.suspects)


def plants(count: int, seed: int) -> dict[str, float]:
    """Share of slips named, kind by kind, out of `count` each."""
    found = {}
    for kind, (maker, plant, kinds) in KINDS.items():
        rng = np.random.default_rng([seed, len(kind)])
        hits = tried = 0
        while tried < count:
            metal = maker(rng)
            rows = survey(metal)
            if kind == "rocked" and not any(r.mode == "balanced" and len(r.goes) == 5 for r in rows):
                continue
            spoilt, where = plant(metal, rows)
            if kind == "rocked" and max(g for r in spoilt if title(r) == where for g in r.goes) < 0.15:
                continue
            tried += 1
            hits += named(as_text(spoilt), where, kinds)
        found[kind] = 100 * hits / tried
    return found


def clean(count: int, seed: int) -> dict[str, float]:
    """Coverage and error of the bow, false alarms, on surveys without slips."""
    rng = np.random.default_rng(seed)
    inside, cam_inside, errors, plain, alarms, misfits, seconds = 0, 0, [], [], 0, 0, []
    for _ in range(count):
        metal = cast(rng)
        rows = survey(metal)
        readings = survey_from_text(as_text(rows), HEAD, "survey")
        start = time.perf_counter()
        shape = fit_shape(readings, HEAD)
        seconds.append(time.perf_counter() - start)
        truth = metal.state[INDEX["deck_bow"]]
        low, high = shape.range("deck_bow")
        inside += low <= truth <= high
        low, high = shape.range("cam_bow")
        cam_inside += low <= metal.state[INDEX["cam_bow"]] <= high
        errors.append(abs(shape.value("deck_bow") - truth))
        plain.append(abs(centre_bracket(readings) - truth))
        alarms += bool(shape.suspects)
        misfits += bool(shape.misfits)
    return {
        "coverage80": inside / count,
        "cam_coverage80": cam_inside / count,
        "error_ratio": float(np.median(errors) / np.nanmedian(plain)),
        "error_um": float(np.median(errors) * 1e6),
        "false_alarms": 100 * alarms / count,
        "misfits": 100 * misfits / count,
        "fit_ms": float(np.median(seconds) * 1e3),
        "fit_ms_slowest": float(np.max(seconds) * 1e3),
    }


def centre_bracket(readings: object) -> float:
    """The bow as one reads it off the centre line alone: middle of its middle bracket (crowned: of its end brackets)."""
    line = next(x for x in readings.lines if x.name == "centre")
    if line.mode == "bridged":
        return line.brackets[2].middle
    return -float(np.nanmean([line.brackets[0].middle, line.brackets[-1].middle]))


def main(count: int = 1000, seed: int = 1) -> None:
    found = plants(max(20, count // 10), seed=seed + 2)
    for kind, share in found.items():
        print(f"{kind}: {share:.0f} of 100 named")
    summary = clean(count, seed=seed) | {"found": float(np.mean(list(found.values())))}
    summary |= {f"found_{kind}": share for kind, share in found.items()}
    print(json.dumps({key: round(value, 4) for key, value in summary.items()}))


if __name__ == "__main__":
    main(*(int(word) for word in sys.argv[1:3]))
