"""The reasoning behind a plan, as a record and as text."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from straighten.sheet.layout import block, page, wrap
from straighten.sheet.plain import Answer


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One formula: title, the formula as derived, the formula with numbers in, and the result with its unit."""

    title: str
    formula: str
    numbers: str
    result: str
    code: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Explanation(Answer):
    """Formulas with this head's numbers, the priors with their reasons, the table figures with their sources."""

    schema: ClassVar[str] = "explain/1"
    name: str
    steps: tuple[Step, ...]
    priors: tuple[str, ...]
    sources: tuple[str, ...]
    assumed: tuple[str, ...]


def explanation_text(found: Explanation) -> str:
    """Return the explanation as text."""
    steps = [
        "\n".join(
            [
                step.title,
                wrap(f"formula: {step.formula}", "   ", "            "),
                wrap(f"numbers: {step.numbers}", "   ", "            "),
                wrap(f"gives:   {step.result}", "   ", "            "),
                wrap(f"in use:  {step.code}", "   ", "            "),
            ]
        )
        for step in found.steps
    ]
    return page(
        [
            f"WHY   HEAD {found.name}",
            *steps,
            block("BELIEVED BEFORE ANYTHING IS MEASURED", found.priors),
            block("TABLE FIGURES", found.sources),
            block("ASSUMED", found.assumed),
        ]
    )
