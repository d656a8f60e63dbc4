"""The command that writes pages and figures: from the program's own head, from the book, for a customer."""

import json
import shutil
import tomllib
from pathlib import Path

import pytest

from straighten.book import open_book
from straighten.cli import main

ROOT = Path(__file__).parents[2]
JOB = ROOT / "worked_examples" / "irrigation-pump-four"
NAME = "irrigation-pump-four"


@pytest.fixture(scope="module")
def shop(tmp_path_factory):
    """A book in which the worked example has been played to its end."""
    folder = tmp_path_factory.mktemp("shop")
    book = str(folder / "shop.book")
    head = str(JOB / "head.toml")
    for words in (
        ["measure", head, str(JOB / "survey-1.toml")],
        ["plan", head],
        ["log", head, str(JOB / "survey-2.toml"), "--done", str(JOB / "pass-1.toml")],
        ["plan", head],
        ["log", head, str(JOB / "survey-3.toml"), "--done", str(JOB / "pass-2.toml")],
        ["decide", head],
    ):
        assert main([*words, "--book", book]) == 0
    return folder


@pytest.fixture
def bench(shop, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("STRAIGHTEN_BOOK", str(shop / "shop.book"))
    return tmp_path


def entries(shop):
    with open_book(shop / "shop.book") as book:
        return len(book.entries(NAME))


def test_without_a_name_the_programs_own_head_is_printed(bench, capsys):
    assert main(["sheet"]) == 0
    assert capsys.readouterr().out == "wrote pump-four-pass-1.html\n"
    assert "Deck hollow in the middle" in (bench / "pump-four-pass-1.html").read_text()


def test_a_template_and_a_report_are_not_asked_for_at_once(bench, capsys):
    assert main(["sheet", NAME, "--template", "--report"]) == 2
    assert "--template and --report are two pages" in capsys.readouterr().err
    assert not list(bench.iterdir())


def test_an_earlier_pass_is_printed_as_it_was_planned(bench, shop, capsys):
    before = entries(shop)
    for number in (1, 2):
        assert main(["sheet", NAME, "--pass", str(number), "--json"]) == 0
        told = json.loads(capsys.readouterr().out)
        assert told["schema"] == "straighten/sheet/1"
        assert told["card"]["pass_number"] == number
    first, second = (bench / f"{NAME}-pass-{n}.html" for n in (1, 2))
    assert 'class="used"' not in first.read_text()
    assert 'class="used"' in second.read_text()
    assert entries(shop) == before


def test_a_pass_that_was_never_planned_is_refused(bench, capsys):
    assert main(["sheet", NAME, "--pass", "9"]) == 3
    assert "Cards are kept of pass 1, 2." in capsys.readouterr().err
    assert list(bench.iterdir()) == []


def test_a_new_card_is_entered_once_and_then_printed_from_the_book(bench, tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("STRAIGHTEN_BOOK", str(tmp_path / "own.book"))
    head = str(JOB / "head.toml")
    assert main(["measure", head, str(JOB / "survey-1.toml")]) == 0
    assert main(["sheet", head, "--out", "one.html"]) == 0
    assert "entered in the book" in capsys.readouterr().err
    assert main(["sheet", head, "--out", "two.html"]) == 0
    assert "entered" not in capsys.readouterr().err
    assert (bench / "one.html").read_text() == (bench / "two.html").read_text()
    with open_book(tmp_path / "own.book") as book:
        assert len(book.entries(NAME, "plan")) == 1


@pytest.mark.slow
def test_a_head_file_that_was_changed_is_planned_anew(bench, tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("STRAIGHTEN_BOOK", str(tmp_path / "own.book"))
    head = tmp_path / "head.toml"
    head.write_text((JOB / "head.toml").read_text())
    assert main(["measure", str(head), str(JOB / "survey-1.toml")]) == 0
    assert main(["sheet", str(head), "--out", "one.html"]) == 0
    text = head.read_text()
    assert 'cam_line = "0.05 mm"' in text
    head.write_text(text.replace('cam_line = "0.05 mm"', 'cam_line = "0.06 mm"'))
    assert main(["sheet", str(head), "--out", "two.html"]) == 0
    assert "more than 0.06 mm" in (bench / "two.html").read_text()
    with open_book(tmp_path / "own.book") as book:
        assert len(book.entries(NAME, "plan")) == 2


def test_a_file_that_is_there_is_left_alone(bench, capsys):
    (bench / "mine.html").write_text("mine")
    assert main(["sheet", "--out", "mine.html"]) == 3
    assert "already there" in capsys.readouterr().err
    assert (bench / "mine.html").read_text() == "mine"
    assert main(["sheet", "--out", "mine.html", "--force"]) == 0
    assert "<!doctype html>" in (bench / "mine.html").read_text()


def test_the_report_tells_the_whole_job(bench, capsys):
    assert main(["sheet", NAME, "--report", "--all"]) == 0
    text = (bench / f"{NAME}-report.html").read_text()
    for words in ("2 passes: deck", "Intake", "planned against measured", "Hardness", "Limits now", "What comes next",
                  "Assumed, not measured", "Where figures come from", "Pass by pass", "workshop sheet of the invented pump, page 4"):  # fmt: skip
        assert words in text
    assert text.count("<svg ") == 4
    assert "<script" not in text
    ids = [part.split('"')[0] for part in text.split(' id="')[1:]]
    assert len(ids) == len(set(ids))


def test_the_customer_gets_no_settings_no_prices_and_no_sources(bench, capsys):
    assert main(["sheet", NAME, "--report", "--out", "customer.html"]) == 0
    text = (bench / "customer.html").read_text()
    for words in ("2 passes: deck", "Intake", "Bow along the head", "Hardness", "Limits now"):
        assert words in text
    for words in (
        "Prices",
        "shims",
        "heat spots",
        "Where figures come from",
        "Assumed",
        "Ways to go on",
        "planned:",
    ):
        assert words not in text


@pytest.fixture(scope="module")
def finished(shop, tmp_path_factory):
    """The same job sanded, measured and closed with its final list."""
    book = tmp_path_factory.mktemp("finished") / "shop.book"
    shutil.copy(shop / "shop.book", book)
    head, file = str(JOB / "head.toml"), lambda name: str(JOB / name)
    for words in (
        ["measure", head, file("survey-4.toml")],
        ["sand", head, "--surface", file("surface.toml"), "--log", file("sand-1.toml")],
        ["sand", head, "--log", file("sand-2.toml")],
        ["measure", head, file("survey-5.toml")],
        ["finish", head, "--answers", file("final.toml"), "--close", "--because", "the owner takes it"],
    ):
        assert main([*words, "--book", str(book)]) == 0
    return book


def heated():
    """How many spots the example's pass files tell."""
    passes = (tomllib.loads((JOB / f"pass-{n}.toml").read_text(encoding="utf-8")) for n in (1, 2))
    return sum(len(table["stations"]) for told in passes for table in told["spots"])


def test_a_finished_job_gets_its_report(bench, finished):
    """Sanding and a new survey leave the passes in the report, and the state it came in is the first survey's."""
    assert main(["sheet", NAME, "--report", "--all", "--book", str(finished)]) == 0
    text = (bench / f"{NAME}-report.html").read_text()
    for words in ("2 passes: deck 0.20 mm", "Pass 1, ", "Pass 2, ", "intake", "after pass 2", "after sanding", f"{heated()} places were heated",
                  "Finished: ", "strokes on P180 in 2 runs", "19 lines hold or are done, none fails", ">sanded<"):  # fmt: skip
        assert words in text
    for raw in ("What comes next", "report, consequences", "0.0112905", "sha256", " mm, low"):
        assert raw not in text


def test_a_face_sanded_since_its_survey_is_not_judged_by_it(bench, shop, tmp_path):
    """What to do next is decided on the face that is there: it has to be measured first."""
    book = tmp_path / "own.book"
    shutil.copy(shop / "shop.book", book)
    run = ["--surface", str(JOB / "surface.toml"), "--strokes", "400", "--grit", "P180", "--gap", "0.08 mm"]
    run += ["--because", "a licensed shop hones the cam line"]
    assert main(["sand", str(JOB / "head.toml"), *run, "--book", str(book)]) == 0
    assert main(["sheet", NAME, "--report", "--all", "--book", str(book)]) == 0
    text = (bench / f"{NAME}-report.html").read_text()
    assert "400 strokes on P180 in 1 run; not finished" in text
    assert "sanded since it was last measured" in text
    assert "Ways to go on" not in text


def test_after_sanding_an_earlier_pass_is_still_printed_as_it_was_planned(bench, finished, shop):
    """The page of pass 2 tells the same boxes to expect before and after the sanding plate."""
    for book, out in ((shop / "shop.book", "before.html"), (finished, "after.html")):
        assert main(["sheet", NAME, "--pass", "2", "--out", out, "--book", str(book)]) == 0
    assert (bench / "before.html").read_text() == (bench / "after.html").read_text()


@pytest.mark.slow
def test_rounds_tightened_since_are_not_known_to_an_earlier_pass(bench, tmp_path, capsys):
    """The nuts are half down on pass 2: pass 1 is still printed as planned, and the job's report and figure are told."""
    book, head = ["--book", str(tmp_path / "own.book")], str(JOB / "head.toml")
    for words in (
        ["measure", head, str(JOB / "survey-1.toml")],
        ["plan", head],
        ["log", head, str(JOB / "survey-2.toml"), "--done", str(JOB / "pass-1.toml")],
        ["plan", head],
        ["sheet", NAME, "--pass", "1", "--out", "before.html", "--figure", "before.svg", "--show", "passes"],
        ["tighten", NAME, "--torque", "6 Nm", "--goes", "0.40 mm", "--stops", "0.45 mm"],
        ["sheet", NAME, "--pass", "1", "--out", "after.html", "--figure", "after.svg", "--show", "passes"],
        ["sheet", NAME, "--report", "--all", "--figure", "report.svg", "--show", "passes"],
    ):
        assert main([*words, *book]) == 0, capsys.readouterr().err
    for form in ("html", "svg"):
        assert (bench / f"before.{form}").read_text() == (bench / f"after.{form}").read_text()
    assert "after pass 1" in (bench / f"{NAME}-report.html").read_text()


@pytest.mark.parametrize(("which", "start"), [("bow.svg", b"<?xml"), ("tightening.png", b"\x89PNG"), ("spots.pdf", b"%PDF"), ("passes.svg", b"<?xml"), ("stop.svg", b"<?xml")])  # fmt: skip
def test_every_figure_is_written_by_the_option(bench, which, start):
    kind = which.split(".", maxsplit=1)[0]
    assert main(["sheet", NAME, "--pass", "2", "--figure", which, "--show", kind]) == 0
    assert (bench / which).read_bytes().startswith(start)


@pytest.mark.parametrize(("words", "told"), [
    (["--figure", "x.gif"], "cannot be written as .gif"),
    (["--figure", "x.svg", "--show", "pie"], "there is no figure 'pie'"),
    (["--show", "pie"], "there is no figure 'pie'"),
    (["--show", "spots"], "Add --figure"),
    (["--out", "nowhere/x.html"], "cannot be written"),
])  # fmt: skip
def test_a_slip_is_told_and_nothing_is_left_half_written(bench, capsys, words, told):
    assert main(["sheet", NAME, "--pass", "1", *words]) == 3
    assert told in capsys.readouterr().err
    assert list(bench.iterdir()) == []


def test_a_name_cannot_lead_the_file_out_of_the_folder():
    from straighten.cli.finishing import file_stem

    assert file_stem("../../etc/passwd") == "etc-passwd"
    assert file_stem("<b>\u202e") == "b"
    assert file_stem("...") == "head"
