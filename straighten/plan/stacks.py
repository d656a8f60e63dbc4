"""Shim stacks from the blades owned, four corners alike."""

from __future__ import annotations

from itertools import combinations_with_replacement
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from straighten.head.records import Head

LAYERS: Final = 3  # more blades in a stack spring and wander


def stacks(head: Head) -> dict[float, tuple[float, ...]]:
    """Return every height [m] that four like stacks can have, with the fewest blades [m] that make it.

    Steel blades only where there are any: brass and aluminium creep and crush when hot.
    """
    owned = [blade for blade in head.shim_blades if blade.material == "steel"] or list(head.shim_blades)
    found: dict[float, tuple[float, ...]] = {0.0: ()}
    for layers in range(1, LAYERS + 1):
        for pick in combinations_with_replacement(range(len(owned)), layers):
            if all(4 * pick.count(k) <= owned[k].count for k in set(pick)):
                blades = tuple(sorted((owned[k].thickness for k in pick), reverse=True))
                found.setdefault(round(sum(blades), 7), blades)
    return dict(sorted(found.items()))
