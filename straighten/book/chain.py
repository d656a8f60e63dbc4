"""The order of a head's entries, and whether its chain runs in several lines: both from the entries alone.

Entry numbers belong to one book; two books that hold the same entries may number them otherwise. So an entry comes after
those it follows, and of two that do not follow each other the earlier time comes first, then the smaller seal.
"""

from __future__ import annotations

import heapq
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from functools import reduce
from operator import or_

from straighten.book.records import Entry

Links = Mapping[str, tuple[Sequence[str], str]]  # seal -> (seals it follows, time)
_ABOUT_OTHERS = ("strike", "settle")  # kinds that say something about entries, not about the head


def in_order(links: Links) -> list[str]:
    """Return the seals of a head's entries in the order that counts."""
    due = {seal: len(links.keys() & set(previous)) for seal, (previous, _) in links.items()}
    followers = defaultdict(list)
    for seal, (previous, _) in links.items():
        for before in set(previous):
            followers[before].append(seal)
    free = [(at, seal) for seal, (_, at) in links.items() if not due[seal]]
    heapq.heapify(free)
    found = []
    while free:
        _, seal = heapq.heappop(free)
        found.append(seal)
        for after in followers[seal]:
            due[after] -= 1
            if not due[after]:
                heapq.heappush(free, (links[after][1], after))
    return found


def open_lines(chain: Sequence[Entry]) -> tuple[tuple[int, ...], ...]:
    """Return the lines in which a head was carried on apart and which no later entry settles, as entry numbers.

    Args:
        chain: all entries of a head in order, struck ones too.

    Returns:
        One tuple of numbers for each line; none where every entry knew of the others.
    """
    place = {entry.digest: n for n, entry in enumerate(chain)}
    before: list[int] = []  # for each entry the set of those it follows, one bit for each place
    for entry in chain:
        known = [place[seal] for seal in entry.previous if seal in place]
        before.append(_union(before[n] | 1 << n for n in known))
    settled = [before[n] for n, entry in enumerate(chain) if entry.kind == "settle"]
    counting = _union(
        1 << n for n, entry in enumerate(chain) if entry.struck_by is None and entry.kind not in _ABOUT_OTHERS
    )
    apart = 0
    for n in range(len(chain)):
        if counting >> n & 1:
            others = counting & ((1 << n) - 1) & ~before[n]
            for known_to_it in settled:
                others &= ~known_to_it if known_to_it >> n & 1 else -1
            apart |= others | 1 << n if others else 0
    return _lines(chain, before, apart)


def _union(sets: Iterable[int]) -> int:
    return reduce(or_, sets, 0)


def _lines(chain: Sequence[Entry], before: Sequence[int], apart: int) -> tuple[tuple[int, ...], ...]:
    lines: list[list[int]] = []
    for n in (n for n in range(len(chain)) if apart >> n & 1):
        line = next((line for line in lines if before[n] >> line[-1] & 1), None)
        if line is None:
            lines.append([n])
        else:
            line.append(n)
    return tuple(tuple(chain[n].number for n in line) for line in lines)
