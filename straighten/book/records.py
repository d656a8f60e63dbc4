"""What the book keeps and gives back: the kinds of entry, and plain frozen records. Times are UTC, as ISO 8601 text."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal, get_args

Kind = Literal[
    "head",  # the head file: its text and its parsed plain form
    "survey",  # readings of deck, cam line, hardness
    "check",  # go / no-go
    "plan",  # the card of a pass
    "tighten",  # gap against torque while clamping
    "stage",  # a part of a pass, with the gap read after it in the clamp
    "pass",  # what was done, with the readings after it
    "decision",  # heat again, sand now, hand on
    "sand",  # metal taken off
    "finish",  # the final list; closes the head
    "bench",  # one answer of the guided session
    "strike",  # takes an earlier entry out of use, with the reason
    "settle",  # says that the lines in which a head was carried on apart are one again
]

# Raise a number when a key of that kind's record changes its meaning; new keys are free.
KINDS: dict[str, int] = dict.fromkeys(get_args(Kind), 1)

# The state that a head is in after its last entry of one of these kinds; other kinds leave the state alone.
STATES: dict[str, str] = {
    "survey": "measured",
    "check": "checked",
    "plan": "planned",
    "tighten": "clamped",
    "stage": "staged",
    "pass": "passed",
    "decision": "decided",
    "sand": "sanded",
    "finish": "finished",
}
OPENED = "opened"


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One entry of a head's chain.

    `number` in this book; the order is that of the chain, see `rows.in_order`; `schema` number of the record's form; `at` when it was
    written, with `clock_back` true where the clock then stood before the entry it follows; `version` of the
    program; `inputs` numbers of the entries it was computed from;
    `previous` seals of the entries it follows (more than one where copies of a book were merged); `digest` its
    own seal; `struck_by` number of the entry that struck it, or None.
    """

    number: int
    head: str
    kind: str
    schema: int
    at: str
    clock_back: bool
    version: str
    inputs: tuple[int, ...]
    previous: tuple[str, ...]
    digest: str
    struck_by: int | None
    record: dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class HeadLine:
    """One head in the list of heads; struck entries do not count.

    `state` in one word ("opened", "measured", "planned", ...); `passes` logged; `last` number of its last
    entry, with that entry's `last_kind` and `last_at`.
    """

    name: str
    opened_at: str
    state: str
    passes: int
    last: int
    last_kind: str
    last_at: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What one pass taught, in the form that is pooled over the heads of the book.

    It enters the book inside a record, under the key "outcome" (see `to_plain`). `pass_number` from 1;
    `predicted_set_mm` and `measured_set_mm` in the middle [mm]; `factors` what was learned of each factor up
    to this pass: (mean, standard deviation) of its log. `head` and `entry` are filled in
    by the book.
    """

    alloy_family: str
    heat_source: str
    pass_number: int
    predicted_set_mm: float
    measured_set_mm: float
    factors: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    head: str = ""
    entry: int = 0

    def to_plain(self) -> dict[str, Any]:
        """Return the form to put under a record's key "outcome"."""
        return {
            "alloy_family": self.alloy_family,
            "heat_source": self.heat_source,
            "pass": self.pass_number,
            "predicted_set_mm": self.predicted_set_mm,
            "measured_set_mm": self.measured_set_mm,
            "factors": {name: list(pair) for name, pair in self.factors.items()},
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class MergeReport:
    """What came in from outside.

    `heads` and `entries` added; `renamed` (name there, name here) where the name was taken by another head;
    `forked` heads that were carried on in both places, so that their entries now follow two lines; `sealed` false
    where the form is an older one, which does not tell whether its last entries are there.
    """

    heads: int = 0
    entries: int = 0
    renamed: tuple[tuple[str, str], ...] = ()
    forked: tuple[str, ...] = ()
    sealed: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubtful:
    """An entry that could be read but does not match its seal: shown, never taken over."""

    number: int
    kind: str
    record: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RescueReport:
    """What was read out of a damaged book and what was not.

    `heads` and `entries` kept; `lost` numbers of entries that are gone; `doubtful` entries left out because
    they were altered; `nameless` heads whose own row is gone, by the names they were given instead; `empty` names
    of heads of which no entry is left; `bad_pages` of the file that could not be read or made no sense.
    """

    heads: int
    entries: int
    lost: tuple[int, ...]
    doubtful: tuple[Doubtful, ...]
    nameless: tuple[str, ...]
    empty: tuple[str, ...]
    bad_pages: int

    @property
    def complete(self) -> bool:
        """Whether nothing was lost."""
        return not (self.lost or self.doubtful or self.nameless or self.empty)
