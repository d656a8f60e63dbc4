"""What a survey says in bench order: what forbids, what is unknown, how the head is bent and which way it goes back."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from straighten.head.records import Head, metal_left
from straighten.readings.records import Readings
from straighten.shape.findings import Assessment, Direction, Finding, Pattern, casting_findings
from straighten.shape.fit import Shape
from straighten.sources import Cited
from straighten.units import show, show_range

DIRECTION_WORDS: dict[Direction, str] = {
    "middle down": "Deck hollow in the middle, cam line high: shims under the ENDS, pull the MIDDLE down.",
    "ends down": "Deck crowned in the middle, cam line low: shims under the MIDDLE, pull the ENDS down.",
    "none": "Nothing is to be bent.",
}
SKIMMED_WORDS: dict[Direction, str] = {
    "middle down": "Cam line high in the middle, deck already cut flat: shims under the ENDS, pull the MIDDLE down.",
    "ends down": "Cam line low in the middle, deck already cut flat: shims under the MIDDLE, pull the ENDS down.",
    "none": "Nothing is to be bent.",
}
VAGUE = Cited(
    0.08e-3,
    "m",
    "a bow not known to within the border between facing and straightening decides nothing",
    "assumed",
)
FLAT_SHARE = Cited(
    0.4, "of the cam's bow", "a deck with less bow than this has been cut while bent", "assumed"
)
FEWEST_TOWERS = 3  # a line is judged over (geometry)


def pattern_of(head: Head, shape: Shape, *, heated: bool = False) -> Pattern:
    """Return what deck and cam line are together.

    Deck hollow and cam line high, or both the other way: the whole casting is bent. A flat deck under a bent cam
    line was skimmed while bent. A bent deck under a straight cam line sank locally, or the cams were bored since.
    Bent is what stands outside its limit. After heat a deck may stand crowned under a cam line still high: it was flatter
    from the start, and both came down together.
    """
    deck, cam = shape.value("deck_bow"), shape.value("cam_bow")
    if shape.cam_readings == 0 or shape.deck_readings == 0:
        return "not known"
    cam_bent = abs(cam) > head.limits.cam_line.value
    deck_bent = abs(deck) > head.limits.deck_overall.value
    if not cam_bent and not deck_bent:
        return "straight"
    if cam_bent and deck_bent and deck * cam < 0 and _sure_signs(shape) and not heated:
        return "opposite bows"
    if not cam_bent:
        return "local collapse"
    if abs(deck) < FLAT_SHARE.value * abs(cam) or (heated and deck * cam < 0):
        return "skimmed while bent"
    return "whole-body bow" if cam > 0 else "reverse bow"


def _sure_signs(shape: Shape) -> bool:
    return all(abs(shape.value(n)) > 2 * shape.sd(n) for n in ("deck_bow", "cam_bow"))


def direction_of(pattern: Pattern, shape: Shape) -> Direction:
    """Return which way the head is to be bent, by its cam line."""
    if pattern in ("whole-body bow", "reverse bow", "skimmed while bent"):
        return "middle down" if shape.value("cam_bow") > 0 else "ends down"
    return "none"


def twist_finding(head: Head, shape: Shape) -> Iterator[Finding]:
    """Yield whether the head is twisted further than bending can help, or whether that is not known.

    Twist is told as it shows on a plate: the gap under either free corner while the head lies balanced on the other
    two, which is also the flatness that twist alone leaves: twice the lift of a corner.
    """
    limit = head.thresholds.largest_twist
    low, high = sorted(2 * abs(v) for v in shape.range("twist"))
    if shape.range("twist")[0] * shape.range("twist")[1] < 0:
        low = 0.0
    text = f"Twist {show_range(low, high, head.system)} under the free corners"
    if shape.deck_readings == 0:
        return
    if low > limit.value:
        yield Finding(
            kind="twist",
            weight="advised against",
            holds=True,
            sentence=f"{text}: more than {show(limit.value, head.system)}, it seldom comes out.",
            value=2 * abs(shape.value("twist")),
            unit="m",
            threshold=limit,
        )
    elif high > limit.value:
        yield Finding(
            kind="twist unknown",
            weight="unknown",
            sentence=f"{text}: it may or may not be over {show(limit.value, head.system)}.",
            do=(
                "Try blades under its corners on a flat plate, or read both diagonals (common practice, no source)."
            ),
            value=high,
            unit="m",
            threshold=limit,
        )
    else:
        yield Finding(kind="twist", weight="fine", sentence=f"{text}.", value=high, unit="m", threshold=limit)


def size_finding(head: Head, shape: Shape) -> Iterator[Finding]:
    """Yield a bow that is too large for the bench, or one that the trade would only face."""
    name = max(("deck_bow", "cam_bow"), key=lambda n: abs(shape.value(n)))
    bow = abs(shape.value(name))
    text = f"{'Deck' if name == 'deck_bow' else 'Cam line'} bow {show(bow, head.system)}"
    trade = head.thresholds
    if bow > trade.largest_bow.value:
        yield Finding(
            kind="bow too large",
            weight="advised against",
            holds=True,
            sentence=f"{text}: more than {show(trade.largest_bow.value, head.system)}, a matter for a specialist.",
            value=bow,
            unit="m",
            threshold=trade.largest_bow,
        )
        return
    facing = " The trade faces less than that without bending." if bow < trade.straighten_from.value else ""
    yield Finding(
        kind="bow",
        weight="fine",
        sentence=f"{text}; the trade straightens from {show(trade.straighten_from.value, head.system)} up.{facing}",
        value=bow,
        unit="m",
        threshold=trade.straighten_from,
    )


def knowledge_findings(head: Head, readings: Readings, shape: Shape) -> Iterator[Finding]:
    """Yield what must be measured (again) before anything is decided."""
    if shape.deck_readings == 0:
        yield _again("deck not measured", "The deck has no readings that tell its bow.")
    if len(head.towers) < FEWEST_TOWERS:
        yield _again("cam line not measured", "Two towers cannot show a bow. Name all towers under [cam].")
    elif shape.cam_readings == 0:
        yield _again(
            "cam line not measured",
            "The cam line has no readings: the deck alone may have been skimmed flat.",
        )
    yield from _bar_only(head, readings, shape)
    for suspect in shape.suspects:
        yield _again("suspect reading", suspect.sentence)
    deepest = head.limits.deck_overall.value + metal_left(head)
    twice = {line.title for line in readings.lines if line.sure}  # read by the person
    for misfit in shape.misfits:
        if misfit.part == "deck" and abs(misfit.off) > deepest and misfit.title not in twice:
            yield _again(
                "reading off", f"{misfit.sentence} Neither heat nor sanding takes a place so far off."
            )
            continue
        yield Finding(
            kind="reading off", weight="unknown", sentence=misfit.sentence, value=misfit.off, unit="m"
        )
    for name, what, count in (
        ("deck_bow", "Deck", shape.deck_readings),
        ("cam_bow", "Cam line", shape.cam_readings),
    ):
        low, high = shape.range(name)
        too_large = abs(shape.value(name)) > head.thresholds.largest_bow.value and low * high > 0
        if count and (high - low) / 2 > VAGUE.value and not too_large:
            yield _again(
                "bow too vague",
                f"{what} bow lies anywhere from {show_range(low, high, head.system)}: read more places, until "
                f"this range is under {show(2 * VAGUE.value, head.system)}.",
                (high - low) / 2,
                VAGUE,
            )


def _bar_only(head: Head, readings: Readings, shape: Shape) -> Iterator[Finding]:
    """Yield a word where only a bar told of the cam line: it knows how much, not which way."""
    ways = {
        line.mode for line in readings.lines if line.part == "cam" and not all(b.blank for b in line.brackets)
    }
    cam, deck = shape.value("cam_bow"), shape.value("deck_bow")
    if ways != {"bar"} or abs(cam) < head.thresholds.stop_bending.value:
        return
    text = f"Only a bar was used on the cam line: it is bent by {show(abs(cam), head.system)}, which way is not known"
    if abs(deck) < head.thresholds.stop_bending.value:
        yield _again(
            "cam line without a sign",
            f"{text}, and the deck does not tell either. Lay a straightedge in the bores.",
        )
    else:
        yield Finding(
            kind="cam line without a sign",
            weight="unknown",
            sentence=f"{text}; it is taken to bow the way the deck does.",
            value=abs(cam),
            unit="m",
        )


def _again(
    kind: str, sentence: str, value: float | None = None, limit: Cited[float] | None = None
) -> Finding:
    return Finding(
        kind=kind,
        weight="unknown",
        holds=True,
        sentence=sentence,
        do="Measure again.",
        value=value,
        unit="m" if limit else "",
        threshold=limit,
    )


def _disagreement(head: Head, readings: Readings, shape: Shape) -> Iterator[Finding]:
    if pattern_of(head, shape) != "opposite bows":
        return
    deck, cam = shape.value("deck_bow"), shape.value("cam_bow")
    hollow, high = "hollow" if deck > 0 else "crowned", "high" if cam > 0 else "low"
    text = (
        f"Deck {hollow} by {show(abs(deck), head.system)} but cam line {high} by {show(abs(cam), head.system)} in the "
        "middle: a bent casting shows both the same way"
    )
    if readings.agreed:
        yield Finding(
            kind="opposite bows",
            weight="advised against",
            holds=True,
            sentence=f"{text}. Bending would correct one and spoil the other. Line boring and facing are the usual way.",
            value=deck - cam,
            unit="m",
        )
    else:
        yield _again(
            "opposite bows",
            f"{text}. Did the straightedge rock, or is a sign turned? If it is right, say so in the survey "
            "(cam_and_deck_disagree_is_right = true).",
        )


def assess(
    head: Head,
    readings: Readings,
    shape: Shape,
    history: Sequence[Readings] = (),
    later: Sequence[Readings] = (),
    *,
    heated: bool = False,
) -> Assessment:
    """Return what the survey in hand says, with what earlier surveys told of the casting.

    A crack or magnesium told once counts until a later survey takes it back; hardness is compared with the first.
    `history` earlier surveys, oldest first; `later` surveys since that answer a question alone: a crack, magnesium,
    hardness; `heated` a pass has been done.
    """
    told = (*history, readings, *later)
    pattern = pattern_of(head, shape, heated=heated)
    direction = direction_of(pattern, shape)
    return Assessment(
        pattern=pattern,
        direction=direction,
        direction_words=(SKIMMED_WORDS if pattern == "skimmed while bent" else DIRECTION_WORDS)[direction],
        findings=(
            *casting_findings(head, told),
            *knowledge_findings(head, readings, shape),
            *(() if heated else _disagreement(head, readings, shape)),
            *twist_finding(head, shape),
            *size_finding(head, shape),
        ),
    )
