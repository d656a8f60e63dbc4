"""Where a figure comes from: every table value carries its source and how well it is known."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Generic, Literal, TypeVar

Mark = Literal[
    "seen",  # read in the source named
    "from memory",  # recalled from the source named, not read again
    "derived",  # worked out from the formula named
    "common practice, no source",
    "assumed",  # our own choice, with its reason as the source
    "fitted",  # set to agree with the cases named
    "given",  # the person's own figure
    "measured",
    "learned",  # from the shop's own book
]

Value_co = TypeVar("Value_co", covariant=True)


@dataclass(frozen=True, slots=True)
class Cited(Generic[Value_co]):
    """A figure with its unit, its source and a mark that says how well it is known."""

    value: Value_co
    unit: str
    source: str
    mark: Mark

    @property
    def told(self) -> str:
        """Return the source with its mark."""
        return f"{self.source}; {self.mark}"

    def __str__(self) -> str:
        return f"{self.value} {self.unit}".strip() + f" ({self.told})"
