"""What one head's passes taught reaches the next head's card by way of the book, and is taken back with a struck entry."""

import contextlib
import io
import json
from pathlib import Path

import pytest

from straighten.book import open_book
from straighten.cli import main

FOLDER = Path(__file__).parents[2] / "worked_examples" / "irrigation-pump-four"


def answered(book, *command):
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = main([*command, "--book", str(book), "--json"])
    assert code == 0, err.getvalue()
    return json.loads(out.getvalue())


def a_head(folder, name):
    """The example's head under another name, measured in the book."""
    text = (FOLDER / "head.toml").read_text(encoding="utf-8")
    path = folder / f"{name}.toml"
    path.write_text(text.replace('"irrigation-pump-four"', f'"{name}"'), encoding="utf-8")
    answered(folder / "shop.book", "measure", str(path), str(FOLDER / "survey-1.toml"))
    return str(path)


@pytest.fixture(scope="module")
def shop(tmp_path_factory):
    """A book with one head that had two passes, and another that was only measured."""
    folder = tmp_path_factory.mktemp("shop")
    book, first = folder / "shop.book", a_head(folder, "weir-one")
    for number in (1, 2):
        answered(book, "plan", first)
        answered(
            book, "log", first, str(FOLDER / f"survey-{number + 1}.toml"), "--done", str(FOLDER / f"pass-{number}.toml")
        )  # fmt: skip
    return folder, book, a_head(folder, "weir-two")


def factors(book, name):
    return {f["name"]: f for f in answered(book, "history")["groups"][0]["factors"]}[name]


def test_history_shows_what_the_shop_has_taught(shop):
    told = answered(shop[1], "history")["groups"][0]
    assert (told["heads"], told["passes"]) == (1, 2)
    shrinkage = factors(shop[1], "shrinkage")
    assert shrinkage["shop"] != shrinkage["published"]


def test_the_next_head_starts_from_it(shop, tmp_path):
    _, book, second = shop
    alone = a_head(tmp_path, "weir-two")
    among, by_itself = answered(book, "plan", second), answered(tmp_path / "shop.book", "plan", alone)
    taught, published = among["cam_after_mm"], by_itself["cam_after_mm"]
    assert taught != published
    # one head of the same casting that answered as foretold: less doubt about the next
    assert taught["high"] - taught["low"] < published["high"] - published["low"]


def test_a_struck_pass_teaches_nothing_any_more(shop, tmp_path):
    book = tmp_path / "copy.book"
    book.write_bytes(shop[1].read_bytes())
    with open_book(book) as opened:
        passes = [entry.number for entry in opened.entries("weir-one") if entry.kind == "pass"]
    for number in reversed(passes):
        answered(book, "strike", str(number), "--reason", "another head was on the plate")
    assert answered(book, "history")["groups"] == []
