"""Limits and thresholds that stand where a head file gives none, each with its source.

Published limits differ from engine to engine; the maker's own figure in the head file always wins.
"""

from __future__ import annotations

from straighten.head.records import Thresholds
from straighten.sources import Cited

DECK_OVERALL = Cited(
    76e-6,
    "m",
    "aluminium heads, 0.003 in overall: a trade page on resurfacing; makers range from 0.035 to 0.15 mm",
    "seen",
)
DECK_LOCAL = Cited(50e-6, "m", "0.002 in within any 6 in: one maker's reconditioning guide", "seen")
DECK_LOCAL_LENGTH = 0.150
CAM_LINE = Cited(
    50e-6,
    "m",
    "a straight cam turns free while the bow stays below its running clearance, 0.022 to 0.084 mm new",
    "derived",
)
TOWER_STEP = Cited(25e-6, "m", "one thou from a bore to the next: shop rule of thumb", "from memory")
LARGEST_REMOVAL = Cited(200e-6, "m", "0.20 mm in all: workshop texts of several makers", "seen")

THRESHOLDS = Thresholds(
    hardness_reject=Cited(65.0, "HB", "scrap below 65 HB: two engine-shop pages; a third says 70", "seen"),
    hardness_doubt=Cited(
        75.0, "HB", "the average of sound heads should be 75 HB or more: a rebuilders' thread", "seen"
    ),
    hardness_drop=Cited(10.0, "HB", "more than 10 HB lost since intake: stop", "common practice, no source"),
    largest_bow=Cited(
        1.0e-3, "m", "above about 1 mm (40 thou) hand it to a specialist", "common practice, no source"
    ),
    largest_twist=Cited(
        0.10e-3, "m", "twist above 0.10 mm (4 thou) seldom comes out", "common practice, no source"
    ),
    straighten_from=Cited(
        0.08e-3, "m", "from 0.003 in up straighten before facing: a machine shop's page", "seen"
    ),
    stop_bending=Cited(
        0.05e-3, "m", "the last 0.05 to 0.10 mm is sanded, not bent", "common practice, no source"
    ),
    most_passes=Cited(3, "passes", "one to three cycles are usual", "common practice, no source"),
    least_gain=Cited(0.20, "of the bend", "gain under 20 % of the bend: stop", "common practice, no source"),
)

LEAST_TORQUE = Cited(5.0, "Nm", "a small and a half-inch wrench together", "common practice, no source")
MOST_TORQUE = Cited(110.0, "Nm", "a small and a half-inch wrench together", "common practice, no source")
ROOF = Cited(8e-3, "m", "cam-side wall of a sand- or gravity-cast head; not measured", "assumed")
DECK = Cited(10e-3, "m", "deck wall of a sand- or gravity-cast head; not measured", "assumed")
