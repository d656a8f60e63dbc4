"""What the sanding plan says in words: the next run, what to see, how to do it, what it does to the engine."""

from __future__ import annotations

import math
from collections.abc import Iterator
from statistics import fmean

from straighten.decide.outlook import HOURS_TO_HAND_ON
from straighten.errors import counted, in_shell
from straighten.head.records import Head
from straighten.readings import Readings
from straighten.readings.records import RIM
from straighten.sanding.consequences import WEDGE, Consequences
from straighten.sanding.face import ALL_CLEAN
from straighten.sanding.lap import HOW_TO_CHECK, LONGER, MICROINCH, Grit, chance_of_finish, roughness_range
from straighten.sanding.learning import RunOutlook, sheets_for
from straighten.sanding.plan import SandingPlan
from straighten.sanding.rate import SHEET_LIFE, WEAR_SPREAD, Check
from straighten.shape import Shape
from straighten.sheet.plain import Triple
from straighten.sheet.sanding import Effect
from straighten.sources import Cited
from straighten.units import INCH, POUND_FORCE, System, show, show_range, turned

UNREAD_TWIST = 40e-6  # a twist known no better than this has not been read [m]


def state_sentence(head: Head, plan: SandingPlan, checks: tuple[Check, ...]) -> str:
    """Return in one sentence whether to go on, and why."""
    sanding, system = plan.sanding, head.system
    allowed = show(max(plan.allowed, 0.0), system)
    if sanding.state == "removal limit":
        need = show(sanding.quantile(sanding.to_go, 0.5), system)
        return (
            f"Stop: to be 99 % sure that no more than the {allowed} allowed comes off, not even ten more strokes may be planned; "
            f"about {need} would still have to go. Straighten more, or hand the head on."
        )
    if sanding.state == "flat enough":
        if plan.depth[1] <= 0 and not checks:
            return (
                "Nothing to sand: the deck is already inside its limit with room for the surface's own error."
            )
        goal = "the whole face shines" if plan.goal == "clean-up" else "the hollow left is inside the limit"
        finer = "Finer papers, wash" if len(plan.grits) > 1 else "Wash"
        return f"Stop: flat enough, {goal}. {finer}, then a full survey."
    share = 100 * plan.fits
    word = (
        f"; the depth has a {share:.0f} % chance to stay inside the {allowed} allowed" if share < 99 else ""
    )
    return f"Take {show(plan.depth[1], system)} off the highest places, range {show_range(plan.depth[0], plan.depth[2], system)}{word}."


def heights_due(readings: Readings, checks: tuple[Check, ...]) -> tuple[str, ...]:
    """Return what to measure before the first stroke, so that falls can be read later."""
    known = {height.place for height in readings.heights}
    missing = [place for place in RIM if place not in known]
    if checks or not missing:
        return ()
    return (
        f"Before the first stroke measure the overall height at the {', '.join(missing)} with the micrometer, mark the places, "
        "and enter them under [heights] in a survey: without them the next count rests on what shines alone.",
    )


def next_run(
    head: Head, plan: SandingPlan, outlook: RunOutlook, grit: Grit, *, first: tuple[str, ...] = ()
) -> tuple[str, ...]:
    """Return the next run of strokes and where to stop it sooner, after what has to be done `first`."""
    sanding = plan.sanding
    count = sanding.next_strokes
    if not count:
        return ()
    sheets = sheets_for(count)
    low, middle, high = sanding.quantiles(sanding.strokes)
    return (
        *mill_first(head, plan, middle),
        *first,
        (
            f"{count} strokes, there and back, with {grit.name} on {counted(sheets, 'fresh sheet')} (a new one "
            f"about every {SHEET_LIFE.value:.0f}); then wash, look, measure, log."
        ),
        _when_to_stop(plan, head.system),
        f"Strokes to the goal from here: about {_count(middle)}, range {_count(low)} to {_count(high)}.",
        (
            f"Done so, the risk is under 1 % to pass the {show(plan.allowed, head.system)} allowed: 99 % of the belief "
            f"stays under {show(outlook.deepest, head.system)}."
        ),
    )


def _when_to_stop(plan: SandingPlan, system: System) -> str:
    stop = plan.sanding.stop
    if stop.share >= ALL_CLEAN:
        more = "" if plan.goal == "clean-up" else ", which is more than this goal asks for"
        return f"Look at the pen grid every 50 to 100 strokes; stop at the latest once the whole face shines{more}."
    guard = (
        "" if math.isinf(stop.fall) else f", or the micrometer finds {show(stop.fall, system)} gone anywhere"
    )
    return (
        "Look at the pen grid after 10 strokes, then each time a quarter later and at last every 50; stop as soon as "
        f"about {100 * stop.share:.0f} % of the face shines{guard}: then measure, the first check tells how fast this "
        "paper cuts in your hands. The count above is the most, not the aim."
    )


def _count(value: float) -> str:
    if value >= 100_000:
        return "over 100000"
    digits = max(len(str(int(value))) - 2, 0)
    return str(round(value, -digits).__int__())


def expected(head: Head, plan: SandingPlan, outlook: RunOutlook) -> tuple[str, ...]:
    """Return what the next check should show."""
    if not plan.sanding.next_strokes:
        return ()
    share = [100 * value for value in outlook.share]
    return (
        f"shines: {share[1]:.0f} % of the face, range {share[0]:.0f} to {share[2]:.0f} %   [______]",
        f"gap left under the straightedge: {show_range(outlook.left[0], outlook.left[2], head.system)}   [______]",
        (
            f"height at the corners, mean, less by {show_range(outlook.dropped[0], outlook.dropped[2], head.system)}; measure the "
            "middles of both edges too (micrometer, the same six places as before; this teaches most)   [______]"
        ),
    )


def shine(head: Head, plan: SandingPlan, shape: Shape) -> tuple[str, ...]:
    """Return where it shines first and last, and what would make that surer."""
    found = plan.shine
    lines = [f"Expect {found.words} to shine first, {found.last} last."]
    if not found.sure:
        lines.append("The readings do not settle this: believe the pen grid.")
    if shape.sd("twist") > UNREAD_TWIST:
        reach = show(2 * shape.sd("twist"), head.system)
        lines.append(
            f"Twist has not been read: it may add {reach} and more. Two readings along the diagonals, or the four corners on the "
            "surface, would narrow depth and strokes most."
        )
    return tuple(lines)


def surface(head: Head, plan: SandingPlan) -> tuple[str, ...]:
    """Return how flat the surface must be, how flat it is, how to find out."""
    found, system = plan.surface, head.system
    low, high = found.range()
    lines = [
        f"Wanted: flat within {show(plan.wanted, system)} over the head's size, a third of the deck's limit (common practice, no source).",
        f"In use: {found.name}, {_micrometres(found.middle)}, range {_micrometres(low)} to {_micrometres(high)} ({found.source}).",
    ]
    if found.bow is not None and abs(found.bow) > 1e-6:
        form, comes_out = ("hollow", "crowned") if found.bow > 0 else ("crowned", "hollow")
        lines.append(
            f"It is {form} by {_micrometres(abs(found.bow))} over the head's length: the head will come out {comes_out} by as much."
        )
    if high > plan.wanted:
        lines.append("NOT FLAT ENOUGH, or not known to be: check it before you sand on it.")
    need = LONGER.value * head.casting.length
    if found.length is None or found.length < need:
        lines.append(
            f"Longer than the head by half, {show(need, system, big=True)}, is best; shorter means shorter strokes."
        )
    return (*lines, *(() if found.measured else HOW_TO_CHECK))


def _micrometres(value: float) -> str:
    return f"{1e3 * value:.3f} mm"


def papers(plan: SandingPlan) -> tuple[str, ...]:
    """Return the papers in order and what the gasket wants."""
    wanted = plan.wanted_finish
    last = plan.grits[-1]
    low, high = roughness_range(last.size)
    lines = [
        " then ".join(f"{g.name}, grain {1e6 * g.size:.0f} um" for g in plan.grits)
        + " (ISO 6344 P grades; the same number on a CAMI paper is another grain)",
        (
            f"The {wanted.gasket} gasket wants Ra {_ra(wanted.low)} to {_ra(wanted.high)}, allowed "
            f"{_ra(wanted.least) if wanted.least else 'any smoother'} to {_ra(wanted.most)}: {wanted.note}"
        ),
        (
            f"{last.name} leaves Ra {_ra(low)} to {_ra(high)}, {100 * chance_of_finish(last.size, wanted):.0f} % likely inside what is "
            "allowed: hold a comparison plate or a meter to it, the number on the paper decides nothing"
        ),
    ]
    if plan.allowance:
        lines.append(
            f"The finer papers take about {_micrometres(plan.allowance)} more, to clear the first one's scratches."
        )
    return tuple(lines)


def _ra(value: float) -> str:
    return f"{1e6 * value:.2f} um ({value / MICROINCH:.0f} uin)"


def learned(plan: SandingPlan, checks: int, system: System) -> tuple[str, ...]:
    """Return what is known of the removal rate and why."""
    low, middle, high = plan.sanding.quantiles(plan.sanding.factors.volume_rate)
    metric = (
        f"{1e9 * middle:.2f} mm3 a stroke with fresh paper, range {1e9 * low:.2f} to {1e9 * high:.2f} mm3"
    )
    inch = f"{middle / INCH**3:.6f} in3 a stroke with fresh paper, range {low / INCH**3:.6f} to {high / INCH**3:.6f} in3"
    shown = metric if system == "mm" else f"{inch} ({metric})"
    if not checks:
        factor = math.exp(1.645 * WEAR_SPREAD.value)
        source = "Nothing logged yet: Preston's law with Rabinowicz's wear figures says"
        return (
            f"{source} {shown}, good to a factor of {factor:.0f}; so the first run is short of the goal.",
        )
    return (f"After {counted(checks, 'logged run')}: {shown}.",)


_Told = tuple[str, float | None, Triple, str]  # key of a figure, value before, 10, 50, 90 % after, sentence


def figures(head: Head, found: Consequences) -> tuple[Effect, ...]:
    """Return the consequences as figures with their sentences."""
    return tuple(
        Effect(key=key, before=before, after=after, sentence=turned(words, head.system))
        for key, before, after, words in _figures(head, found)
    )


def _figures(head: Head, found: Consequences) -> Iterator[_Told]:
    yield from _heights(head, found)
    yield from _cylinders(head, found)
    if found.retard is not None:
        cam = _scaled(found.retard, 180 / math.pi)
        words = (
            f"cam falls back {cam[1]:.2f} degrees of the CAM = {2 * cam[1]:.2f} degrees of the CRANK, range {cam[0]:.2f} to "
            f"{cam[2]:.2f} cam, {2 * cam[0]:.2f} to {2 * cam[2]:.2f} crank"
        )
        yield "cam_retard_cam_deg", 0.0, cam, words
        yield "cam_retard_crank_deg", 0.0, _scaled(cam, 2.0), ""
    if found.slack is not None:
        slack = _scaled(found.slack, 1e3)
        words = f"{head.engine.drive} slacker by {slack[1]:.2f} mm of its length: set the tensioner anew"
        yield "belt_slack_mm", 0.0, slack, words
    yield from _valves(head, found)
    yield from _gaskets(head, found)
    sink = _scaled(found.sink, 1e3)
    words = f"to give the volume back, valves would be sunk by about {sink[1]:.2f} mm: twice the cut (a French shop's page; seen)"
    yield "valve_sinking_mm", None, sink, words


def _scaled(triple: Triple, factor: float) -> Triple:
    return triple[0] * factor, triple[1] * factor, triple[2] * factor


def _fine(triple: Triple) -> str:
    return f"{1e3 * triple[1]:.2f} mm, range {1e3 * triple[0]:.2f} to {1e3 * triple[2]:.2f} mm"


def _heights(head: Head, found: Consequences) -> Iterator[_Told]:
    for name, (before, after) in found.corners.items():
        words = f"height {name}: {1e3 * before:.2f} mm before, {_fine(after)} after"
        yield f"height_{name.replace(' ', '_')}_mm", 1e3 * before, _scaled(after, 1e3), words
    before, root = found.cam_root
    words = f"deck to cam line: {1e3 * before:.2f} mm before, {_fine(root)} after"
    yield "deck_to_cam_line_mm", 1e3 * before, _scaled(root, 1e3), words
    if found.over_least is not None and head.limits.least_height is not None:
        limit = head.limits.least_height
        word = "holds" if found.over_least[0] >= 0 else "IN DOUBT" if found.over_least[1] >= 0 else "FAILS"
        words = f"over the least height {1e3 * limit.value:.2f} mm ({limit.source}): {_fine(found.over_least)}: {word}"
        yield "over_least_height_mm", None, _scaled(found.over_least, 1e3), words

    word = "holds" if found.wedge[1] <= WEDGE.value else "MORE THAN THAT"
    before_it = None if found.wedge_before is None else 1e3 * found.wedge_before
    words = f"corners differ after by {_fine(found.wedge)}; {WEDGE.source} ({WEDGE.mark}): {word}"
    yield "wedge_mm", before_it, _scaled(found.wedge, 1e3), words


def _cylinders(head: Head, found: Consequences) -> Iterator[_Told]:
    """Yield what each cylinder loses, and how they differ: a wedge or a crown takes more off some bores than off others."""
    before = found.ratio_before
    for one in found.cylinders:
        words = f"cylinder {one.number}: {show(one.cut[1], head.system)} off over its bore"
        if one.lost is not None:
            words += f", chamber smaller by {1e6 * one.lost[1]:.2f} cm3"
        if one.ratio is None or before is None:
            yield f"cut_cylinder_{one.number}_mm", 0.0, _scaled(one.cut, 1e3), words
            continue
        low, ratio, high = one.ratio
        words += f", compression {before:.2f} to {ratio:.2f} (range {low:.2f} to {high:.2f})"
        yield f"compression_ratio_cylinder_{one.number}", before, one.ratio, words
    cuts = [cylinder.cut[1] for cylinder in found.cylinders]
    if len(cuts) < 3:
        return
    ends, middle = fmean((cuts[0], cuts[-1])), fmean(cuts[1:-1])
    words = (
        f"cylinders differ: the two end ones lose {show(ends, head.system)} on average, the middle ones "
        f"{show(middle, head.system)}; front {show(cuts[0], head.system)}, rear {show(cuts[-1], head.system)}"
    )
    ratios = [cylinder.ratio[1] for cylinder in found.cylinders if cylinder.ratio is not None]
    if ratios:
        words += f"; compression {min(ratios):.2f} to {max(ratios):.2f} from one to another"
    spread = 1e3 * (max(cuts) - min(cuts))
    yield "cut_spread_mm", 0.0, (spread, spread, spread), words


def _valves(head: Head, found: Consequences) -> Iterator[_Told]:
    for number, valve in enumerate(found.valves, 1):
        degrees = math.degrees(valve.angle)
        lost = _scaled(valve.lost, 1e3)
        words = f"{valve.name} valve at {degrees:.0f} degrees: nearer to the piston by {lost[1]:.3f} mm along its stem"
        due = f"{show(valve.least.value, head.system)} is due ({valve.least.told})"
        if valve.after is None:
            words += f"; clearance not given, {due}"
        else:
            words += f", {_fine(valve.after)} left; {due}: {'holds' if valve.holds else 'TOO LITTLE'}"
        yield f"valve_{number}_nearer_mm", 0.0, lost, words


def _gaskets(head: Head, found: Consequences) -> Iterator[_Told]:
    for number, choice in enumerate(found.gaskets, 1):
        words = f"gasket {show(choice.thickness, head.system)}: {_gasket_words(head, choice.left)}"
        if choice.ratio is not None:
            words += f", compression {choice.ratio:.2f}"
        if choice.retard is not None:
            degrees = math.degrees(choice.retard)
            words += f", cam {degrees:.2f} degrees (crank {2 * degrees:.2f})"
        left = 1e3 * choice.left
        yield f"gasket_{number}_cut_left_mm", None, (left, left, left), words


def _gasket_words(head: Head, left: float) -> str:
    if left >= 0:
        return f"{show(left, head.system)} of the cut is not made good"
    return f"makes good the cut and {show(-left, head.system)} more, the cam then runs early"


def assumed(head: Head, plan: SandingPlan) -> tuple[str, ...]:
    """Return what stands on a guess."""
    area, load = plan.ground.area, plan.ground.load
    metric = f"{1e4 * area:.0f} cm2, weight on the paper {load:.0f} N"
    inch = f"{area / INCH**2:.0f} in2, weight on the paper {load / POUND_FORCE:.1f} lbf"
    lines = [
        f"metal in the deck face {metric if head.system == 'mm' else inch}, face {plan.ground.hardness:.0f} HB",
        "one stroke is half a metre of sliding in all; paper keeps a fifth of its bite when worn (from memory)",
    ]
    if not plan.surface.measured:
        lines.append("the surface's error is not measured")
    return (*lines, *(a for a in head.assumed if "deck" in a or "removal" in a or "height" in a))


# --- by machine instead of by hand ----------------------------------------------------------------------------

MOST_STROKES = Cited(
    2000, "", "by hand in one job; beyond it a face is milled sooner", "common practice, no source"
)
STROKE_TIME = Cited(2.0, "s", "one stroke there and back", "assumed")
SHEET_TIME = Cited(180.0, "s", "wash, look and lay a fresh sheet", "assumed")


def mill_first(head: Head, plan: SandingPlan, strokes: float) -> tuple[str, ...]:
    """Return the advice to have the face milled, with what both ways cost; nothing where the strokes are few."""
    if strokes <= MOST_STROKES.value:
        return ()
    prices, depth = head.prices, min(plan.depth[1], max(plan.allowed, 0.0))
    most = ", all that may come off," if plan.depth[1] > plan.allowed else ""
    hours = (strokes * STROKE_TIME.value + sheets_for(math.ceil(strokes)) * SHEET_TIME.value) / 3600
    hand = prices.hour * hours
    shop = prices.hour * HOURS_TO_HAND_ON.value + prices.removal_per_tenth_mm * depth / 1e-4
    whose = "assumed prices" if {"hour", "removal_per_tenth_mm"} & set(prices.assumed) else "your prices"
    return (
        f"Mill it first: about {round(strokes, -2):.0f} strokes lie ahead, {hours:.0f} h and {sheets_for(math.ceil(strokes))} sheets, "
        f"{hand:.0f} by hand against {shop:.0f} to have {show(depth, head.system)}{most} faced and fetch it ({whose}). Then measure "
        f"anew: straighten measure {in_shell(head.name)}. If you sand all the same:",
    )
