"""A pass that is planned or was weighed, and which of the others are shown beside it."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any, Final

from straighten.plan.loss import Chances
from straighten.plan.records import setup_from_plain, setup_to_plain

if TYPE_CHECKING:
    from straighten.plan.forecast import Forecast
    from straighten.plan.records import Draws, PassSetup
    from straighten.plan.rungs import Rung
    from straighten.plan.stages import Stages

SHOWN: Final = 3
# Two set-ups are told apart from so much on: spots (or tenths of an hour), bow left [m], chance, hardness [HB].
TOLD_WORK, TOLD_LEFT, TOLD_CHANCE, TOLD_HARDNESS = 2, 10e-6, 0.05, 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """A set-up with its expected loss and chances on a few draws.

    `lost` how surely heat can no longer end the job after it; `out` how far from done it leaves the head, the worse of
    cam line and metal over what is allowed; `left` expected cam-line bow after it, counted in the direction to go [m];
    `work` spots, or tenths of an hour of soak; `hardness` least expected after it [HB].
    """

    setup: PassSetup
    loss: float
    chances: Chances
    lost: float
    out: float
    left: float
    work: float
    hardness: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PassPlan:
    """The pass chosen, its forecast, what it promises, and the next best set-ups.

    `draws` few of equal weight, on which it is foretold; `setup` what will be heated in the middle case; `stages` the whole clamping with its reserve and `rungs` their ladder, None
    and () where it is heated in one go. Steered by the ladder the head ends as `forecast` and `chances` say.
    """

    draws: Draws
    setup: PassSetup
    forecast: Forecast
    chances: Chances
    direction: int
    best: Candidate
    runners_up: tuple[Candidate, ...]
    stages: Stages | None = None
    rungs: tuple[Rung, ...] = ()


def candidate_to_plain(one: Candidate) -> dict[str, Any]:
    """Return a candidate as JSON scalars, SI and units as `setup_to_plain`."""
    return {**asdict(one), "setup": setup_to_plain(one.setup)}


def candidate_from_plain(plain: dict[str, Any]) -> Candidate:
    """Return the candidate that `candidate_to_plain` wrote.

    Raises:
        BadInput: the record does not hold a set-up.
    """
    setup, chances = setup_from_plain(plain["setup"]), Chances(**plain["chances"])
    return Candidate(**{**plain, "setup": setup, "chances": chances})


def different(best: Candidate, ranked: list[Candidate]) -> list[Candidate]:
    """Return the next best ones that trade something for something; where there are none, those that differ at all."""
    kept = [best]
    for apart in (_trades, _unlike_set_ups):
        for candidate in ranked:
            if len(kept) < SHOWN and all(apart(candidate, other) for other in kept):
                kept.append(candidate)
    return sorted(kept[1:], key=lambda candidate: candidate.loss)


def _trades(one: Candidate, other: Candidate) -> bool:
    """Whether two set-ups differ by what a person would choose by: work, bow left, chance, hardness."""
    return (
        abs(one.work - other.work) >= TOLD_WORK
        or abs(one.left - other.left) >= TOLD_LEFT
        or abs(one.chances.both - other.chances.both) >= TOLD_CHANCE
        or abs(one.hardness - other.hardness) >= TOLD_HARDNESS
    )


def _unlike_set_ups(one: Candidate, other: Candidate) -> bool:
    return _kind(one) != _kind(other)


def _kind(candidate: Candidate) -> tuple[object, ...]:
    clamp = candidate.setup.clamp
    pull = None if clamp is None else (clamp.shims, clamp.bolts, clamp.gap)
    return (pull, len(candidate.setup.spots), candidate.setup.soak)
