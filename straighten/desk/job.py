"""One head's work: shape, belief, next pass and prices, each computed once and only when asked for."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from typing import TYPE_CHECKING, Final

from straighten.belief.blades import (
    StagedPass,
    StageLog,
    TighteningLog,
    with_staged_passes,
    with_stages,
    with_tightenings,
)
from straighten.belief.learn import Belief, learn
from straighten.belief.priors import SCATTER
from straighten.decide import Decision, Outlook, WholeJob, decide, outlook_of, whole_job
from straighten.desk.dossier import Dossier, Learned
from straighten.desk.goal import forbidden_bolts
from straighten.desk.kept import stages_from_plain
from straighten.errors import NoPlan
from straighten.head.records import Head
from straighten.heat import FRESH
from straighten.plan.alternatives import PassPlan
from straighten.plan.forecast import NOISE_SIZE, Forecast, forecast, roof_believed, standing
from straighten.plan.loss import direction_of
from straighten.plan.records import UNTOUCHED, Done, PassSetup, setup_from_plain
from straighten.plan.search import choose_pass, strongest_pass
from straighten.plan.stages import Stages, draws_told
from straighten.plan.steering import steered_by_gaps
from straighten.quantiles import Floats
from straighten.readings import Readings
from straighten.shape import Assessment, Finding, Shape, assess, fit_shape
from straighten.shape.findings import casting_findings
from straighten.shape.fit import shape_as_believed
from straighten.sobol import sobol_normal

if TYPE_CHECKING:
    from straighten.desk.judgement import Judgement

_Known = tuple[Head, tuple[Readings | None, ...], tuple[PassSetup, ...], tuple[Learned, ...]]
_Records = tuple[tuple[TighteningLog, ...], tuple[StagedPass, ...], tuple[StageLog, ...], Done]

NOISE_SEED: Final = 41
KEPT: Final = 16  # beliefs of one command, of every moment of the job


def believed(dossier: Dossier) -> Belief:
    """Return what is believed of the head now; worked out once for the same records."""
    done = dossier.done if dossier.stages else UNTOUCHED
    records = (dossier.tightenings, dossier.staged, dossier.stages, done)
    return _believed((dossier.head, dossier.surveys, dossier.passes, dossier.others), records)


@lru_cache(maxsize=KEPT)
def _believed(known: _Known, records: _Records) -> Belief:
    head, _, passes, _ = known
    tightenings, staged, stages, done = records
    learned = with_tightenings(head, _learned(known), tightenings)
    believed_so = with_staged_passes(head, learned, len(passes), staged)
    past = roof_believed(head, believed_so.draws, done) if stages else FRESH
    return with_stages(head, believed_so, stages, past)


@lru_cache(maxsize=KEPT)
def _learned(known: _Known) -> Belief:
    head, surveys, passes, others = known
    return learn(head, surveys, passes, others=[dict(factors) for factors in others])


def noise_for(belief: Belief) -> Floats:
    """Return standard normal numbers for a pass of every draw."""
    return sobol_normal(belief.draws.weights.size, NOISE_SIZE, NOISE_SEED)


@dataclass(frozen=True)
class Job:
    """A head with all that follows from what is recorded of it; every part is worked out at its first use.

    `known` the belief where the caller has it already.

    Raises from its parts what their rooms raise; `BadInput` from those that need a shape where none was measured.
    """

    dossier: Dossier
    known: Belief | None = None

    @property
    def head(self) -> Head:
        """The head as found."""
        return self.dossier.head

    @cached_property
    def fitted(self) -> Shape:
        """The shape by the last survey alone."""
        return fit_shape(self.dossier.survey, self.head)

    @cached_property
    def shape(self) -> Shape:
        """The shape now: of the one survey before any pass, with what passes and later surveys taught after it."""
        if not self.dossier.passes or not self.dossier.measured_after_last_pass:
            return self.fitted
        draws, towers = self.belief.draws, self.belief.towers
        if self.dossier.stages:  # the towers were read before them
            read = Job(replace(self.dossier, stages=())).shape
            towers = tuple(line.held(read.mean) for line in read.towers)
        mean = draws.weights @ draws.states
        off = draws.states - mean
        covariance = (off * draws.weights[:, None]).T @ off
        return shape_as_believed(self.fitted, self.head, mean, covariance, towers)

    @cached_property
    def assessment(self) -> Assessment:
        """What the surveys say before anything is known of heat."""
        told, at = self.dossier.told, self.dossier.told_before
        heated = self.dossier.passes_done > 0
        return assess(self.head, self.dossier.survey, self.shape, told[:at], told[at + 1 :], heated=heated)

    @cached_property
    def forbidden(self) -> tuple[Finding, ...]:
        """What forbids the work, by the head file and every survey."""
        found = casting_findings(self.head, self.dossier.told)
        return tuple(f for f in found if f.weight == "forbidden")

    @cached_property
    def forbidden_to_clamp(self) -> tuple[Finding, ...]:
        """What forbids the clamp: all that nothing passes, and bolts that may not pull."""
        bolts = forbidden_bolts(self.head)
        return self.forbidden if bolts is None else (*self.forbidden, bolts)

    @cached_property
    def belief(self) -> Belief:
        """Weighted draws of shape and response."""
        return believed(self.dossier) if self.known is None else self.known

    @cached_property
    def noise(self) -> Floats:
        """Standard normal numbers for a pass of every draw."""
        return noise_for(self.belief)

    @cached_property
    def direction(self) -> int:
        """+1 where the middle has to come down."""
        return direction_of(self.head, self.belief.draws)

    @cached_property
    def next_pass(self) -> PassPlan | NoPlan:
        """The pass of least expected loss, or why none helps."""
        try:
            return choose_pass(self.head, self.belief.draws, self.noise, done=self.dossier.done)
        except NoPlan as fault:
            return fault

    @property
    def may_heat(self) -> bool:
        """Whether one more pass may be planned at all."""
        return not self.forbidden_to_clamp and not isinstance(self.next_pass, NoPlan)

    @cached_property
    def outlook(self) -> Outlook:
        """What lies ahead, as the prices need it; where no pass may be planned, none is left."""
        found = self.outlook_with(self.head) if self.may_heat else None
        return found or self._outlook_of(self.head, standing(self.belief.draws), 0)

    def outlook_with(self, head: Head) -> Outlook | None:
        """Return what lies ahead with the equipment of another head file; None where nothing can be heated with it."""
        draws, most = self.belief.draws, head.thresholds.most_passes.value
        try:
            strongest = strongest_pass(head, draws, done=self.dossier.done)
        except NoPlan:
            return None
        return self._outlook_of(head, strongest, max(most - self.dossier.passes_done, 1))

    def _outlook_of(self, head: Head, strongest: Forecast, left: int) -> Outlook:
        draws, scatter = self.belief.draws, SCATTER.centre
        return outlook_of(head, draws, strongest, self.direction, scatter=scatter, passes_left=left)

    @cached_property
    def decision(self) -> Decision:
        """Every way to go with what it costs and promises, cheapest first."""
        return decide(self.head, self.outlook)

    @cached_property
    def whole(self) -> WholeJob | None:
        """What the whole job comes to; None where no pass may be planned."""
        return whole_job(self.head, self.outlook) if self.may_heat else None

    @cached_property
    def judgement(self) -> Judgement:
        """The one judgement that every command reads."""
        from straighten.desk.judgement import judge

        return judge(self)


def foretold(
    dossier: Dossier, setup: PassSetup, belief: Belief | None = None, stages: Stages | None = None
) -> Forecast:
    """Return what a set-up does to the head: as its card has it, steered by the gaps, where the card is followed.

    The `dossier` holds the head before the pass and its card; `belief` is told where it is another one than the dossier's,
    `stages` those of a card that is not in the book.
    """
    belief = belief or believed(dossier)
    head, draws, few = dossier.head, belief.draws, draws_told(belief.draws)
    past = roof_believed(head, draws, dossier.done)
    seen = forecast(head, few, setup, noise_for(belief)[: few.weights.size], past)
    stages = stages or _followed(dossier, setup)
    if stages is None:
        return seen
    way = steered_by_gaps(head, few, stages, direction_of(head, draws), past)
    return replace(seen, after=way.after)


def _followed(dossier: Dossier, setup: PassSetup) -> Stages | None:
    """Return the card's clamping in stages where it is done as planned, stopped where its gaps said so; else None."""
    plain = None if dossier.planned is None else dossier.planned.record.get("stages")
    if dossier.planned is None or plain is None:
        return None
    stages = stages_from_plain(plain)
    if not dossier.stages:
        return stages if setup == setup_from_plain(dossier.planned.record["setup"]) else None
    as_planned = all(not log.done.spots or log.done == stages.stage(log.number) for log in dossier.stages)
    return stages if as_planned else None
