"""The option --figure of every command that has something to draw, on the worked example."""

import shutil
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

from straighten.cli import main

EXAMPLES = Path(__file__).parents[2] / "worked_examples"
NAME = "irrigation-pump-four"
SVG = "{http://www.w3.org/2000/svg}"
READ = ["--torque", "16 Nm", "--goes", "0.05 mm", "--stops", "0.08 mm"]
# Each in the order of the job: its words, and what its text alternative must tell.
COMMANDS = {
    "check": (["check", NAME], ["Deck bow", "cam line bow", "readings"]),
    "plan": (["plan", NAME], ["expected after likely", "1 in 10"]),
    "tighten": (["tighten", NAME, *READ], ["1 round is logged", "0.05 mm (2 thou) goes"]),
    "log": (
        ["log", NAME, "survey-2.toml", "--done", "pass-1.toml"],
        ["inside the predicted range after 1 of 1 passes"],
    ),
    "decide": (["decide", NAME], ["is cheapest", "Expected cost"]),
    "sheet": (["sheet", NAME, "--report", "--out", "report.html"], ["Deck bow in the middle as it came"]),
    "history": (["history"], ["Set of the middle in 1 pass"]),
    "sand": (
        ["sand", NAME, "--because", "the shop closes tomorrow"],
        ["may come off", "are to be sanded off"],
    ),
}


@pytest.fixture(scope="module")
def shop(tmp_path_factory):
    """A folder with the example, its book, and the figure of every command as SVG."""
    folder = tmp_path_factory.mktemp("shop")
    shutil.copytree(EXAMPLES / NAME, folder / NAME)
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(folder)
        patch.setenv("STRAIGHTEN_BOOK", str(folder / "shop.book"))
        assert main(["measure", NAME, "survey-1.toml"]) == 0
        for command, (words, _) in COMMANDS.items():
            assert main([*words, "--figure", f"{command}.svg"]) == 0, command
        yield folder


@pytest.mark.parametrize("command", COMMANDS)
def test_a_figure_says_its_message_and_shows_both_unit_systems(shop, command):
    text = (shop / f"{command}.svg").read_text(encoding="utf-8")
    root = ET.fromstring(text)
    assert root.get("role") == "img"
    message = root.get("aria-label")
    assert root.find(f"{SVG}title").text == message
    for part in COMMANDS[command][1]:
        assert part in message
    assert "date" not in text.lower().split("<svg", 1)[1][:400]
    if command != "decide":  # money has one unit
        assert "[mm]" in text
        assert "[thou]" in text


@pytest.mark.parametrize("command", ["check", "history", "sand"])
def test_the_same_answer_draws_the_same_bytes(shop, command):
    for name in ("one.svg", "two.svg"):
        assert main([*COMMANDS[command][0], "--figure", name]) == 0
    assert (shop / "one.svg").read_bytes() == (shop / "two.svg").read_bytes()


@pytest.mark.parametrize(("ending", "start"), [("png", b"\x89PNG"), ("pdf", b"%PDF")])
@pytest.mark.parametrize("command", ["check", "history"])
def test_the_ending_says_the_form(shop, command, ending, start):
    assert main([*COMMANDS[command][0], "--figure", f"x.{ending}"]) == 0
    assert (shop / f"x.{ending}").read_bytes().startswith(start)


@pytest.mark.parametrize("name", ["x.gif", "x", "nowhere/x.svg"])
@pytest.mark.parametrize("command", COMMANDS)
def test_a_figure_that_cannot_be_is_refused_before_anything_is_entered(shop, command, name, capsys):
    before = (shop / "shop.book").read_bytes()
    assert main([*COMMANDS[command][0], "--figure", name]) == 3
    told = capsys.readouterr()
    assert name in told.err
    assert "folder" in told.err if "/" in name else ".svg, .png, .pdf" in told.err
    assert told.out == ""
    assert (shop / "shop.book").read_bytes() == before
