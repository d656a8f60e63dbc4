"""Heat again, sand now, or hand it on: what lies ahead of a head, what each way costs and promises."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from straighten.decide.outlook import Outlook, handing_cost, inside, pass_cost, sanding_cost
from straighten.head.records import Head, metal_left
from straighten.plan.loss import MOST_OVERSHOOT, metal_to_sand
from straighten.quantiles import Floats, tenths
from straighten.sources import Cited

Choice = Literal["heat again", "sand now", "hand it on"]
TERMINALS: tuple[Choice, Choice] = ("sand now", "hand it on")
STRENGTHS: Final = tuple(np.geomspace(0.04, 1.0, 12).tolist())  # of the strongest pass on hand
GRID_STEP: Final = 4e-6  # m
HELPS: Final = Cited(
    0.06, "", "chance to end straight that a pass must add: the job goes on while heat helps", "assumed"
)
LOSES: Final = Cited(
    0.07,
    "",
    "of the passes that begin more than `FAR` limits out leave a cam line that no further heat can straighten; 12 heads of "
    "120, and about 150 such passes, on jobs of the tests' workshop; of the others next to none",
    "fitted",
)
FAR: Final = 3.0  # limits of the cam line


@dataclass(frozen=True, slots=True, kw_only=True)
class Stopping:
    """A finite stopping problem over m states.

    `terminal` costs of the k terminal choices `(k, m)`; `moves` transition probabilities of the a heats at each of
    the n stages `(n, a, m, m)`, first stage first, rows sum to one, or to less where a heat may end it all; `price` of each
    heat `(a,)`, or in each state `(a, m)`.
    """

    terminal: Floats
    moves: Floats
    price: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Policy:
    """The answer: `value` least expected cost with the stages from s on `(n + 1, m)`, the last row without heats.

    `heat` best heat at each stage and state `(n, m)`, -1 where stopping is better.
    """

    value: Floats
    heat: NDArray[np.intp]


def solve(problem: Stopping) -> Policy:
    r"""Return the optimal policy by backward induction: when is another heat worth its cost?

    With :math:`V_n` the least expected cost with n heats still allowed,

    .. math:: V_0(r) = \min_k T_k(r), \qquad
              V_n(r) = \min\left(V_0(r),\ \min_a \left[c_a + \sum_{r'} P_{n,a}(r, r') V_{n-1}(r')\right]\right)

    Source: Bellman, Dynamic Programming, 1957 (from memory); brute force over all policies in the tests.
    """
    stages, _, states = problem.moves.shape[:3]
    stop_cost, price = problem.terminal.min(axis=0), np.atleast_2d(problem.price.T).T
    value = np.tile(stop_cost, (stages + 1, 1))
    heat = np.full((stages, states), -1, dtype=np.intp)
    for stage in range(stages - 1, -1, -1):
        onward = price + problem.moves[stage] @ value[stage + 1]
        heat[stage] = np.where(onward.min(axis=0) < stop_cost, onward.argmin(axis=0), -1)
        value[stage] = np.minimum(onward.min(axis=0), stop_cost)
    return Policy(value=value, heat=heat)


def carried(problem: Stopping, policy: Policy, start: Floats, first_heat: int) -> Floats:
    """Return where the policy ends: probability to stop after k heats in each state, `(n + 1, m)`.

    `start` probabilities of the states now `(m,)`; `first_heat` is taken now whatever the policy says.

    Source: Total probability (derived).
    """
    stages = problem.moves.shape[0]
    here, ended = start.copy(), np.zeros((stages + 1, start.size))
    for stage in range(stages):
        chosen = policy.heat[stage] if stage else np.full(start.size, first_heat)
        ended[stage] = np.where(chosen < 0, here, 0.0)
        going = here - ended[stage]
        here = np.zeros_like(start)
        for action in range(problem.moves.shape[1]):
            here = here + (going * (chosen == action)) @ problem.moves[stage, action]
    ended[stages] = here
    return ended


@dataclass(frozen=True, slots=True, kw_only=True)
class Foreseen:
    """What is foreseen of one figure: its mean, and 10, 50 and 90 %."""

    mean: float
    tenths: tuple[float, float, float]

    @classmethod
    def of(cls, values: Floats, weights: Floats) -> Foreseen:
        """Return it for weighted values of one shape, weights of sum one."""
        return cls(mean=float((weights * values).sum()), tenths=tenths(values.ravel(), weights.ravel()))


@dataclass(frozen=True, slots=True, kw_only=True)
class Option:
    """One way to go.

    `cost` in the owner's money; `cam_left`, `deck_left` bow when the job stops [m]; `metal` to come off the deck [m];
    `chance` that the cam line ends inside its limit; `passes` more, expected.
    """

    choice: Choice
    cost: Foreseen
    cam_left: Foreseen
    deck_left: Foreseen
    metal: Foreseen
    chance: float
    passes: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Decision:
    """The cheapest choice, the options cheapest first, and cost against passes still allowed."""

    choice: Choice
    options: tuple[Option, ...]
    cost_by_passes: tuple[float, ...]


def decide(head: Head, outlook: Outlook) -> Decision:
    """Return what each way to go costs and promises.

    Source: Optimal stopping by backward induction; each pass's set log-normal, its doubt shrinking as passes teach
    (derived; the shrinking as of a normal mean, doubt and scatter known).
    Valid: Cam line and deck move together.
    """
    grid = _grid(head, outlook)
    problem = _problem(head, outlook, grid)
    start = _spread(grid, outlook.cam, outlook.cam_sd)
    options = [
        _option(head, outlook, grid, (choice, start[None], cost[None]))
        for choice, cost in zip(TERMINALS, problem.terminal, strict=True)
    ]
    if outlook.passes_left:
        options.append(_heated(head, outlook, grid, problem, start))
    options.sort(key=lambda option: option.cost.mean)
    return Decision(
        choice=options[0].choice,
        options=tuple(options),
        cost_by_passes=_by_passes(problem, start),
    )


def _by_passes(problem: Stopping, start: Floats) -> tuple[float, ...]:
    """Return the least expected cost with 0, 1, 2 ... passes allowed.

    What is done now is one thing for all that the bow may be; what follows a pass goes by the survey after it.
    """
    stopped = float((problem.terminal @ start).min())
    costs = [stopped]
    for allowed in range(1, problem.moves.shape[0] + 1):
        onward = solve(replace(problem, moves=problem.moves[:allowed])).value[1]
        heated = (problem.price[:, None] + problem.moves[0] @ onward) @ start
        costs.append(min(stopped, float(heated.min())))
    return tuple(costs)


def _grid(head: Head, outlook: Outlook) -> Floats:
    reach = max(abs(outlook.cam) + 4 * outlook.cam_sd, 2 * head.limits.cam_line.value, 0.1e-3)
    count = min(max(int(2.2 * reach / GRID_STEP), 60), 400)
    return np.linspace(-1.2 * reach, 1.1 * reach, count)


def _problem(head: Head, outlook: Outlook, grid: Floats) -> Stopping:
    deck = outlook.flat(grid)
    terminal = np.stack(
        [sanding_cost(head, outlook.out(grid), deck, outlook.cam_sd), handing_cost(head, deck)]
    )
    return Stopping(
        terminal=terminal, moves=_moves(outlook, grid), price=np.full(len(STRENGTHS), pass_cost(head))
    )


def _moves(outlook: Outlook, grid: Floats) -> Floats:
    """Return the probabilities of every strength at every stage, `(stages, strengths, m, m)`."""
    moves = np.zeros((outlook.passes_left, len(STRENGTHS), grid.size, grid.size))
    for stage in range(outlook.passes_left):
        spread = np.hypot(_doubt_after(outlook, stage), outlook.scatter)
        for action, strength in enumerate(STRENGTHS):
            moves[stage, action] = _transition(grid, strength * outlook.full_set, spread)
    return moves


def _doubt_after(outlook: Outlook, passes: int) -> float:
    """Return the log-sd of the response that is left after more passes have taught: a normal mean's update."""
    precision = 1 / max(outlook.doubt, 1e-6) ** 2 + passes / outlook.scatter**2
    return float(precision**-0.5)


def _transition(grid: Floats, taken: float, spread: float) -> Floats:
    """Return the probabilities of the bow after a pass whose set is log-normal about `taken` [m], `(m, m)`."""
    from scipy.special import ndtr

    edges = np.concatenate([[-np.inf], (grid[1:] + grid[:-1]) / 2, [np.inf]])
    lost = grid[:, None] - edges[None, :]  # set that would bring state i to edge j
    with np.errstate(divide="ignore", invalid="ignore"):
        logs = np.where(lost > 0, np.log(np.maximum(lost, 1e-300) / taken), -np.inf)
    at_most: Floats = ndtr(logs / spread)
    rows = at_most[:, :-1] - at_most[:, 1:]
    return np.asarray(rows / rows.sum(axis=1, keepdims=True))


def _spread(grid: Floats, middle: float, sd: float) -> Floats:
    weights = np.exp(-0.5 * ((grid - middle) / max(sd, GRID_STEP)) ** 2)
    return np.asarray(weights / weights.sum())


def _heated(head: Head, outlook: Outlook, grid: Floats, problem: Stopping, start: Floats) -> Option:
    policy = solve(problem)
    onward = problem.price[:, None] + problem.moves[0] @ policy.value[1]
    best = int(np.argmin(onward @ start))
    ended = carried(problem, policy, start, best)
    heats = np.arange(ended.shape[0])[:, None] * pass_cost(head)
    return _option(head, outlook, grid, ("heat again", ended, heats + problem.terminal.min(axis=0)))


def _option(head: Head, outlook: Outlook, grid: Floats, ending: tuple[Choice, Floats, Floats]) -> Option:
    """Return an option from the chance to stop after k heats with each bow, and its cost there, `(k, m)` each."""
    choice, ended, cost = ending
    weights, deck = ended.sum(axis=0), outlook.deck(grid)
    chance = weights @ inside(head.limits.cam_line.value, outlook.out(grid), outlook.out_sd)
    return Option(
        choice=choice,
        cost=Foreseen.of(cost, ended),
        cam_left=Foreseen.of(np.abs(grid), weights),
        deck_left=Foreseen.of(np.abs(deck), weights),
        metal=_to_sand(head, outlook, grid, weights),
        chance=1.0 if choice == "hand it on" else float(chance),
        passes=float(np.arange(len(ended)) @ ended.sum(axis=1)),
    )


def _to_sand(head: Head, outlook: Outlook, grid: Floats, weights: Floats) -> Foreseen:
    """Return the metal to come off a deck whose cam line ends with each bow [m]."""
    metal = metal_to_sand(head, outlook.likely_flat(grid))
    return Foreseen.of(metal, np.broadcast_to(weights / len(metal), metal.shape))


@dataclass(frozen=True, slots=True, kw_only=True)
class AfterPass:
    """After `passes` more: bow of cam line and deck [m], and the chances that both are inside and that the job is done."""

    passes: int
    cam: Foreseen
    deck: Foreseen
    inside: float
    done: float


@dataclass(frozen=True, slots=True, kw_only=True)
class WholeJob:
    """What it comes to if heat goes on until the head is done or no pass helps (`HELPS`).

    `chance` to end done: cam line inside, deck inside or to be sanded; `past` that its bow ends past straight by more than the
    limit; `clampings`, `cam` line bow that is left and `metal` to sand off [m] at 10, 50 and 90 %; `after` each pass.
    """

    chance: float
    past: float
    clampings: tuple[int, int, int]
    cam: tuple[float, float, float]
    metal: tuple[float, float, float]
    after: tuple[AfterPass, ...]


def whole_job(head: Head, outlook: Outlook) -> WholeJob:
    """Return what the whole job comes to, weighed by the chance to end straight: prices do not count.

    `outlook` with at least one pass left.

    Source: as `decide`, with one for a job that ends out of its limits or is lost by a pass (`LOSES`), and `HELPS` for a pass
    instead of prices.
    Valid: as there; places heated before take as much as at first. What is left is told of the jobs that no pass loses.
    """
    grid = _grid(head, outlook)
    done = _done(head, outlook, grid)
    lost = LOSES.value * (np.abs(grid) > FAR * head.limits.cam_line.value)
    moves = _kept_short(_moves(outlook, grid), grid < -head.limits.cam_line.value) * (1 - lost)[:, None]
    price = np.tile(HELPS.value + lost, (len(STRENGTHS), 1))
    problem = Stopping(terminal=(1 - done)[None], moves=moves, price=price)
    policy, start = solve(problem), _spread(grid, outlook.cam, outlook.cam_sd)
    first = int(np.argmin((moves[0] @ policy.value[1]) @ start))
    ended = carried(problem, policy, start, first)
    weights, by_then = ended.sum(axis=0) / ended.sum(), np.cumsum(ended.sum(axis=1))
    return WholeJob(
        chance=float(ended.sum(axis=0) @ done),
        past=float(weights @ (grid < -head.limits.cam_line.value)),
        clampings=(_first(by_then, 0.1), _first(by_then, 0.5), _first(by_then, 0.9)),
        cam=tenths(grid, weights),
        metal=_to_sand(head, outlook, grid, weights).tenths,
        after=tuple(
            _after(head, outlook, grid, done, (problem, policy, start, first), n)
            for n in range(1, outlook.passes_left + 1)
        ),
    )


def _first(by_then: Floats, share: float) -> int:
    """Return after how many passes so large a share of the jobs has ended."""
    return int(np.argmax(by_then >= share * by_then[-1]))


def _kept_short(moves: Floats, past: NDArray[np.bool_]) -> Floats:
    """Return the moves with those that no plan would make left out: past straight by more than the limit too often."""
    often = moves[..., past].sum(axis=-1) > MOST_OVERSHOOT.value
    return np.where(often[..., None], np.eye(past.size), moves)


def _done(head: Head, outlook: Outlook, grid: Floats) -> Floats:
    """Return the chance that a head with each bow is done."""
    held = inside(head.limits.cam_line.value, outlook.out(grid), outlook.out_sd)
    return np.where(metal_to_sand(head, outlook.flat(grid)) <= metal_left(head), held, 0.0)


def _after(
    head: Head,
    outlook: Outlook,
    grid: Floats,
    done: Floats,
    solved: tuple[Stopping, Policy, Floats, int],
    passes: int,
) -> AfterPass:
    """Return where the job stands after so many passes, those ended before among them."""
    problem, policy, start, first = solved
    so_far = replace(problem, moves=problem.moves[:passes])
    kept, deck = carried(so_far, policy, start, first).sum(axis=0), outlook.deck(grid)
    weights = kept / kept.sum()
    return AfterPass(
        passes=passes,
        cam=Foreseen.of(grid, weights),
        deck=Foreseen.of(deck, weights),
        inside=float((kept * (metal_to_sand(head, outlook.flat(grid)) == 0)) @ done),
        done=float(kept @ done),
    )
