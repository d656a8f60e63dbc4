"""Go or no-go as a report: verdict, shape, limits, findings, and what does not fit."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from straighten.desk.deciding import whole_job_line
from straighten.desk.words import reckoned_on
from straighten.head.records import metal_left
from straighten.readings.said_back import as_seen, said_back
from straighten.shape import worth_of_more
from straighten.sheet.verdict import CheckReport, shape_lines

if TYPE_CHECKING:
    from straighten.desk.job import Job
    from straighten.head.records import Head
    from straighten.sheet.figures.shape import ShapePicture

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


def _shape_words(head: Head) -> dict[str, str]:
    """Return the words of the shape's numbers; where the cam line is reckoned on beyond its outer towers, that is said."""
    more = f"{_SHAPE_WORDS['cam_bow']} of the head, reckoned on beyond the outer towers"
    return {**_SHAPE_WORDS, **({"cam_bow": more} if reckoned_on(head) else {})}


def check_report(job: Job) -> CheckReport:
    """Return what the judgement says of the head, with every number that was looked at.

    Of a forbidden head, or one never measured, nothing is told but the reason and what to do.
    """
    judgement, head = job.judgement, job.head
    report = CheckReport(
        name=job.dossier.name,
        system=head.system,
        verdict=judgement.verdict,
        reason=judgement.reason,
        decided_by=judgement.decided_by,
        findings=judgement.sentences(),
        go_on=judgement.go_on,
        command=judgement.command,
        metal_left=metal_left(head),
        judgement=judgement.to_plain(),
    )
    return report if judgement.goal is None else _with_shape(report, job)


def _with_shape(report: CheckReport, job: Job) -> CheckReport:
    """Return the report with a measured shape; which way to pull only where it is to be pulled."""
    readings, shape, head = job.dossier.survey, job.shape, job.head
    worth = worth_of_more(readings, head, shape)[:WORTH_SHOWN]
    return replace(
        report,
        direction=job.assessment.direction_words if job.judgement.next_step == "heat" else "",
        pattern=job.assessment.pattern,
        shape=shape_lines(shape, _shape_words(head)),
        straightness=shape.straightness_sentences(head.system),
        limits=tuple(limit.sentence(head) for limit in shape.limits),
        suspects=(*(s.sentence for s in shape.suspects), *(m.sentence for m in shape.misfits)),
        caveats=(*readings.caveats, *shape.caveats),
        worth=tuple(one.sentence(head) for one in worth if one.before - one.after > WORTH_TELLING),
        understood=said_back(readings),
        as_seen=as_seen(readings, head.system),
        whole_job=whole_job_line(job) if job.judgement.next_step == "heat" else None,
    )


def shape_picture(job: Job) -> ShapePicture:
    """Return the last survey as a picture: the deck as a height map, the cam line with its band."""
    from straighten.sheet.figures.shape import ShapePicture

    return ShapePicture(readings=job.dossier.survey, head=job.head, shape=job.fitted)
