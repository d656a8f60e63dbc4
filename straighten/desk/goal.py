"""How far a head is from the goal of a job: cam line inside its limit, deck inside its limit or sandable to it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from straighten.decide.costs import CLEAN_UP
from straighten.head.records import metal_left

if TYPE_CHECKING:
    from straighten.desk.job import Job
    from straighten.shape.limits import LimitCheck


@dataclass(frozen=True, slots=True, kw_only=True)
class Goal:
    """How far the head is from the goal of a job.

    `cam`, `deck` the limits as they stand; `metal` to come off the deck to reach its limit, 10, 50 and 90 % [m];
    `left` that may come off [m]; `sandable` the chance that it is enough.
    """

    cam: tuple[LimitCheck, ...]
    deck: tuple[LimitCheck, ...]
    metal: tuple[float, float, float]
    left: float
    sandable: float

    @property
    def cam_holds(self) -> bool:
        """Whether every cam line is inside its overall limit."""
        return all(check.holds for check in self.cam)

    @property
    def deck_holds(self) -> bool:
        """Whether the deck is inside its limit as it lies."""
        return all(check.holds for check in self.deck)

    def to_plain(self) -> dict[str, Any]:
        """Return it as JSON scalars."""
        return {
            "limits": [
                {
                    "name": check.name,
                    "value_mm": 1e3 * check.value,
                    "low_mm": 1e3 * check.low,
                    "high_mm": 1e3 * check.high,
                    "limit_mm": 1e3 * check.limit.value,
                    "holds": check.holds,
                    "chance_inside": check.chance,
                }
                for check in (*self.deck, *self.cam)
            ],
            "metal_to_sand_mm": [1e3 * value for value in self.metal],
            "metal_left_mm": 1e3 * self.left,
            "chance_sandable": self.sandable,
        }


def goal_of(job: Job) -> Goal:
    """Return how far the head is from its goal, by the shape believed now."""
    limits = job.shape.limits
    deck = tuple(check for check in limits if check.name == "deck overall")
    cam = tuple(check for check in limits if check.name.endswith("cam line overall"))
    flatness = deck[0].draws
    metal = np.where(flatness <= deck[0].limit.value, 0.0, flatness + CLEAN_UP.value)
    left = metal_left(job.head)
    low, middle, high = (float(q) for q in np.quantile(metal, [0.1, 0.5, 0.9]))
    return Goal(
        cam=cam, deck=deck, metal=(low, middle, high), left=left, sandable=float(np.mean(metal <= left))
    )
