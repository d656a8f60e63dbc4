"""From the book to what the shop has taught: factors with ranges, passes per head, foretold against measured."""

from __future__ import annotations

from typing import TYPE_CHECKING

from straighten.sheet.history import FactorLine, GroupHistory, History

if TYPE_CHECKING:
    from straighten.book import Book, GroupLine

SHOWN = 1000  # newest passes in the figure


def shop_history(book: Book) -> History:
    """Return what the book's heads taught, one group for each alloy family and heat source."""
    passes = book.outcomes(newest=SHOWN, every_pass=True)
    return History(
        groups=tuple(_group(book, line) for line in book.groups()),
        points=tuple((1e-3 * o.predicted_set_mm, 1e-3 * o.measured_set_mm) for o in passes),
    )


def _group(book: Book, line: GroupLine) -> GroupHistory:
    from straighten.belief.learn import prior_factors  # numpy comes with these: not for a book without passes
    from straighten.belief.pooling import POOLED, pooled_priors
    from straighten.belief.priors import PUBLISHED
    from straighten.desk.dossier import NEWEST
    from straighten.desk.words import FACTOR_WORDS

    found = book.outcomes(family=line.alloy_family, source=line.heat_source, newest=NEWEST)
    learned = [outcome.factors for outcome in found]
    published, shop = prior_factors(PUBLISHED), prior_factors(pooled_priors(PUBLISHED, learned))
    return GroupHistory(
        family=line.alloy_family,
        source=line.heat_source,
        heads=line.heads,
        passes=line.passes,
        mean_foretold=1e-3 * line.mean_predicted_set_mm,
        mean_measured=1e-3 * line.mean_measured_set_mm,
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
