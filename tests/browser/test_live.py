"""The pass page played by taps on a phone, held against the program's own word for the same reading, and its text against `log`."""

import json
import re
import shlex
import tomllib
from dataclasses import replace
from pathlib import Path

import pytest

from straighten.belief.blades import StageLog
from straighten.book import open_book
from straighten.cli import main
from straighten.desk.logging import read_done
from straighten.desk.staging import _reported
from straighten.plan.slack import Gaps, SlackReading
from straighten.readings.gaps import GapWords, read_gap
from straighten.sheet.card_words import cautions_at, do_words
from straighten.sheet.pass_page import pass_page
from straighten.units import show
from tests.browser.test_pages import sheet  # noqa: F401 - the fixture
from tests.desk.test_staging import BLADES, HEAD, JOB, PLAN, STAGES

EXAMPLES = Path(__file__).parents[2] / "worked_examples"
PUMP = "irrigation-pump-four"
PHONE = 360
WORDS = GapWords(system="mm", blades=HEAD.gauge_blades)


@pytest.fixture
def phone(shown, sheet):  # noqa: F811
    return shown(pass_page(sheet), PHONE, 740)


def tap(page, *labels):
    for label in labels:
        page.locator(".live button", has_text=label).last.click()


def told(page):
    """The words of the screen, without buttons and head line."""
    return re.sub(r"\s+", " ", page.locator(".live > div:not(.foot)").text_content())


def headline(page):
    return page.locator(".live > div h2").first.text_content()


def to_the_heat(page):
    tap(page, "Next", "Next", "Next", "Next")


def through_stage(page, places, leave_out=()):
    """Heat the places of a stage without a clock, wait, and stand before its blades."""
    for k, place in enumerate(places):
        assert headline(page).startswith(f"({place}) ")
        tap(page, "Left out" if place in leave_out else "Heated")
        if k + 1 < len(places):
            assert "From spot to spot" in told(page)
            tap(page, "Next")
    assert "The first that goes tells" in told(page)
    tap(page, "Next")


def label_of(line):
    return "none of them" if line.goes is None else f"{show(line.goes)} goes"


def reached(page, card, number):
    """Play up to the blades of a rung by the line that goes on."""
    to_the_heat(page)
    for rung in card.ladder:
        through_stage(page, rung.places)
        if rung.number == number:
            return
        onward = next(line for line in rung.lines if line.do == rung.number + 1)
        tap(page, label_of(onward), "Next")


def own_word(number, gaps):
    """What the program says to a gap read after a stage, earlier stages unread."""
    before = tuple(StageLog(number=n, done=STAGES.stage(n), heat=2e4) for n in range(1, number))
    log = StageLog(
        number=number, done=STAGES.stage(number), heat=2e4, reading=SlackReading(gaps=(("middle", gaps),))
    )
    return _reported(replace(JOB.dossier, stages=before), STAGES, JOB.belief, log)[0]


@pytest.mark.parametrize("number", range(1, len(STAGES.ends) + 1))
def test_each_blade_asks_on_the_page_for_what_the_program_asks_for(phone, sheet, number):  # noqa: F811
    """On each line of each rung: the thinnest and the thickest owned blade, and the gap that the page writes down itself."""
    card = sheet.card
    reached(phone, card, number)
    thicker = BLADES[-1]
    for line in card.ladder[number - 1].lines:
        goes = line.goes or 0.0
        own = [b for b in BLADES[:-1] if goes - 1e-9 <= b < thicker - 1e-9]
        thicker = goes
        tap(phone, label_of(line))
        written = read_gap(phone.get_by_label("Gap read").input_value(), 0.0, WORDS)
        gaps = {(blade, BLADES[BLADES.index(blade) + 1]) for blade in (own[0], own[-1])}
        for low, high in gaps | {(written.low, written.high)}:
            assert headline(phone) == own_word(number, Gaps(low, high)).words
        tap(phone, "Back")


def test_the_whole_pass_is_played_in_the_order_of_the_work(phone, sheet):  # noqa: F811
    card, seen = sheet.card, []
    for number in range(4):
        assert headline(phone).split()[0].startswith(str(number))
        assert all(line in told(phone) for line in cautions_at(card, number))
        seen.append(told(phone))
        tap(phone, "Next")
    assert card.direction[1:] in seen[0]
    assert all(line in seen[0] for line in card.before)
    for rung in card.ladder:
        through_stage(phone, rung.places)
        line = max(rung.lines, key=lambda one: (one.do == rung.number + 1, one.do))
        tap(phone, label_of(line))
        assert headline(phone) == do_words(line.do, rung.number)
        assert ("Tighten" in told(phone)) == (line.do > 0)  # again, as in step 2
        tap(phone, "Next")
    for number in range(4, 8):
        assert headline(phone).split()[0].startswith(str(number))
        assert all(line in told(phone) for line in cautions_at(card, number))
        tap(phone, "Next")
    assert headline(phone) == "What was done"
    assert phone.told == []


def test_a_stage_is_skipped_where_the_ladder_skips_it(shown, sheet):  # noqa: F811
    first = sheet.card.ladder[0]
    lines = tuple(replace(line, do=3) if line.do == 2 else line for line in first.lines)
    card = replace(sheet.card, ladder=(replace(first, lines=lines), *sheet.card.ladder[1:]))
    page = shown(pass_page(replace(sheet, card=card)), PHONE)
    to_the_heat(page)
    through_stage(page, first.places)
    tap(page, label_of(lines[1]))
    assert headline(page) == "skip to stage 3"
    tap(page, "Next")
    through_stage(page, card.ladder[2].places)
    tap(page, "none of them", *["Next"] * 5)
    assert typed(page)[1] == "straighten stage pump-four --skip"


def test_an_odd_reading_is_read_again_and_a_second_one_ends_the_stages(phone, sheet):  # noqa: F811
    """As at the bench, which stops a stage after the second odd reading."""
    odd, on = (label_of(line) for line in sheet.card.ladder[0].lines[:2])
    to_the_heat(phone)
    through_stage(phone, sheet.card.ladder[0].places)
    tap(phone, odd)
    assert headline(phone) == "READ AGAIN, stop if it is as odd"
    tap(phone, "Next", on)
    assert headline(phone) == "stage 2"
    tap(phone, "Back", odd)
    assert headline(phone) == "STOP, release cold and measure"
    tap(phone, "Next")
    assert "Cool" in headline(phone)


# --- clocks


@pytest.fixture
def timed(shown, sheet):  # noqa: F811
    page = shown(pass_page(sheet), PHONE)
    page.clock.install(time=0)
    page.reload()
    page.clock.pause_at(3_600_000)  # from here time goes on only as the test says
    yield page
    page.clock.resume()  # it is the browser's, for the pages of every test


def face(page):
    return page.locator(".timer").text_content()


def test_no_clock_starts_but_by_its_own_button(timed, sheet):  # noqa: F811
    to_the_heat(timed)
    dwell = sheet.card.spots[0].dwell
    timed.clock.run_for(5000)
    assert face(timed) == "0.0 s"
    tap(timed, "Flame on")
    timed.clock.run_for(6000)
    assert face(timed) == "6.0 s"
    assert timed.locator(".due").count() == 0
    assert timed.locator(".foot button:enabled").count() == 0  # one thing to do: flame off
    timed.clock.run_for(round(1e3 * (dwell - 6)) + 300)
    assert timed.locator(".due").count() == 1
    tap(timed, "Flame off")
    timed.clock.run_for(9000)
    assert face(timed) == f"{dwell + 0.3:.1f} s"
    tap(timed, "Heated")
    timed.clock.run_for(9000)
    assert face(timed) == "1:00"
    tap(timed, "Start the clock")
    timed.clock.run_for(59000)
    assert face(timed) == "0:01"
    timed.clock.run_for(3000)
    assert face(timed) == "+0:02"
    tap(timed, "Clear the clock")
    assert face(timed) == "1:00"


def test_a_clock_goes_on_over_a_step_back_and_forth(timed, sheet):  # noqa: F811
    to_the_heat(timed)
    through_stage(timed, sheet.card.ladder[0].places)
    tap(timed, label_of(sheet.card.ladder[0].lines[2]), "Next", "Start the clock")
    assert face(timed) == "13:00"  # as printed beside it, no sooner
    tap(timed, "Next", "Back")
    timed.clock.run_for(60000)
    assert face(timed) == "12:00"


def test_a_double_tap_measures_nothing(timed):
    to_the_heat(timed)
    tap(timed, "Flame on")
    timed.clock.run_for(200)
    tap(timed, "Flame off")
    assert face(timed) == "0.0 s"
    tap(timed, "Flame on")


# --- what it leaves


def typed(page):
    """The commands behind # of the text at the end."""
    text = page.locator("textarea").input_value()
    return [line.removeprefix("# ") for line in text.splitlines() if line.startswith("# straighten")]


def finished(page, card, *, leave_out=()):
    """Play stage 1 and 2, stop there, and go to the end."""
    to_the_heat(page)
    for rung, do in zip(card.ladder, (2, 0), strict=False):
        through_stage(page, rung.places, leave_out)
        tap(page, label_of(next(line for line in rung.lines if line.do == do)), "Next")
    tap(page, "Next", "Next", "Next", "Next")


def saved(page, path):
    with page.expect_download() as download:
        page.locator("a[download]").click()
    download.value.save_as(path)
    assert path.read_text(encoding="utf-8") == page.locator("textarea").input_value()
    return download.value.suggested_filename


def test_the_text_tells_what_was_done_as_the_log_reads_it(timed, sheet, tmp_path):  # noqa: F811
    to_the_heat(timed)
    tap(timed, "Flame on")
    timed.clock.run_for(9300)
    tap(timed, "Flame off", *["Back"] * 4)
    finished(timed, sheet.card)
    assert saved(timed, tmp_path / "done.toml") == "pass-1.toml"
    done, _ = read_done(tmp_path / "done.toml", HEAD, PLAN.setup)
    planned = STAGES.setup.spots[: STAGES.ends[1]]
    assert [s.dwell for s in done.spots] == pytest.approx([9.3, *(s.dwell for s in planned[1:])])
    for own, card in zip(done.spots, planned, strict=True):
        assert (own.station, own.radius, own.peak, own.start) == pytest.approx(
            (card.station, card.radius, card.peak, card.start), rel=1e-4, abs=10.0
        )
        assert own.side == card.side
    assert done.clamp == PLAN.setup.clamp


def test_places_left_out_are_not_told_as_heated(phone, sheet, tmp_path):  # noqa: F811
    out = sheet.card.ladder[0].places[0]
    finished(phone, sheet.card, leave_out=(out,))
    text = phone.locator("textarea").input_value()
    assert len(tomllib.loads(text)["spots"]) == STAGES.ends[1] - 1
    assert typed(phone) == ["straighten log pump-four survey.toml --done pass-1.toml"]
    goes = next(line.goes for line in sheet.card.ladder[0].lines if line.do == 2)
    stops = min(
        line.goes for line in sheet.card.ladder[0].lines if line.goes is not None and line.goes > goes
    )
    assert f"# stage 1: Gap read {1e3 * goes:g}-{1e3 * stops:g} mm" in text


def test_a_pass_without_heat_says_so(phone, sheet):  # noqa: F811
    finished(phone, sheet.card, leave_out=range(99))
    assert tomllib.loads(phone.locator("textarea").input_value()) == {"heated": False}


def test_the_program_takes_the_gaps_and_the_text(shown, tmp_path, monkeypatch, capsys):
    """The commands of the text typed as they stand; the page's word is the command's for the same reading."""
    book, out, done = (tmp_path / name for name in ("b.book", "page.html", "done.toml"))
    monkeypatch.chdir(EXAMPLES)
    assert main(["measure", PUMP, "survey-1.toml", "--book", str(book)]) == 0
    assert main(["sheet", PUMP, "--out", str(out), "--book", str(book)]) == 0
    page = shown(out.read_text(encoding="utf-8"), PHONE)
    stages = page.evaluate("JSON.parse(document.getElementById('steps').textContent).stages")
    number, words = 1, []
    to_the_heat(page)
    while number > 0:
        stage = stages[number - 1]
        through_stage(page, stage["places"])
        line = max(stage["lines"], key=lambda one: one["do"])
        tap(page, line["when"])
        words.append(headline(page))
        tap(page, "Next")
        number = line["do"]
    tap(page, "Next", "Next", "Next", "Next")
    saved(page, done)
    *gaps, log = [shlex.split(line)[1:] for line in typed(page)]
    capsys.readouterr()
    for n, command in enumerate(gaps):
        assert main([*command, "--book", str(book), "--json"]) == 0
        said = json.loads(capsys.readouterr().out)
        if (
            n == 0
        ):  # later rungs are read as if the ones before came as expected; the program writes them anew
            assert said["words"] == words[0]
    assert len(gaps) == len(words) > 1
    given = [{"survey.toml": "survey-2.toml", "pass-1.toml": str(done)}.get(word, word) for word in log]
    assert main([*given, "--read-again", "--book", str(book), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["taken_as_on_the_card"] == [
        "no clamp given: clamped as on the card"
    ]
    with open_book(book) as opened:
        spots = opened.latest(PUMP, "pass").record["done"]["spots"]
    assert len(spots) == page.locator("textarea").input_value().count("[[spots]]") > 2
