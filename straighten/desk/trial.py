"""Try a set-up: what it would do to a head of a known bow, by the nominal model and with its spread."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np

from straighten.belief.priors import priors_for, response_of
from straighten.clamp import Clamped, Section, section_of
from straighten.desk.setup_file import bows_before, head_path, heated_before, heats_of, setup_file
from straighten.desk.words import overloads, refuse_broken
from straighten.filecheck import load_text, parse_toml, system_of
from straighten.head import read_head
from straighten.head.records import Head
from straighten.heat import FRESH, HeatStroke, Relaxed, ageing, nominal
from straighten.heat.lines import SNUG
from straighten.heat.safety import cost_lines, cost_plain, heat_cost
from straighten.heat.treatment import kept_off
from straighten.plan.forecast import left_after, run_pass
from straighten.plan.records import PassSetup
from straighten.quantiles import Floats
from straighten.shape.modes import INDEX, STATE
from straighten.sheet.setups import RoundTrial, SectionTrial, SpotTrial, TrialReport
from straighten.sobol import sobol_normal
from straighten.units import show

LINES = ("deck edges", "deck centre", "cam face edges", "cam face centre")  # in the order of `Relaxed.lines`
UNBENT = f"The clamp holds less than {1e3 * SNUG:g} mm of bend: there is no share of it to tell."
SPREAD_DRAWS = 512
SEED = 47


def try_setup(path: Path) -> TrialReport:
    """Return what the set-up of a file would do.

    Raises:
        BadInput: the set-up or the head file makes no sense.
        OutsideModel: the clamp cannot reach the gap.
    """
    where = str(path)
    data = parse_toml(load_text(path), where)
    file = setup_file(data, where=where, system=system_of(data, where))
    head = read_head(head_path(file, path))
    head = replace(head, system=system_of(data, where, head.system))  # told in the units that were typed
    heats = heats_of(file, head, where)
    for setup in heats:
        refuse_broken(head, setup, where)
    section = section_of(head)
    rounds, dangers, words = _rounds(
        head, section, (heated_before(file, head, where), heats), bows_before(file, where)
    )
    return TrialReport(
        head=head.name,
        system=head.system,
        section=SectionTrial(
            bending_stiffness=section.EI, shear_stiffness=section.kGA, neutral_axis=section.neutral_axis
        ),
        rounds=tuple(rounds),
        dangers=dangers,
        caveats=(*words, *head.assumed),
    )


def _rounds(
    head: Head,
    section: Section,
    heats: tuple[tuple[PassSetup, ...], tuple[PassSetup, ...]],
    bows: tuple[float, float],
) -> tuple[list[RoundTrial], tuple[str, ...], tuple[str, ...]]:
    """Return the rounds, what forbids them, and every word of caution."""
    state = np.zeros((1, len(STATE)))
    state[0, INDEX["deck_bow"]], state[0, INDEX["cam_bow"]] = bows
    response = nominal()
    lines = {line: bows[0] if line.startswith("deck") else bows[1] for line in LINES}
    priors = priors_for(head)
    u = sobol_normal(SPREAD_DRAWS, len(priors) + 1 + len(STATE), SEED)
    many, spread = response_of(priors, u), u[:, len(priors) :]
    cloud = np.repeat(state, SPREAD_DRAWS, axis=0)
    before, wanted = heats
    past, aged = FRESH, 0.0
    for setup in before:
        past = run_pass(head, section, state, response, setup, past)[1].left
    done: list[RoundTrial] = []
    dangers: list[str] = []
    words: list[str] = []
    for number, heat in enumerate(wanted, start=1):
        setup = replace(heat, soak=heat.soak and replace(heat.soak, aged_before=heat.soak.aged_before + aged))
        clamped, relaxed = run_pass(head, section, state, response, setup, past)
        overloaded = tuple(f"TOO MUCH, do not clamp so: {told}" for told in overloads(head, clamped, setup))
        kept_off_here = tuple(_kept_off(head, setup))
        relaxed = replace(relaxed, caveats=(*overloaded, *relaxed.caveats))
        falls = zip(LINES, lines.values(), relaxed.lines[0].tolist(), strict=True)
        after = {line: b - fall for line, b, fall in falls}
        spread_out = run_pass(head, section, cloud, many, setup, past)[1]
        cloud = left_after(cloud, spread_out.set_state, many, spread, spread_out.again)
        done.append(_round(head, number, (setup, clamped, relaxed), (lines, after), cloud))
        state, lines, past = state - relaxed.set_state, after, relaxed.left
        aged += 0.0 if heat.soak is None else ageing(heat.soak)
        dangers += (*overloaded, *kept_off_here, *_out_of_straight(head, bows, after))
        words += (*kept_off_here, *relaxed.caveats)
    return done, tuple(dict.fromkeys(dangers)), tuple(dict.fromkeys(words))


def _round(
    head: Head,
    number: int,
    done: tuple[PassSetup, Clamped | None, Relaxed],
    lines: tuple[dict[str, float], dict[str, float]],
    cloud: Floats,
) -> RoundTrial:
    setup, clamped, relaxed = done

    def pair(name: str) -> tuple[float, float]:
        low, high = np.quantile(cloud[:, INDEX[name]], [0.1, 0.9])
        return float(low), float(high)

    bow = INDEX["deck_bow"]
    share = float(relaxed.kept_share[0])
    told = clamped is not None and np.isfinite(share)
    cost = heat_cost(head, section_of(head), setup.spots) if setup.spots else None
    return RoundTrial(
        number=number,
        before=lines[0],
        after=lines[1],
        bend=None if clamped is None else float(clamped.bend[0]),
        middle_height=None if clamped is None else float(clamped.middle_height[0]),
        gap=None if clamped is None else float(clamped.gap[0].mean()),
        over_bend=None if clamped is None else float(clamped.over_bend[0]),
        force=None if clamped is None else float(clamped.total_force[0]),
        spots=tuple(_spot(head, (setup, relaxed), k) for k in range(len(setup.spots))),
        spots_set=float(relaxed.spots_part[0, bow]),
        kept_set=float(relaxed.kept_part[0, bow]),
        kept_share=share if told else None,
        movement=float(relaxed.held[0]) if told else None,
        deck_after_range=pair("deck_bow"),
        cam_after_range=pair("cam_bow"),
        hardness=(float(np.min(relaxed.hardness_after)), float(np.max(relaxed.hardness_after))),
        heat_cost=None if cost is None else cost_plain(cost),
        costs=() if cost is None else cost_lines(cost, head.system),
        caveats=relaxed.caveats if told or clamped is None else (*relaxed.caveats, UNBENT),
    )


def _out_of_straight(head: Head, bows: tuple[float, float], after: dict[str, float]) -> Iterator[str]:
    """Yield which of deck and cam line a round bends past straight, or the wrong way, to beyond its limit; without the spread."""
    parts = (("deck", head.limits.deck_overall.value), ("cam line", head.limits.cam_line.value))
    for (part, limit), bow, line in zip(parts, bows, ("deck centre", "cam face centre"), strict=True):
        end = after[line]
        far, was, allowed = (show(abs(bow_or_limit), head.system) for bow_or_limit in (end, bow, limit))
        if abs(end) > limit and end * bow <= 0:
            yield f"Too strong: it bends the {part} {far} past straight, and {allowed} is the limit."
        elif abs(end) > max(limit, abs(bow)):
            yield f"The wrong way: it bends the {part} from {was} to {far} out of straight, and {allowed} is the limit."


def _kept_off(head: Head, setup: PassSetup) -> Iterator[str]:
    """Yield the places of a set-up where the head must not be heated."""
    for one in setup.spots:
        if (why := kept_off(head, one)) is not None:
            kind = "stroke" if isinstance(one, HeatStroke) else "spot"
            yield f"Do not heat the {kind} at {show(one.station, head.system, big=True)}, {one.side} side: {why}."


def _spot(head: Head, done: tuple[PassSetup, Relaxed], k: int) -> SpotTrial:
    setup, relaxed = done
    one, kink, length = setup.spots[k], float(relaxed.kinks[0, k]), head.casting.length
    near = min(one.station, length - one.station)
    return SpotTrial(
        station=one.station, side=one.side, peak=relaxed.peaks[k], power=relaxed.powers[k], kink=kink,
        fall=kink * min(near, length / 2) / 2, kind="stroke" if isinstance(one, HeatStroke) else "spot",
    )  # fmt: skip
