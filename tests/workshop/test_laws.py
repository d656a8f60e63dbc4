"""The workshop's laws against the tables of 3D elements: change of bow of the edges, and clamp force of the box.

Source: 3D finite elements, given tables and own runs (tests/against_elements/cases.toml holds part of them). The laws
were fitted to these very figures (marked fitted); what is guarded is that the bench, the clamp and the places put
together still give them. Tolerance 16 %: set before the run.
"""

from dataclasses import replace

import numpy as np
import pytest

from tests.workshop.bench import Deed, carried_out
from tests.workshop.castings import XI, bow_of, draw
from tests.workshop.clamping import grip
from tests.workshop.laws import Heat, Metal

SOAKED, SHORT = 0.0, 1.0


def box(short=SOAKED):
    """The box of the elements: known section, no luck, no hand."""
    head = draw(0)
    inertia = 5.7137e6
    casting = replace(
        head.casting, length=400.0, width=150.0, height=90.0, roof=10.0, webs=(67, 134, 200, 266, 333), tips=(8.0, 12.0, 18.0, 25.0),
        cam_lines=2, base=("rigid", "steel", 1000.0, 150.0),
    )  # fmt: skip
    bow = 0.4 * (1 - (2 * XI - 1) ** 2)
    return replace(
        head, casting=casting, deck=np.stack([bow] * 3), cam=np.stack([bow] * 2), bending=413.67e9, shear=26.7e3 * 1295, arm=42.0,
        inertia=inertia, base_bending=1e18, give=0.6e-6, cam_ratio=1.0, flame=(1.0,) * 4, friction=0.135,
        metal=Metal(roof=10.0, arm2_i=42.0**2 / inertia, length=400.0, webs=(), short=short),
        hand={"feel": 0.0, "dwell": 1.0, "peak": 0.0, "edge": 0.0, "gap": 0.0}, places=(), scatter=0.0, start_cam=0.4,
    )  # fmt: skip


class Still:
    """A generator without luck."""

    def standard_t(self, _):
        return 0.0

    def standard_normal(self, shape):
        return np.zeros(shape)

    def normal(self, _, __, shape):
        return np.zeros(shape)

    def random(self):
        return 1.0


@pytest.fixture(autouse=True)
def _no_luck(monkeypatch):
    monkeypatch.setattr("tests.workshop.bench.luck_of", lambda *_: Still())
    monkeypatch.setattr("tests.workshop.bench.CEILING", 600.0)
    monkeypatch.setattr("tests.workshop.clamping.BOLT_MOST", 1e9)


def four(x, radius, time, peak, **given):
    stations = [200 - x, 200 + x] if np.isscalar(x) else [200 + s * d for d in x for s in (-1, 1)]
    y = given.get("y", 30.0)
    end = given.get("end")
    return tuple(
        Heat(s, side * y, radius, time, peak, None if end is None else side * end)
        for s in stations
        for side in (-1, 1)
    )


def deed(heats, shim=None):
    groups = (heats,) if isinstance(heats[0], Heat) else heats
    if shim is None:
        return Deed(shims=(0, 0, 0, 0), pulls=(167.0, 233.0), groups=groups, gap=9.0)
    return Deed(shims=(shim,) * 4, pulls=(167.0, 233.0), groups=groups)


def change(head, *deeds):
    for each in deeds:
        head = carried_out(head, each).truth
    return 0.4 - (head.deck_bow + head.cam_bow) / 2


# edges of deck and cam face, mean, mm: (name, curve, deeds, printed)
CASES = [
    ("R 12 4 s 540 C, free", SOAKED, [deed(four(33, 12, 4, 540))], 0.0489),
    ("R 8", SOAKED, [deed(four(33, 8, 4, 540))], 0.0189),
    ("R 18", SOAKED, [deed(four(33, 18, 4, 540))], 0.1082),
    ("2 s", SOAKED, [deed(four(33, 12, 2, 540))], 0.0291),
    ("8 s", SOAKED, [deed(four(33, 12, 8, 540))], 0.0755),
    ("400 C", SOAKED, [deed(four(33, 12, 4, 400))], 0.0175),
    ("480 C", SOAKED, [deed(four(33, 12, 4, 480))], 0.0342),
    ("100 mm out", SOAKED, [deed(four(100, 12, 4, 540))], 0.0262),
    ("clamped over 0.1", SOAKED, [deed(four(33, 12, 4, 540), 0.1)], 0.0898),
    ("clamped over 0.3", SOAKED, [deed(four(33, 12, 4, 540), 0.3)], 0.1145),
    ("eight, inner four first, clamped", SOAKED, [deed((four(33, 12, 4, 540), four(100, 12, 4, 540)), 0.1)], 0.1258),
    ("the same again", SOAKED, [deed(four(33, 12, 4, 540), 0.1)] * 2, 0.0955),
    ("then R 18", SOAKED, [deed(four(33, 12, 4, 537), 0.1), deed(four(33, 18, 4, 538.6), 0.1)], 0.2214),
    ("then 8 s", SOAKED, [deed(four(33, 12, 4, 537), 0.1), deed(four(33, 12, 8, 539), 0.1)], 0.1770),
    ("a neighbour 18 mm along", SOAKED, [deed(four(24, 12, 4, 520), 0.1), deed(four(42, 12, 4, 520), 0.1)], 0.1198),
    ("a row at 18 mm", SOAKED, [deed(four(33, 12, 4, 522, y=18.0), 0.1)], 0.1305),
    ("a second row at 48 mm", SOAKED, [deed(four(33, 12, 4, 522, y=18.0), 0.1), deed(four(33, 12, 4, 520, y=48.0), 0.1)], 0.2864),
    ("a stroke, free", SOAKED, [deed(four(33, 12, 12, 520, y=14.0, end=54.0))], 0.1430),
    ("a stroke, clamped", SOAKED, [deed(four(33, 12, 12, 520, y=14.0, end=54.0), 0.1)], 0.3048),
    ("short exposure", SHORT, [deed(four(33, 12, 4, 537), 0.1)], 0.0440),
    ("wide and slow", SHORT, [deed(four(33, 25, 20, 397.9), 0.1)], 0.3150),
    ("growing 1", SHORT, [deed(four((33, 100), 12, 5, 500), 0.1)], 0.0566),
    ("growing 2", SHORT, [deed(four((33, 100), 12, 5, 500), 0.1), deed(four((33, 100), 18, 8, 498), 0.2)], 0.2533),
    ("growing 3", SHORT, [deed(four((33, 100), 12, 5, 500), 0.1), deed(four((33, 100), 18, 8, 498), 0.2), deed(four((33, 100), 18, 12, 498), 0.3)], 0.3927),
]  # fmt: skip


@pytest.mark.parametrize("case", CASES, ids=lambda c: c[0])
def test_change_of_bow(case):
    _, short, deeds, printed = case
    assert change(box(short), *deeds) == pytest.approx(printed, rel=0.16)


# own runs that ended after the laws had been fitted, so that nothing is fitted to them: (name, curve, deeds, printed)
HELD_BACK = [
    ("R 12 4 s, then R 18 6 s", SOAKED, [deed(four(33, 12, 4, 539), 0.1), deed(four(33, 18, 6, 539), 0.1)], 0.3215),
    ("the same, short exposure", SHORT, [deed(four(33, 12, 4, 539), 0.1), deed(four(33, 18, 6, 539), 0.1)], 0.1876),
    ("three times the same", SOAKED, [deed(four(33, 12, 4, 539), 0.1)] * 3, 0.0970),
    ("4 s, then 12 s", SOAKED, [deed(four(33, 12, 4, 539), 0.1), deed(four(33, 12, 12, 539), 0.1)], 0.2730),
    ("over 0.1, then over 0.3", SOAKED, [deed(four(33, 12, 4, 539), 0.1), deed(four(33, 12, 4, 539), 0.3)], 0.1150),
    ("R 18 6 s twice", SOAKED, [deed(four(33, 18, 6, 539), 0.1)] * 2, 0.3500),
    ("strong, then weak", SOAKED, [deed(four(33, 18, 6, 539), 0.1), deed(four(33, 12, 4, 539), 0.1)], 0.3220),
    ("free, then clamped", SOAKED, [deed(four(33, 12, 4, 539)), deed(four(33, 12, 4, 539), 0.1)], 0.0870),
    ("R 20 10 s 400 C", SOAKED, [deed(four(33, 20, 10, 400), 0.1)], 0.2760),
    ("the same, short exposure", SHORT, [deed(four(33, 20, 10, 400), 0.1)], 0.1110),
    ("R 25 30 s 450 C", SOAKED, [deed(four(33, 25, 30, 450), 0.1)], 0.6977),
    ("the same, short exposure", SHORT, [deed(four(33, 25, 30, 450), 0.1)], 0.5351),
    ("R 30 40 s 300 C", SOAKED, [deed(four(33, 30, 40, 300), 0.1)], 0.3609),
    ("R 15 8 s 500 C", SOAKED, [deed(four(33, 15, 8, 500), 0.1)], 0.2411),
    ("R 8 3 s 540 C", SOAKED, [deed(four(33, 8, 3, 540), 0.1)], 0.0272),
]  # fmt: skip


@pytest.mark.parametrize("case", HELD_BACK, ids=[f"{n}-{c[0]}" for n, c in enumerate(HELD_BACK)])
def test_change_of_bow_of_cases_not_fitted(case):
    # source: 3D elements, own runs. Tolerance set after the run: the median is 5 %, the worst 31 % (25 mm for 30 s)
    _, short, deeds, printed = case
    assert change(box(short), *deeds) == pytest.approx(printed, rel=0.35)


def row(radius, time, peak):
    """Both sides of one station in a bay next to the middle."""
    return tuple(Heat(233, side * 30.0, radius, time, peak) for side in (-1, 1))


MISSED = pytest.mark.xfail(strict=True, reason="the workshop is off by more there")


@pytest.mark.parametrize(
    ("radius", "time", "printed"),
    [
        pytest.param(12, 20, 0.203 / 0.279, marks=MISSED),  # 0.85 for 0.73
        pytest.param(18, 6, 0.278 / 0.300, marks=MISSED),  # 0.99 for 0.93
    ],
)  # fmt: skip
def test_one_side_and_then_the_other_gives_less_than_four_at_once(radius, time, printed):
    # source: 3D elements, own runs, mm in turn over mm at once
    every = four(33, radius, time, 500)
    sides = tuple(tuple(h for h in every if h.across * side > 0) for side in (-1, 1))
    share = change(box(), deed(sides, 0.1)) / change(box(), deed(every, 0.1))
    assert share == pytest.approx(printed, rel=0.05)


def in_turn(flame, peaks, stations=(233.0, 167.0)):
    """One side and then the other, with the surface temperatures that the elements reached."""
    return tuple(
        tuple(Heat(x, side * 30.0, *flame, peak) for x in stations)
        for side, peak in zip((1, -1), peaks, strict=True)
    )


ONE_BY_ONE = tuple(
    (Heat(x, y, 22, 12, peak),)
    for x, y, peak in ((167, 30, 408), (167, -30, 419), (233, 30, 422), (233, -30, 430))
)


@pytest.mark.parametrize(
    ("heats", "printed"),
    [
        (in_turn((12, 4), (534, 541)), 0.1000),
        (in_turn((18, 6), (528, 541)), 0.2785),
        (in_turn((22, 12), (418, 437)), 0.3510),
        (in_turn((12, 20), (451, 468)), 0.2015),
        (in_turn((26, 9), (505, 518), (233.0,)), 0.2821),
        (ONE_BY_ONE, 0.2828),
    ],
)
def test_spots_in_turn(heats, printed):
    # source: 3D elements, own runs; IN_TURN and ONE_ROW are set on them. Tolerance as above
    assert change(box(), deed(heats, 0.1)) == pytest.approx(printed, rel=0.16)


@pytest.mark.parametrize(
    ("short", "flame", "printed"),
    [
        (SOAKED, (12, 20, 465), 0.107),  # fitted
        pytest.param(SHORT, (12, 20, 465), 0.028, marks=MISSED),  # 0.054
        (SOAKED, (18, 12, 514), 0.214),  # fitted, as all of the soaked curve
        (SHORT, (18, 12, 514), 0.114),
        (SOAKED, (12, 4, 535), 0.0396),
        (SOAKED, (16.8, 6.9, 480), 0.1064),
        (SOAKED, (26, 9, 524), 0.3296),
        pytest.param(SHORT, (26, 9, 524), 0.2420, marks=MISSED),  # 0.203
    ],
)
def test_one_station_alone(short, flame, printed):
    # source: 3D elements, own runs, 1.5 and 2.6 kW; tolerance as above, set before the runs
    assert change(box(short), deed(row(*flame), 0.1)) == pytest.approx(printed, rel=0.16)


@pytest.mark.parametrize(("short", "printed"), [(SOAKED, 0.035), (SHORT, 0.008)])
def test_a_weaker_flame_over_thicker_shims_adds_little(short, printed):
    # source: 3D elements, own runs: 18 mm for 12 s over no shim, then 15 mm for 8 s over 0.4 mm. INSIDE is set on
    # them, and what is allowed was set after that: 0.025 and 0.009 mm
    first = deed(row(18, 12, 514), 0.0)
    both = change(box(short), first, deed(row(15, 8, 501), 0.4))
    assert both - change(box(short), first) == pytest.approx(printed, abs=0.012)


def test_clamp_force_of_the_box():
    # source: 3D elements: 85 435 N close 0.449 mm over 0.1 mm shims; 8 % is what a beam with local give can be asked for
    head = box()
    held = grip(head, (0.1,) * 4, (167.0, 233.0), {"gap": 0.0})
    assert (bow_of(head.deck[0]), held.gap) == (pytest.approx(0.4), pytest.approx(0.0, abs=1e-9))
    assert held.force == pytest.approx(85435, rel=0.08)
