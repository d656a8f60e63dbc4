"""The card as text is enough to place the spots and to time them, in both unit systems."""

import re
from dataclasses import replace

import pytest

from straighten.desk.kept import card_from_plain
from straighten.sanding.consequences import TradeRow
from straighten.sheet.card import KeepOffLine, Refusal
from straighten.sheet.card_text import card_text, own_unit, printed_text, refusal_text, short_text
from straighten.sheet.layout import fold_to, width
from straighten.sheet.pass_page import pass_page
from straighten.sheet.sanding import trade_table
from straighten.units import show, show_temperature, show_torque


def heat(card):
    """The part of the card that goes to the torch, unfolded."""
    part = re.search(r"3 HEAT.*?4 COOL", card_text(card), flags=re.DOTALL)
    return re.sub(r"\s+", " ", part.group())


def test_the_card_says_how_long_to_wait_from_spot_to_spot(sheet, found):
    """The plan heats a spot when the one before has lost its heat: its own start times tell the pause."""
    first, second = found.setup.spots[:2]
    pause = second.start - first.start - first.dwell
    assert pause == pytest.approx(60.0)
    assert "from spot to spot: flame off for 60 s" in heat(sheet.card)
    page = re.sub(r"<[^>]+>", "", pass_page(sheet))
    assert "From spot to spot: flame off for 60 s" in page


@pytest.mark.parametrize(("system", "rows", "zone"), [
    ("mm", "32.0 mm (1.26 in)", "16.0 mm (0.63 in) around 210.0 mm (8.27 in), both rows (oil drilling)"),
    ("inch", "1.26 in (32.0 mm)", "0.63 in (16.0 mm) around 8.27 in (210.0 mm), both rows (oil drilling)"),
])  # fmt: skip
def test_spots_can_be_placed_from_the_text_alone(sheet, system, rows, zone):
    text = heat(replace(sheet.card, system=system))
    assert f"rows: {rows} from the middle line" in text
    assert f"keep off: {zone}" in text


def test_a_zone_on_one_side_names_it(sheet):
    zone = KeepOffLine(station=0.1, side="inlet", radius=0.012, reason="")
    assert "keep off: 12.0 mm (0.47 in) around 100.0 mm (3.94 in), inlet" in heat(
        replace(sheet.card, keep_off=(zone,))
    )


def test_a_single_row_lies_on_the_middle_line(sheet):
    assert "row: on the middle line" in heat(replace(sheet.card, spot_rows=0.0))


def test_no_line_is_wider_than_the_paper(sheet):
    assert max(map(len, card_text(sheet.card).splitlines())) <= width()


def test_a_card_of_an_earlier_version_tells_no_pause_it_does_not_know(sheet):
    plain = sheet.card.to_plain()
    for key in ("spot_pause_s", "spot_rows_mm", "keep_off"):
        del plain[key]
    text = heat(card_from_plain(plain))
    assert "from spot to spot" not in text
    assert "NEVER ABOVE" in text


# --- on the screen -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("system", ["mm", "inch"])
@pytest.mark.parametrize("pairs", [1, 6])
def test_the_card_on_the_screen_takes_at_most_40_lines(sheet, system, pairs):
    """40 lines of 80: what a terminal of common size shows at once, with room for the prompt (the task's own figure).

    Six pairs of spots in four stages: the most that an invented head of 16.5 in was given.
    """
    card = replace(sheet.card, system=system)
    if pairs > 1:
        spots = tuple(
            replace(
                card.spots[0], order=n + 1, station=0.09 + 0.05 * (n // 2), side=("exhaust", "inlet")[n % 2]
            )
            for n in range(2 * pairs)
        )
        rung = card.ladder[0]
        blades = tuple(replace(rung.lines[1], goes=g) for g in (5e-4, 4e-4, 3.5e-4, 3e-4, 1.5e-4))
        places = ((1, 2), (3, 4, 5, 6), (7, 8, 9, 10), (11, 12))
        ladder = tuple(
            replace(rung, number=n, places=p, lines=(*blades[: 6 - n - (n > 1)], rung.lines[-1]))
            for n, p in enumerate(places, start=1)
        )
        card = replace(card, spots=spots, ladder=ladder, reserve=())
    text = short_text(card)
    assert len(text.splitlines()) <= 40
    assert max(map(len, text.splitlines())) <= width()


@pytest.mark.parametrize("columns", [60, 80, 120])
def test_nothing_that_is_to_be_done_is_left_out_on_a_narrow_screen(sheet, columns):
    fold_to(columns)
    text = short_text(sheet.card)
    fold_to(None)
    assert max(map(len, text.splitlines())) <= columns
    told = " ".join(text.split())
    for line in sheet.card.before:
        if not line.startswith("Told in the surveys"):
            assert own_unit(line.partition(" (common practice")[0]) in told
    for rung in sheet.card.ladder:
        assert f"{rung.number}. heat " in told
    assert own_unit(sheet.card.flame) in told


def test_the_screen_names_every_step_and_figure_of_the_work_in_one_unit(sheet):
    card = sheet.card
    text = " ".join(short_text(card).split())
    for step in ("0 BEFORE", "1 SHIMS", "2 TIGHTEN", "3 HEAT", "STAGES", "4 COOL", "5 RELEASE", "6 MEASURE"):
        assert step in text
    wanted = [show_torque(r.torque) for r in card.rounds] + [show(r.stops) for r in card.rounds if r.stops]
    wanted += [show(s.station, big=True) for s in (*card.spots, *card.reserve)] + [
        show_temperature(card.ceiling)
    ]
    assert all(quantity.split(" (")[0] in text for quantity in wanted)
    for rung in card.ladder:
        blades = ".*".join(show(line.goes).split()[0] for line in rung.lines if line.goes)
        assert re.search(rf"{rung.number}\. heat .*{blades}", text)
    assert "thou" not in text
    assert f"{len(card.cautions)} dangers to read before you begin: straighten plan {card.name} --all" in text


def test_the_whole_card_tells_cautions_reasons_and_what_was_assumed(sheet):
    text = " ".join(printed_text(sheet.card, whole=True).split())
    assert all(line in text for line in (*sheet.card.cautions, *sheet.card.assumed, *sheet.card.costs))


def test_the_card_says_that_the_bolts_are_gone_round_several_times_at_each_torque(sheet):
    """Read as rounds of the card, "3 times round" was one round too many or too few."""
    rounds = tuple(replace(turn, times_round=3) for turn in sheet.card.rounds)
    card = replace(sheet.card, rounds=rounds)
    assert ", each torque 3 times round: " in " ".join(short_text(card).split())
    assert "in turn, each torque 3 times round" in re.sub(
        r"<[^>]+>", "", pass_page(replace(sheet, card=card))
    )


def test_the_base_is_named_at_step_1_where_several_are_owned(sheet):
    text = " ".join(short_text(replace(sheet.card, base="60.0 mm (2.36 in) steel plate")).split())
    assert "1 SHIMS on your 60.0 mm steel plate, at 10.0 mm" in text
    page = re.sub(r"<[^>]+>", "", pass_page(replace(sheet, card=replace(sheet.card, base="rigid base"))))
    assert "on your rigid base, full width" in page
    assert "your" not in re.search(r"1 SHIMS.*", short_text(sheet.card)).group()


@pytest.mark.parametrize(("free", "told"), [
    (180.0, "unclamp and read 3 min after the last heat."), (120.0, "unclamp 2 min, read 3 min after the last heat."),
])  # fmt: skip
def test_both_waits_count_from_the_last_heat_and_the_same_one_is_said_once(sheet, free, told):
    card = replace(sheet.card, wait=180.0, unclamp_wait=free)
    assert f"4 COOL clamped, still air: {told}" in " ".join(short_text(card).split())
    assert told in re.sub(r"<[^>]+>", "", pass_page(replace(sheet, card=card)))


def test_a_likely_range_in_inches_is_not_turned_a_second_time(sheet):
    text = " ".join(card_text(replace(sheet.card, system="inch")).split())
    assert "likely" in text
    assert not re.search(r"\([^()]*\([^()]*(?:mm|thou)", text)


def test_a_refusal_ends_with_the_command_that_comes_next():
    told = {"verdict": "hand it on", "reason": "A crack.", "decided_by": "crack", "findings": ("A crack.",)}
    refusal = Refusal(name="pump-four", judgement={"command": "straighten check pump-four"}, **told)
    assert refusal_text(refusal).rstrip("\n").endswith("Next: straighten check pump-four")


def test_what_sanding_costs_stands_in_the_persons_own_unit():
    """25.4 mm to the inch, exactly (ISO 31-1)."""
    row = TradeRow(
        bow=50.8e-6,
        removal=101.6e-6,
        left=0.0919,
        allowed=True,
        cam_bow=25.4e-6,
        cam_deg=None,
        crank_deg=None,
        ratio_least=None,
        ratio_most=None,
    )
    mm, inch = (trade_table([row], system).splitlines() for system in ("mm", "inch"))
    assert mm[-1].split()[:4] == ["0.05", "0.03", "0.10", "91.90"]
    assert inch[-1].split()[:4] == ["2.0", "1.0", "4.0", "3.618"]
    assert "mm" not in " ".join(inch)
    assert [len(line) for line in (mm[-1], inch[-1])] == [len(mm[-1])] * 2
