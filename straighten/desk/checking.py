"""Go or no-go as a report: verdict, shape, limits, findings, and what does not fit."""

from __future__ import annotations

from typing import TYPE_CHECKING

from straighten.desk import words
from straighten.readings import said_back
from straighten.shape import assess, fit_shape, worth_of_more
from straighten.sheet.check import CheckReport, ShapeLine

if TYPE_CHECKING:
    from straighten.desk.dossier import Dossier
    from straighten.readings import Readings
    from straighten.shape import Assessment, Shape

WORTH_SHOWN = 4
WORTH_TELLING = 2.5e-6  # m: less does not show in half a thou
_SHAPE_WORDS = {
    "deck_bow": "deck bow, middle over the ends",
    "cam_bow": "cam line bow, middle over the ends",
    "deck_skew": "deck lean of the bow towards the front",
    "deck_side": "inlet edge bow less exhaust edge bow, half",
    "twist": "twist, half",
    "dish": "crosswise dish",
}


def judged(dossier: Dossier, readings: Readings | None = None) -> tuple[Shape, Assessment]:
    """Return the shape that a survey tells and the go / no-go on it, the other surveys as its history; the last one where none is given."""
    readings = readings or dossier.survey
    shape = fit_shape(readings, dossier.head)
    others = [s for s in dossier.surveys if s is not None and s is not readings]
    return shape, assess(dossier.head, readings, shape, others)


def check_report(dossier: Dossier, readings: Readings) -> CheckReport:
    """Return the go / no-go report of a survey."""
    head = dossier.head
    shape, verdict = judged(dossier, readings)
    return CheckReport(
        name=dossier.name,
        system=head.system,
        verdict=verdict.verdict,
        reason=verdict.reason,
        decided_by=words.decided_by(verdict.decided, dossier.head.system),
        direction=verdict.direction_words,
        pattern=verdict.pattern,
        shape=tuple(
            ShapeLine(
                key=key, words=text, value=shape.value(key), low=shape.range(key)[0], high=shape.range(key)[1]
            )
            for key, text in _SHAPE_WORDS.items()
        ),
        straightness=shape.straightness_sentences(head.system),
        limits=tuple(limit.sentence(head) for limit in verdict.limits),
        findings=tuple(f"{f.weight}: {f.sentence}" for f in verdict.findings),
        suspects=(*(s.sentence for s in shape.suspects), *(m.sentence for m in shape.misfits)),
        caveats=(*readings.caveats, *shape.caveats),
        worth=tuple(
            worth.sentence(head)
            for worth in worth_of_more(readings, head, shape)[:WORTH_SHOWN]
            if worth.before - worth.after > WORTH_TELLING
        ),
        understood=said_back(readings),
        crown=verdict.crown,
        height_left=verdict.height_left,
    )


def shape_drawn(dossier: Dossier, form: str) -> bytes:
    """Return the deck as a height map and the cam line with its band, with the readings on them, as file bytes.

    Args:
        dossier: the head.
        form: "svg", "png" or "pdf".
    """
    from straighten.sheet.shape_figures import shape_drawing

    readings = dossier.survey
    return shape_drawing(readings, dossier.head, fit_shape(readings, dossier.head), form)
