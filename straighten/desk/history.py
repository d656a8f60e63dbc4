"""From the book to what the shop has taught: factors with ranges, passes per head, foretold against measured."""

from __future__ import annotations

from statistics import fmean
from typing import TYPE_CHECKING

from straighten.sheet.history import FactorLine, GroupHistory, History

if TYPE_CHECKING:
    from straighten.book import Book, Outcome

SHOWN = 1000  # newest passes in the figure


def shop_history(book: Book) -> History:
    """Return what the book's heads taught, one group for each alloy family and heat source."""
    passes = book.outcomes(every_pass=True)
    groups: dict[tuple[str, str], list[Outcome]] = {}
    for outcome in passes:
        groups.setdefault((outcome.alloy_family, outcome.heat_source), []).append(outcome)
    return History(
        groups=tuple(_group(groups[key]) for key in sorted(groups)),
        points=tuple((1e-3 * o.predicted_set_mm, 1e-3 * o.measured_set_mm) for o in passes[:SHOWN]),
    )


def _group(passes: list[Outcome]) -> GroupHistory:
    """Return the history of one group from its passes, newest first."""
    from straighten.belief.learn import prior_factors  # numpy comes with these: not for a book without passes
    from straighten.belief.pooling import POOLED, pooled_priors
    from straighten.belief.priors import PUBLISHED
    from straighten.desk.dossier import NEWEST
    from straighten.desk.words import FACTOR_WORDS

    last: dict[str, Outcome] = {}
    for outcome in passes:
        last.setdefault(outcome.head, outcome)
    learned = [outcome.factors for outcome in last.values()][:NEWEST]
    published, shop = prior_factors(PUBLISHED), prior_factors(pooled_priors(PUBLISHED, learned))
    return GroupHistory(
        family=passes[0].alloy_family,
        source=passes[0].heat_source,
        heads=len(last),
        passes=len(passes),
        mean_foretold=1e-3 * fmean(o.predicted_set_mm for o in passes),
        mean_measured=1e-3 * fmean(o.measured_set_mm for o in passes),
        factors=tuple(
            FactorLine(
                name=name,
                words=FACTOR_WORDS[name],
                published=published[name],
                shop=shop[name],
                heads=sum(name in factors for factors in learned),
            )
            for name in POOLED
        ),
    )
