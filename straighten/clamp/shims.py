"""Shim stacks from the blades that are owned: four corners, at most three layers each, hard steel before soft metal."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import combinations_with_replacement
from typing import Final

from straighten.clamp.clamped import CORNERS, Corner
from straighten.errors import BadInput
from straighten.head.records import Head, ShimBlade
from straighten.sources import Cited
from straighten.units import System, show

MOST_LAYERS: Final = Cited(3, "layers", "a thicker stack is springy and slides", "common practice, no source")
LAYER_PRICE: Final = Cited(
    2e-6, "m", "a layer more must bring the stack this much nearer; oil and burrs between layers", "assumed"
)
SOFT_PRICE: Final = Cited(
    15e-6,
    "m",
    "a soft layer must bring the stack this much nearer: brass and aluminium creep and crush hot",
    "assumed",
)
SAME_HEIGHT: Final = Cited(2.5e-6, "m", "stacks as near as this are one and the same", "assumed")
MOST_TRIES: Final = 40_000
BEST: Final = 2  # stackings told
CORNER_SHARE: Final = Cited(
    0.3,
    "",
    "a corner's own error squared counts this much beside the error of the mean height: front and rear may differ, the head "
    "then lies a little tilted and is bent the same",
    "assumed",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stack:
    """One corner's shims: `blades` thickest first; `target` and `height` [m]."""

    corner: Corner
    blades: tuple[ShimBlade, ...]
    target: float

    @property
    def height(self) -> float:
        """Height of the stack [m]."""
        return sum(b.thickness for b in self.blades)

    @property
    def error(self) -> float:
        """Height over target [m]."""
        return self.height - self.target

    @property
    def soft(self) -> bool:
        """Whether a layer is of soft metal."""
        return any(b.material != "steel" for b in self.blades)

    def words(self, system: System = "mm") -> str:
        """Say what to lay under the corner, and the warning that goes with it."""
        if not self.blades:
            return f"{self.corner}: no shim"
        layers = " + ".join(show(b.thickness, system) + _metal(b) for b in self.blades)
        warning = (
            "; soft metal creeps and crushes when hot: check its height after the pass" if self.soft else ""
        )
        return f"{self.corner}: {layers} = {show(self.height, system)}{warning}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Stacking:
    """Four stacks in the order of `CORNERS`, and the `price` that the search made smallest [m2]."""

    stacks: tuple[Stack, Stack, Stack, Stack]
    price: float

    @property
    def shims(self) -> tuple[float, float, float, float]:
        """Heights in the order of `CORNERS` [m]."""
        a, b, c, d = (s.height for s in self.stacks)
        return a, b, c, d

    @property
    def over_bend_error(self) -> float:
        """Mean height over the mean target [m]: at the same gap the over-bend changes by it."""
        return sum(s.error for s in self.stacks) / 4


def countering(height: float, twist: float) -> tuple[float, float, float, float]:
    """Return shim heights in the order of `CORNERS` that hold the head twisted the other way.

    `height` mean height [m]; `twist` wanted lift of the front inlet and rear exhaust corners over the mean [m], positive
    where the rear inlet and front exhaust corners of the head stand high.

    Raises:
        BadInput: the low corners would need less than no shim.

    Source: kinematics; shims at two opposite corners, common practice.
    Valid: the pull holds all four corners down.
    """
    if abs(twist) > height:
        raise BadInput(
            f"a counter-twist of {show(abs(twist))} on shims of {show(height)}",
            where="shims",
            fix="Raise all shims.",
        )
    return height - twist, height + twist, height + twist, height - twist


def _metal(blade: ShimBlade) -> str:
    return {"steel": "", "other": " soft metal"}.get(blade.material, f" {blade.material}")


def stackings(targets: Sequence[float], blades: Iterable[ShimBlade]) -> tuple[Stacking, ...]:
    """Return the two best stackings of four corners, best first; they differ in at least one corner's height.

    Every stack of at most three whole blades is looked at, and every sharing of the blades over the corners that could
    still be better than the best so far. The price is four times the squared
    error of the mean height, the squared sideways difference that is not wanted at each end, a share of each corner's
    squared error, and what layers and soft metal cost. The search is cut after 40 000 tries: far more than a shop's blades
    need, unless the height is out of their reach.

    `targets` wanted heights in the order of `CORNERS` [m].

    Raises:
        BadInput: negative or absurd targets, or no stacking at all.

    Source: exhaustive search with bounds; preferences common practice or assumed as marked.
    Valid: whole blades; up to some thirty thicknesses.
    """
    if len(targets) != 4 or not all(0 <= t <= 5e-3 for t in targets):
        raise BadInput("four shim heights between zero and 5 mm are needed", where="shims")
    owned = _owned(blades)
    options = [_options(corner, target, owned) for corner, target in zip(CORNERS, targets, strict=True)]
    search = _Search(owned=owned, options=options)
    search.run()
    return tuple(search.found)


def _owned(blades: Iterable[ShimBlade]) -> dict[ShimBlade, int]:
    """Return how many there are of each kind, the count taken out of the key."""
    owned: Counter[ShimBlade] = Counter()
    for blade in blades:
        owned[replace(blade, count=0)] += blade.count
    return dict(owned)


Priced = tuple[float, float, Stack]  # own price, error of the height [m]


def _options(corner: Corner, target: float, owned: dict[ShimBlade, int]) -> list[Priced]:
    """Return every stack that could stand under a corner with its own price and error, cheapest first."""
    kinds = sorted(owned, key=lambda b: (-b.thickness, b.material))
    made = [Stack(corner=corner, blades=blades, target=target) for blades in _picks(kinds, owned, 1)]
    return sorted(((_price(s), s.error, s) for s in made), key=lambda option: option[0])


def like_stacks(head: Head) -> dict[float, tuple[float, ...]]:
    """Return every height [m] that four like stacks can have, with the fewest blades [m] that make it.

    Steel blades only where there are any: brass and aluminium creep and crush when hot.
    """
    owned = _owned([b for b in head.shim_blades if b.material == "steel"] or head.shim_blades)
    found: dict[float, tuple[float, ...]] = {}
    for pick in _picks(owned, owned, 4):
        blades = tuple(sorted((b.thickness for b in pick), reverse=True))
        found.setdefault(round(sum(blades), 7), blades)
    return dict(sorted(found.items()))


def _picks(
    kinds: Iterable[ShimBlade], owned: dict[ShimBlade, int], corners: int
) -> Iterator[tuple[ShimBlade, ...]]:
    """Yield every stack of whole blades that can stand at so many corners at once, fewest layers first."""
    kinds = tuple(kinds)
    for layers in range(MOST_LAYERS.value + 1):
        for pick in combinations_with_replacement(kinds, layers):
            if all(corners * n <= owned[b] for b, n in Counter(pick).items()):
                yield pick


def _price(stack: Stack) -> float:
    soft = sum(b.material != "steel" for b in stack.blades)
    extra = LAYER_PRICE.value * len(stack.blades) + SOFT_PRICE.value * soft
    return CORNER_SHARE.value * stack.error**2 + extra**2


@dataclass(slots=True)
class _Search:
    """Depth-first over the corners, each corner's stacks cheapest first, cut where it cannot get better."""

    owned: dict[ShimBlade, int]
    options: list[list[Priced]]
    found: list[Stacking] = field(default_factory=list)
    tries: int = 0
    cheapest: list[float] = field(default_factory=list)
    reach: list[tuple[float, float]] = field(default_factory=list)

    def run(self) -> None:
        """Fill `found`."""
        rest = [self.options[k:] for k in range(len(self.options) + 1)]
        self.cheapest = [sum(some[0][0] for some in o) for o in rest]
        errors = [[[error for _, error, _ in some] for some in o] for o in rest]
        self.reach = [(sum(map(min, e)), sum(map(max, e))) for e in errors]
        self._corner(0.0, (), (), Counter())

    def _bound(self) -> float:
        return self.found[-1].price if len(self.found) >= BEST else float("inf")

    def _least(self, price: float, errors: tuple[float, ...]) -> float:
        """Return the least price that any completion of stacks with these errors can have."""
        low, high = self.reach[len(errors)]
        error = sum(errors)
        off = max(error + low, -(error + high), 0.0)
        return price + self.cheapest[len(errors)] + off**2 / 4

    def _corner(
        self, price: float, stacks: tuple[Stack, ...], errors: tuple[float, ...], used: Counter[ShimBlade]
    ) -> None:
        number = len(stacks)
        if number == len(self.options):
            self._keep(price, stacks)
            return
        for own, error, stack in self.options[number]:
            if self.tries >= MOST_TRIES or price + own + self.cheapest[number + 1] >= self._bound():
                return
            self.tries += 1
            total = price + own + ((error - errors[-1]) ** 2 if number % 2 else 0.0)
            if self._least(total, (*errors, error)) >= self._bound():
                continue
            needed = Counter(stack.blades)
            if all(used[b] + n <= self.owned[b] for b, n in needed.items()):
                self._corner(total, (*stacks, stack), (*errors, error), used + needed)

    def _keep(self, price: float, stacks: tuple[Stack, ...]) -> None:
        a, b, c, d = stacks
        price += 4 * (sum(s.error for s in stacks) / 4) ** 2
        new = Stacking(stacks=(a, b, c, d), price=price)
        same = next((old for old in self.found if _alike(old, new)), None)
        if same is not None:
            if same.price <= price:
                return
            self.found.remove(same)
        self.found.append(new)
        self.found.sort(key=lambda s: s.price)
        del self.found[BEST:]


def _alike(one: Stacking, other: Stacking) -> bool:
    return all(abs(a - b) < SAME_HEIGHT.value for a, b in zip(one.shims, other.shims, strict=True))
