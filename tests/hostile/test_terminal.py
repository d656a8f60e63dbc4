"""What reaches a terminal: no text of a file moves its cursor, long work is said and can be broken off."""

import json
import re
import shutil

import pytest

from tests.cli.seated import Seat
from tests.hostile.spoilt import EXAMPLES

SPITEFUL = "\x1b[2J\x07\x00\u202egnp\u2066\x9b31m"


SPOILT_TEXT = re.compile(r'\b((?:\w*source|reason|tip|who|note|history|date) *= *)"[^"]*"')
TOLD_BY_A_PUMP = (
    ("measure", "pump", "survey-1.toml"), ("plan", "pump", "--all"), ("log", "pump", "survey-2.toml", "--done", "pass-1.toml"), ("sheet", "pump"),
    ("heads",), ("history",), ("export", "pump", "--csv"), ("export", "pump"), ("settle", "pump"), ("try", "try.toml"), ("strike", "3", "--reason", "BAD"),
    ("check", "pump"), ("new", "fresh", "--like", "pump"), ("book", "check"), ("book", "rescue", "new.book"),
)  # fmt: skip
TOLD_BY_A_SAW = (
    ("measure", "saw", "survey-1.toml"), ("check", "saw"), ("sand", "saw", "--log", "sand-1.toml", "--because", "BAD: wanted today"), ("sand", "saw"),
    ("finish", "saw", "--answers", "final.toml", "--close", "--because", "BAD: it is wanted back today"), ("finish", "saw"), ("sheet", "saw", "--report"),
)  # fmt: skip


def spiteful(folder):
    """Put what moves a cursor into every text that the files of a head hold; return how many were changed."""
    count = 0
    for path in folder.glob("*.toml"):
        text, changed = SPOILT_TEXT.subn(lambda found: found[1] + json.dumps(SPITEFUL), path.read_text())
        path.write_text(text)
        count += changed
    return count


@pytest.mark.parametrize("lines", [TOLD_BY_A_PUMP, TOLD_BY_A_SAW], ids=["pump", "saw"])
def test_what_stands_in_a_file_moves_no_cursor_and_rings_no_bell(shop, lines):
    """Every command that prints, with escapes, BEL, NUL and direction marks in every text of every file."""
    shutil.copytree(EXAMPLES / "sand-only-sawmill-four", shop.folder / "saw")
    survey = shop.folder / "pump" / "survey-1.toml"
    survey.write_text('who = "x"\n' + survey.read_text().replace("[intake]", '[intake]\nhistory = "x"'))
    assert min(spiteful(shop.folder / name) for name in ("pump", "saw")) > 3
    done = (shop.folder / "pump" / "pass-1.toml").read_text().replace('units = "mm"', "")
    (shop.folder / "try.toml").write_text('head = "pump/head.toml"\nbow_before = "0.2 mm"\n' + done)
    shown = set()
    for words in lines:
        code, told = shop.run(*(word.replace("BAD", SPITEFUL.replace("\0", "")) for word in words))
        assert code == 0, (words, told)
        bad = {letter for letter in shop.out + told if not letter.isprintable()} - {"\n"}
        assert not bad, (words, bad)
        shown |= {words[0]} if "\\x1b[2J\\x07" in shop.out + told else set()
    assert "check" in shown
    for page in shop.folder.glob("*.html"):
        assert {letter for letter in page.read_text() if not letter.isprintable()} == {"\n"}


def test_what_is_typed_as_a_name_or_a_path_moves_no_cursor_either(measured):
    bad = SPITEFUL.replace("\0", "")
    for words in (
        ("plan", bad), (bad,), ("plan", "pump", f"--{bad}"), ("heads", "--book", bad), ("where", "--book", bad), ("strike", bad),
        ("import", bad), ("try", bad), ("measure", "pump", bad), ("export", "pump", "--out", f"{bad}.json"), ("sheet", "pump", "--show", bad),
        ("book", "merge", bad), ("new", bad),
    ):  # fmt: skip
        _, told = measured.run(*words)
        seen = {letter for letter in measured.out + told if not letter.isprintable()}
        assert seen <= {"\n"}, (words, seen)


def test_long_work_is_said_at_a_terminal_and_can_be_broken_off(measured):
    done = (measured.folder / "pump" / "pass-1.toml").read_text().replace('units = "mm"', "")
    (measured.folder / "try.toml").write_text('head = "pump/head.toml"\nbow_before = "0.2 mm"\n' + done)
    measured.run("plan", "pump")  # without a card a tightening is refused before anything is worked out
    before = measured.entries()
    for words, said in (
        (("check", "pump"), "looking at the shape"),
        (("plan", "pump"), "planning the pass"),
        (("tighten", "pump", "--torque", "5 Nm", "--goes", "0.3"), "working out the next torque"),
        (("try", "try.toml"), "trying it"),
    ):
        seat = Seat(words)
        seat.to_text(said)
        seat.press("\x03")
        seat.to_end()
        assert seat.code == 130, seat.seen
        assert "Traceback" not in seat.seen
    assert measured.entries() == before
