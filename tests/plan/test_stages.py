"""A pass in stages: what is heated keeps its pauses, and every stage begins on a head that is cool and read."""

from straighten.heat import HeatSpot
from straighten.plan.stages import _apart

DWELL, PAUSE = 5.0, 40.0
SPOTS = tuple(
    HeatSpot(station=x, side=side, radius=0.012, dwell=DWELL, peak=500.0, start=k * (DWELL + PAUSE))
    for k, (x, side) in enumerate((x, side) for x in (0.210, 0.160, 0.260) for side in ("exhaust", "inlet"))
)


def test_each_place_cools_before_the_next_is_heated_and_the_head_before_the_next_stage():
    # let each cool; cool, slacken, read and tighten takes ten minutes at least: common practice, no source
    ends = (2, 6)
    moved = _apart(SPOTS, ends)
    assert [(s.station, s.side) for s in moved] == [(s.station, s.side) for s in SPOTS]
    assert moved[0].start == 0.0
    for number in range(1, len(moved)):
        before, spot = moved[number - 1], moved[number]
        least = 600.0 if number in ends else PAUSE
        assert spot.start >= before.start + before.dwell + least - 1e-9
    assert moved[-1].start - moved[2].start == SPOTS[-1].start - SPOTS[2].start  # a stage takes no longer


def test_flames_that_burn_together_in_a_stage_follow_one_another_at_once():
    # one torch (common practice, no source): no start lies before the end of the flame before
    moved = _apart(
        tuple(HeatSpot(station=s.station, side=s.side, radius=0.012, dwell=DWELL) for s in SPOTS), (6,)
    )
    assert [s.start for s in moved] == [k * DWELL for k in range(6)]
