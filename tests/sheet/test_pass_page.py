"""The pass page holds what the bench needs, in the order of the work, in both unit systems, read from the card alone."""

import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from itertools import combinations

import pytest

from straighten.desk.kept import card_from_plain
from straighten.sheet import markup
from straighten.sheet.card import Box, KeepOffLine, SoakLine, StackLine, UsedPlace
from straighten.sheet.layout import percent
from straighten.sheet.pass_page import pass_page
from straighten.sheet.plain import Range
from straighten.sheet.sketch import clamp_view, side_view, spot_view
from straighten.units import show, show_temperature, show_torque


def words(text):
    """The page's text as it is read, without markup, style and script."""
    body = re.sub(r"<style>.*?</style>|<script.*?</script>|<title>.*?</title>", "", text, flags=re.DOTALL)
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", body)).replace(" ,", ",").replace(" .", ".")


def test_the_steps_stand_in_the_order_of_the_work(sheet):
    headings = re.findall(r"<h2>(.*?)</h2>", pass_page(sheet))
    bare = [re.sub(r'<span class="tag">.*?</span>', "", heading) for heading in headings]
    titles = [heading.split("<")[0].strip() for heading in bare]
    work = ["Before you clamp", "Shims", "Tighten", "Heat", "Cool", "Release", "Expect", "Measure", "Then"]
    minded = ["Keep in mind"] if sheet.card.notes else []
    assert titles == [*work, *minded, "Why", "What the heat costs", "Assumed"]


def test_each_caution_stands_in_the_step_where_it_counts(sheet):
    """The dangers and the steps in which a person meets them: common practice, no source."""
    steps = re.split(r'<span class="tag">(\d)</span>', pass_page(sheet))
    told = dict(zip(map(int, steps[1::2]), map(words, steps[2::2]), strict=True))
    for at, word in (
        (2, "clamp holds tonnes"),
        (3, "Flashback"),
        (3, "no colour"),
        (3, "Never on valve seats"),
        (4, "Chalk HOT"),
        (4, "No water"),
    ):
        assert [n for n, text in told.items() if word in text] == [at]
    assert sheet.card.cautions


def test_a_card_of_before_tells_all_its_cautions_at_the_heat(sheet):
    steps = re.split(
        r'<span class="tag">(\d)</span>',
        pass_page(replace(sheet, card=replace(sheet.card, caution_steps=()))),
    )
    heat = words(steps[steps.index("3") + 1])
    assert all(line in heat for line in sheet.card.cautions)


def test_the_ladder_tells_each_stage_with_what_follows(sheet):
    text, card = words(pass_page(sheet)), sheet.card
    assert card.ladder
    for rung in card.ladder:
        for line in rung.lines:
            word = {0: "STOP", -1: "REREAD"}.get(line.do, f"stage {line.do}")
            blade = "none of them" if line.goes is None else " ".join(markup.split(show(line.goes, "mm")))
            assert f"{blade} {word}" in text


def test_the_crayon_pair_is_named_with_its_seconds(sheet):
    text, card = words(pass_page(sheet)), sheet.card
    low, high = (show_temperature(t).split(" C")[0] for t in (card.spots[0].peak, card.ceiling))
    assert re.search(
        rf"low crayon melts {low} °C .* at {card.spots[0].dwell:.0f} s: flame off NEVER ABOVE {high} °C .* high crayon stays; [\d.]+ s more would melt it",
        text,
    )


def test_the_blade_has_its_place(sheet):
    assert "Stand the blade at 210.0 mm (8.27 in), under exhaust edge, then inlet edge." in words(
        pass_page(sheet)
    )
    assert "BLADE" in drawn(clamp_view(sheet.card, sheet.sketch))


def test_the_result_to_expect_stands_with_its_limits_and_chances(sheet):
    text, card = words(pass_page(sheet)), sheet.card
    for after, limit, chance in (
        (card.deck_after, card.deck_limit, card.chance_deck), (card.cam_after, card.cam_limit, card.chance_cam),
    ):  # fmt: skip
        told = " ".join(words(drawn(part)).strip() for part in (
            markup.span(after, "mm"), markup.size(after.middle, "mm"), markup.size(limit, "mm"),
        ))  # fmt: skip
        assert f"{re.sub(r' +', ' ', told)} {percent(chance)}" in text
    assert f"Both inside: {percent(card.chance_inside)}" in text
    assert f"more than the limit: {percent(card.chance_overshoot)}" in text


def test_what_was_assumed_stands_on_the_page(sheet):
    text = words(pass_page(sheet))
    assert sheet.card.assumed
    assert all(line in text for line in sheet.card.assumed)


def test_both_systems_stand_beside_each_other(sheet):
    text, card = words(pass_page(sheet)), sheet.card
    wanted = [show_torque(r.torque) for r in card.rounds] + [show(r.stops) for r in card.rounds if r.stops]
    wanted += [show_temperature(card.ceiling).replace(" C", " °C").replace(" F", " °F")]
    for own, other in map(markup.split, wanted):
        assert f"{own} {other}" in text


def test_an_inch_card_prints_thou_first(sheet):
    text = words(pass_page(replace(sheet, card=replace(sheet.card, system="inch"))))
    own, other = markup.split(show(sheet.card.rounds[0].stops, "inch"))
    assert own.endswith("thou")
    assert f"{own} {other}" in text


def test_every_box_has_its_expected_value_beside_it(sheet):
    page = pass_page(sheet)
    boxes = [box for row in sheet.rows for box in row.boxes]
    assert len(boxes) == 5 * 3 + 5  # five stations on three deck lines, five cam towers
    cells = re.findall(
        r'<td><span class="pencil"[^>]*></span><b>([^<]+)</b> <small>([^<]+)</small></td>', page
    )
    assert cells == [markup.bare_range(box.expected, "mm") for box in boxes]


def test_go_and_no_go_are_told_apart_by_words_and_outline(sheet):
    page = pass_page(sheet)
    assert "this blade GOES" in page
    assert "this one does NOT" in page
    assert page.count('class="blade goes"') == sum(r.goes is not None for r in sheet.card.rounds)
    assert page.count('class="blade stops"') == sum(r.stops is not None for r in sheet.card.rounds)


def test_the_ceiling_the_wait_and_the_clock_are_there(sheet):
    text, card = words(pass_page(sheet)), sheet.card
    assert "NEVER ABOVE" in text
    assert card.ready_at[11:16] in text
    assert all(line.rpartition(": ")[2] in text for line in card.if_then)
    assert all(caution in text for caution in card.cautions)


def test_bolts_are_released_in_the_reverse_order(sheet):
    order = " · ".join(str(b.order) for b in reversed(sheet.card.bolts))
    assert f"quarter turns: {order}" in words(pass_page(sheet))


def test_different_stacks_are_told_corner_by_corner(sheet):
    stacks = tuple(
        StackLine(
            corner=s.corner, blades=(2e-4 + n * 1e-4,), height=2e-4, warning="soft metal" if n == 3 else ""
        )
        for n, s in enumerate(sheet.card.stacks)
    )
    text = words(pass_page(replace(sheet, card=replace(sheet.card, stacks=stacks))))
    for stack in stacks:
        assert f"{stack.corner} {markup.bare(stack.blades, 'mm')[0]} mm" in text
    assert "soft metal" in text


def test_a_soak_card_tells_metal_temperature_and_hold(sheet):
    soak = SoakLine(temperature=205.0, hold=4 * 3600.0, hardness=Range(low=70, middle=76, high=82))
    text = words(pass_page(replace(sheet, card=replace(sheet.card, soak=soak, spots=()))))
    assert "205 °C" in text
    assert "4 h 00 min" in text
    assert "70 to 82 HB" in text


def test_held_short_of_straight_is_not_printed_as_a_negative(sheet):
    over = Range(low=-1.2e-4, middle=-1e-4, high=-0.9e-4)
    text = words(pass_page(replace(sheet, card=replace(sheet.card, over_bend=over))))
    assert "Held short of straight: likely 0.09 to 0.12 mm, about 0.10, 1 in 10 more" in text


def test_a_gap_below_nothing_is_printed_as_nothing():
    assert markup.bare_range(Range(low=-3e-5, middle=-1e-5, high=2e-6), "mm") == ("nothing", "goes")
    assert markup.bare_range(Range(low=-3e-5, middle=2e-5, high=6e-5), "mm") == ("0.00–0.06", "0–2.5")


# --- sketches ----------------------------------------------------------------------------------------------------


def drawn(element):
    return ET.tostring(element, encoding="unicode")


def test_fresh_and_used_places_differ_by_shape_and_word(second):
    picture = spot_view(second.card, second.sketch)
    fresh = [e for e in picture.iter("circle") if e.get("class") == "spot"]
    used = [e for e in picture.iter("rect") if e.get("class") == "used"]
    assert len(fresh) == len(second.card.spots)
    assert len(used) == len(second.sketch.used)
    assert f"{len(used)} places heated before" in picture.get("aria-label")
    assert "crossed square" in pass_page(second)


def used_places(spots, apart):
    """Places heated before, so far from every spot [m]."""
    found = (UsedPlace(station=s.station + apart, side=s.side) for s in spots)
    return tuple(
        u for u in found if all(abs(u.station - s.station) > apart - 1e-9 for s in spots if s.side == u.side)
    )


@pytest.mark.parametrize("apart", [0.0165, 0.02, 0.024, 0.03, 0.05])
@pytest.mark.parametrize("longer", [1.0, 1.5, 2.0])
def test_no_ring_covers_a_place_that_is_to_be_left_alone(sheet, apart, longer):
    """From a sixth of a bay on, the nearest that places of two passes come; heads up to 840 mm."""
    card = sheet.card
    used = used_places((*card.spots, *card.reserve), apart)
    assert used
    picture = spot_view(card, replace(sheet.sketch, used=used, length=longer * sheet.sketch.length))
    rings = [e for e in picture.iter("circle") if e.get("class") == "spot"]
    squares = [e for e in picture.iter("rect") if e.get("class") == "used"]
    numbers = [e for e in picture.iter("text") if "number" in e.get("class")]
    assert [e.text for e in numbers] == [str(s.order) for s in (*card.spots, *card.reserve)]
    for ring in rings:
        x, y, reach = float(ring.get("cx")), float(ring.get("cy")), float(ring.get("r")) + 4
        for square in squares:
            left, top, side = (float(square.get(key)) for key in ("x", "y", "width"))
            if abs(y - (top + side / 2)) < 1 and x < left + side / 2:
                assert x + reach <= left - 2


@pytest.mark.parametrize("longer", [1.0, 1.5, 2.0])
def test_no_two_numbers_and_no_two_stations_run_into_one_another(sheet, longer):
    """Figures are 0.6 em wide, of 40 units: two of them in a spot's number, three in a station; heads up to 840 mm."""
    picture = spot_view(sheet.card, replace(sheet.sketch, length=longer * sheet.sketch.length))
    for kind, wide in (("number", 2 * 0.6 * 40), ("station", 3 * 0.6 * 40)):
        told = [e for e in picture.iter("text") if kind in e.get("class")]
        assert len(told) >= 6
        for one, other in combinations(told, 2):
            if abs(float(one.get("y")) - float(other.get("y"))) < 30:
                assert abs(float(one.get("x")) - float(other.get("x"))) > wide


def test_spots_stand_at_their_stations_and_on_their_side(sheet):
    further = tuple(replace(s, station=s.station + 0.1, order=s.order + 2) for s in sheet.card.spots[:2])
    sheet = replace(sheet, card=replace(sheet.card, spots=(*sheet.card.spots[:2], *further)))
    picture = spot_view(sheet.card, sheet.sketch)
    rings = [e for e in picture.iter("circle") if e.get("class") == "spot"]
    xs = [float(e.get("cx")) for e in rings]
    scale = (xs[2] - xs[0]) / (sheet.card.spots[2].station - sheet.card.spots[0].station)
    for spot, ring in zip(sheet.card.spots, rings, strict=True):
        assert float(ring.get("cx")) == pytest.approx(
            xs[0] + scale * (spot.station - sheet.card.spots[0].station), abs=0.1
        )
    inlet = {float(r.get("cy")) for s, r in zip(sheet.card.spots, rings, strict=True) if s.side == "inlet"}
    exhaust = {
        float(r.get("cy")) for s, r in zip(sheet.card.spots, rings, strict=True) if s.side == "exhaust"
    }
    assert max(inlet) < min(exhaust)  # the inlet side lies at the top


def test_a_crowned_deck_turns_the_sketch_over(sheet):
    hollow = side_view(sheet.card, sheet.sketch)
    crowned = side_view(replace(sheet.card, reverse=True, direction="ends down"), sheet.sketch)
    assert "PULL THE MIDDLE" in drawn(hollow)
    assert "PULL BOTH ENDS DOWN" in drawn(crowned)
    count = {name: len(list(p.iter("polygon"))) for name, p in (("hollow", hollow), ("crowned", crowned))}
    assert count == {"hollow": 1, "crowned": 2}
    shims = {
        name: len([e for e in p.iter("rect") if e.get("class") == "shim"])
        for name, p in (("h", hollow), ("c", crowned))
    }
    assert shims == {"h": 2, "c": 1}


def test_where_nothing_is_laid_under_no_shim_is_drawn(sheet):
    bare = tuple(replace(stack, blades=(), height=0.0) for stack in sheet.card.stacks)
    card = replace(sheet.card, stacks=bare)
    for picture in (side_view(card, sheet.sketch), clamp_view(card, sheet.sketch)):
        assert [e for e in picture.iter("rect") if e.get("class") == "shim"] == []
        assert "shim" not in drawn(picture).lower().replace(card.direction.lower(), "")
    assert "none: the head lies on the base" in words(pass_page(replace(sheet, card=card)))


def test_bolts_carry_their_order(sheet):
    numbers = [
        e.text for e in clamp_view(sheet.card, sheet.sketch).iter("text") if e.get("class") == "number"
    ]
    assert numbers == [str(b.order) for b in sheet.card.bolts]


def test_a_keep_off_reason_is_told(sheet):
    """Also of a card of before, which holds no zones of its own."""
    assert (
        "never heated, keep off: 16.0 mm (0.63 in) around 210.0 mm (8.27 in), both rows (oil drilling)"
        in pass_page(sheet)
    )
    zone = KeepOffLine(station=0.2, side="inlet", radius=0.01, reason="plug <hole>")
    before = replace(sheet.card, keep_off=())
    page = pass_page(replace(sheet, card=before, sketch=replace(sheet.sketch, keep_off=(zone,))))
    assert "keep off: plug &lt;hole&gt;" in page


# --- the card from the book --------------------------------------------------------------------------------------


def test_a_card_comes_back_from_its_plain_form(sheet):
    again = card_from_plain(sheet.card.to_plain())
    assert again.to_plain() == sheet.card.to_plain()
    assert pass_page(replace(sheet, card=again)) == pass_page(sheet)


def test_a_plain_form_with_a_part_missing_is_refused(sheet):
    plain = sheet.card.to_plain()
    del plain["rounds"]
    with pytest.raises(ValueError, match="no card"):
        card_from_plain(plain)


def test_boxes_are_grouped_only_where_they_are_read_alike(sheet):
    moved = replace(sheet.rows[0], boxes=(Box(station=0.01, expected=sheet.rows[0].boxes[0].expected),))
    assert pass_page(sheet).count('<table class="boxes">') == 2
    assert pass_page(replace(sheet, rows=(moved, *sheet.rows[1:]))).count('<table class="boxes">') == 3
