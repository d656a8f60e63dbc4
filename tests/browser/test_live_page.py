"""The live page around its steps: fit for a phone, a glove and axe; nothing changed on paper and without script; other cards."""

import re
import tomllib
from dataclasses import replace

import pytest

from straighten.sheet.pass_page import live_data, live_parts, pass_page
from tests.browser.test_live import PHONE, face, headline, label_of, phone, tap, to_the_heat, told  # noqa: F401 - the fixture
from tests.browser.test_pages import A5_PIXELS, SOAK, judged, sheet  # noqa: F401 - the fixture


def looked_through(page, rung):
    on, off = (label_of(next(line for line in rung.lines if line.do == do)) for do in (2, 0))
    """Play the pass and stop at each kind of screen."""
    for _ in range(4):
        yield "step"
        tap(page, "Next")
    yield "spot"
    tap(page, "Heated")
    yield "pause"
    tap(page, "Next", "Heated")
    yield "wait"
    tap(page, "Next")
    yield "blades"
    tap(page, on)
    yield "go on"
    tap(page, "Back", off)
    yield "stop"
    for _ in range(5):
        tap(page, "Next")
        yield "step or end"


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_every_screen_suits_a_phone_a_glove_and_axe(phone, sheet, scheme):  # noqa: F811
    """Buttons of 48 pixels at least: usual advice on touch, no source."""
    phone.emulate_media(color_scheme=scheme)
    count = 0
    for count, _ in enumerate(looked_through(phone, sheet.card.ladder[0]), start=1):  # noqa: B007 - counted on
        wide = phone.evaluate("[document.documentElement.scrollWidth, innerWidth]")
        assert wide[0] <= wide[1]
        high = phone.evaluate(
            "[...document.querySelectorAll('.live button, .live a')].map(e => e.getBoundingClientRect().height)"
        )
        assert min(high) >= 48
        assert (
            phone.evaluate(
                "parseFloat(getComputedStyle(document.querySelector('.live h2, .live p')).fontSize)"
            )
            >= 20
        )
        assert judged(phone) == []
        phone.evaluate("scrollTo(0, document.documentElement.scrollHeight)")
        last, foot = (
            phone.locator(which).bounding_box() for which in (".live > button", ".foot")
        )  # the buttons at the foot hide nothing
        assert last["y"] + last["height"] <= foot["y"]
    assert count == 15
    assert phone.told == []


def bare(text):
    """The page as it is without its script."""
    return re.sub(r'<div class="live" hidden="hidden"></div>|<script.*?</script>', "", text, flags=re.DOTALL)


@pytest.mark.parametrize("width", [PHONE, A5_PIXELS, 1200])
def test_without_script_and_on_paper_nothing_has_changed(shown, browser, sheet, width):  # noqa: F811
    with_script, without = shown(pass_page(sheet), width), shown(bare(pass_page(sheet)), width)
    assert without.locator("script, .live").count() == 0
    if width > PHONE:
        tap(with_script, "One step at a time")
    assert with_script.locator(".foot").is_visible()
    for page in (with_script, without):
        page.emulate_media(media="print")
    assert with_script.screenshot(full_page=True) == without.screenshot(full_page=True)
    off = shown(bare(pass_page(sheet)), width)
    browser.new_cdp_session(off).send("Emulation.setScriptExecutionDisabled", {"value": True})
    off.set_content(pass_page(sheet))
    without.emulate_media(media="screen")
    assert off.screenshot(full_page=True) == without.screenshot(full_page=True)


def test_a_wide_screen_shows_the_whole_page_first_and_either_on_a_tap(shown, sheet):  # noqa: F811
    page = shown(pass_page(sheet), 1200)
    assert page.locator(".leaf.bench").is_visible()
    tap(page, "One step at a time")
    assert not page.locator(".leaf.bench").is_visible()
    tap(page, "Next", "Whole page")
    assert page.locator(".leaf.bench").is_visible()
    tap(page, "One step at a time")
    assert "Shims" in told(page)


def test_nothing_is_kept_and_the_page_says_so(phone):  # noqa: F811
    phone.locator(".live [type=checkbox]").first.check()
    tap(phone, "Next", "Back")
    assert phone.locator(".live [type=checkbox]").first.is_checked()
    phone.reload()
    assert not phone.locator(".live [type=checkbox]").first.is_checked()
    assert "keeps nothing" in told(phone)
    assert phone.evaluate("[localStorage.length, sessionStorage.length, document.cookie]") == [0, 0, ""]


def test_a_soak_has_its_clock_and_no_places(shown, sheet):  # noqa: F811
    card = replace(sheet.card, soak=SOAK, spots=(), reserve=(), ladder=())
    page = shown(pass_page(replace(sheet, card=card)), PHONE)
    tap(page, "Next", "Next", "Next")
    assert face(page) == "4:00:00"
    tap(page, "Next")
    assert "Cool" in headline(page)
    tap(page, "Next", "Next", "Next", "Next")
    assert tomllib.loads(page.locator("textarea").input_value()) == {}  # as on the card


def test_a_pass_without_stages_goes_from_the_last_place_to_the_cooling(shown, sheet):  # noqa: F811
    page = shown(pass_page(replace(sheet, card=replace(sheet.card, ladder=(), reserve=()))), PHONE)
    to_the_heat(page)
    for spot in sheet.card.spots[:-1]:
        assert headline(page).startswith(f"({spot.order}) ")
        tap(page, "Heated", "Next")
    tap(page, "Heated")
    assert "Cool" in headline(page)


def test_an_inch_card_gives_its_gaps_in_thou(sheet):  # noqa: F811
    first = live_data(replace(sheet.card, system="inch"))["stages"][0]["lines"][1]
    assert first["when"].startswith("12 thou")
    assert first["gap"] == "11.81-19.69 thou"


def test_a_card_of_before_that_tells_no_flame_has_no_live_page(sheet):  # noqa: F811
    spots = tuple(replace(spot, flux_radius=None) for spot in sheet.card.spots)
    old = replace(sheet.card, spots=spots)
    assert live_parts(old) == ()
    assert "<script" not in pass_page(replace(sheet, card=old))
