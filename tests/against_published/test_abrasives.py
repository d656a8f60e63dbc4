"""Papers, finishes and Preston's law against published figures.

Sources: ISO 6344 P grades as listed in three public pages (seen); microinch is exact by definition of the inch;
roughness by grit from a finishing chart and a second page (seen; they disagree by a factor of two); wear
coefficients after Rabinowicz, Friction and Wear of Materials, 1965 (from memory); gasket finishes from trade articles
(seen).
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from straighten.head.records import Engine
from straighten.sanding.lap import (
    CAMI_GRADES,
    FINISHES,
    MICROINCH,
    P_GRADES,
    chance_of_finish,
    grit_sequence,
    last_grit,
    read_grit,
    roughness,
)
from straighten.sanding.rate import Factors, preston, sheet_work

SOURCE = "ISO 6344, median grain of P grades, as listed in three public pages"
MARK = "seen"
WEAR = "Preston's law with wear coefficients after Rabinowicz, Friction and Wear of Materials, 1965"

P_MEDIANS = {
    80: 201, 100: 162, 120: 125, 150: 100, 180: 82, 220: 68, 240: 58.5, 280: 52.2, 320: 46.2, 360: 40.5, 400: 35.0,
    600: 25.8, 1000: 18.3,
}  # fmt: skip


@pytest.mark.parametrize(("number", "microns"), P_MEDIANS.items())
def test_p_grades_have_the_listed_median_grain(number, microns, published):
    published(
        "median grain", read_grit(f"P{number}").size * 1e6, microns, unit="um", rel=0.02, case=f"P{number}"
    )


CAMI_MEANS = {80: 190, 100: 140, 120: 115, 150: 92, 180: 82, 220: 68, 240: 53, 320: 36, 400: 23}


@pytest.mark.parametrize(("number", "microns"), CAMI_MEANS.items())
def test_cami_grades_have_the_mean_grain_of_another_list(number, microns):
    """CAMI sizes as another public list has them, to a micrometre (from memory); the lists differ by one or two."""
    assert read_grit(f"{number} CAMI").size * 1e6 == pytest.approx(microns, abs=2.1)
    assert read_grit(f"ANSI {number}").size == read_grit(f"{number} CAMI").size


def test_the_two_scales_part_below_180():
    """CAMI 240 is as fine as P280, CAMI 320 as P400 (grit comparison page, seen)."""
    assert CAMI_GRADES[240].value == pytest.approx(P_GRADES[280].value, rel=0.01)
    assert CAMI_GRADES[320].value == pytest.approx(P_GRADES[400].value, rel=0.01)
    assert read_grit("240 CAMI").size < read_grit("240").size


@pytest.mark.parametrize(
    ("microinches", "microns"), [(20, 0.508), (30, 0.762), (50, 1.270), (60, 1.524), (100, 2.540)]
)
def test_microinches_are_exact(microinches, microns, published):
    told = {"source": "International inch, 25.4 mm", "mark": "derived", "case": f"{microinches} microinch"}
    published("roughness", microinches * MICROINCH * 1e6, microns, unit="um", rel=1e-12, **told)


@pytest.mark.parametrize(("number", "ra"), [(80, 3.2), (120, 1.6), (240, 0.8), (400, 0.4)])
def test_roughness_lies_within_the_pages_factor_of_two(number, ra):
    assert ra / 2 < roughness(P_GRADES[number].value) * 1e6 < ra * 2


def test_second_page_p180_to_p220_for_point_eight():
    for number in (180, 220):
        assert 0.4 < roughness(P_GRADES[number].value) * 1e6 < 1.6


def test_preston_coefficient_of_fresh_and_used_paper(published):
    """K = 1e-2 or 2e-3 over 90 HB (0.88 GPa): 1.14e-11 and 2.27e-12 per Pa (derived)."""
    fresh, used = preston(1e-2, 90.0), preston(2e-3, 90.0)
    told = {"source": WEAR, "mark": "derived", "rel": 0.01}
    published("Preston coefficient, fresh paper on 90 HB", fresh * 1e12, 11.4, unit="1/TPa", **told)
    published("Preston coefficient, worn paper on 90 HB", used * 1e12, 2.27, unit="1/TPa", **told)
    assert fresh * 10e3 * 0.3 * 60 == pytest.approx(2.05e-6, rel=0.01)  # m per minute at 10 kPa, 0.3 m/s
    assert used * 10e3 * 0.3 * 60 == pytest.approx(0.41e-6, rel=0.01)


def test_fresh_paper_cuts_two_to_ten_times_faster_than_worn():
    one = np.ones(1)
    factors = Factors(
        volume_rate=one,
        used=0.2 * one,
        fading=60 * one,
        grain=one,
        height=one,
        curves=np.ones((1, 13, 41)),
        unexplained=np.zeros((13, 41)),
    )
    fresh = sheet_work(np.array([1.0]), factors)
    worn = sheet_work(np.array([1001.0]), factors) - sheet_work(np.array([1000.0]), factors)
    assert 2 < float(fresh[0] / worn[0]) < 10


def test_gasket_limits_as_the_trade_quotes_them():
    composite, steel, graphite = (FINISHES[k] for k in ("composite", "multi-layer steel", "graphite"))
    assert (composite.least / MICROINCH, composite.most / MICROINCH) == pytest.approx((30, 110))
    assert graphite.least / MICROINCH == pytest.approx(30)
    wanted = {
        name: (round(f.low / MICROINCH, 3), round(f.high / MICROINCH, 3)) for name, f in FINISHES.items()
    }
    # a trade article on gasket finishes: best for composition, for graphite, for some steel ones; seen
    assert wanted == {"composite": (60, 100), "graphite": (30, 60), "multi-layer steel": (20, 30)}
    assert steel.most / MICROINCH == pytest.approx(50)


@pytest.mark.parametrize("gasket", ["composite", "graphite", "multi-layer steel"])
def test_the_last_paper_is_more_likely_than_not_inside_what_the_gasket_allows(gasket):
    assert chance_of_finish(last_grit(FINISHES[gasket]).size, FINISHES[gasket]) > 0.6


def test_eighty_grit_is_not_for_a_steel_gasket():
    """80 grit under a multi-layer steel gasket is the commonest mistake (common practice, no source)."""
    assert chance_of_finish(P_GRADES[80].value, FINISHES["multi-layer steel"]) < 0.1


@pytest.mark.parametrize("depth", [10e-6, 50e-6, 200e-6])
@pytest.mark.parametrize("gasket", ["composite", "graphite", "multi-layer steel"])
def test_papers_grow_finer_by_steps_no_larger_than_about_two(depth, gasket):
    sizes = [g.size for g in grit_sequence(depth, Engine(gasket=gasket))]
    steps = [a / b for a, b in pairwise(sizes)]
    assert all(1 < step < 2.2 for step in steps)  # each paper halves the grain: common practice, no source
