"""Files that no bench ever wrote: one clear message, exit code 3, nothing recorded."""

import time

import pytest

from straighten.filecheck import LARGEST_FILE, parse_toml

BOMBS = {
    "brackets": ("a = " + "[" * 100_000, "not readable as TOML"),
    "tables in tables": ("a = " + "{a = " * 5000 + "1" + "}" * 5000, "not readable as TOML"),
    "dots": ("a." * 200_000 + "b = 1\n", "nested deeper"),
    "dots in a heading": ("[" + "a . " * 100_000 + "b]\n", "nested deeper"),
    "quoted dots": ("'a'.\"b\"." * 50_000 + "c = 1\n", "nested deeper"),
    "nested thirteen deep": ("a = " + "[" * 13 + "]" * 13, "nested deeper"),
    "keys": ("".join(f"a{n} = 1\n" for n in range(70_000)), "a0: unknown key"),
    "digits": ("stations = [" + "9" * 10_000 + "]\n", "not readable as TOML"),
    "a number of many digits": ("stations = [" + "9" * 400 + "]\n", "a whole number of 1329 bits; at most 64"),
    "size": ("#" * (LARGEST_FILE + 1), "at most 1000000 are read"),
    "nothing": ("", "no reading and no finding"),
    "a long word": ("a" * 900_000, "not readable as TOML"),
}  # fmt: skip


@pytest.mark.parametrize("bomb", BOMBS)
def test_a_bomb_is_refused_before_it_goes_off(shop, bomb):
    text, words = BOMBS[bomb]
    (shop.folder / "bomb.toml").write_text(text)
    begun = time.process_time()
    told = shop.refused("measure", "pump", "bomb.toml")
    assert words in told
    assert "bomb.toml" in told
    assert time.process_time() - begun < 20  # minutes, were it left to the parser


def test_words_with_full_stops_are_no_bomb():
    assert parse_toml('history = "' + "Ran hot. Bent. " * 9 + "..." * 40 + '"', "x")


@pytest.mark.parametrize("number", ["nan", "inf", "-inf", "+nan", "1e400", "-1e308", "1e17"])
@pytest.mark.parametrize("place", ["length = 420", "towers = [20"])
def test_what_is_no_number_of_a_bench_is_refused(shop, number, place):
    head = shop.folder / "pump" / "head.toml"
    text = head.read_text()
    key = place.split(" = ")[0]
    line = next(line for line in text.splitlines() if line.startswith(key + " "))
    fresh = f"{key} = [{number}, 100]" if "[" in line else f"{key} = {number}"
    head.write_text(text.replace(line, fresh))
    told = shop.refused("measure", "pump", "survey-1.toml")
    assert key in told


@pytest.mark.parametrize("cell", ["nan", "inf", "1e400"])
def test_a_reading_that_is_no_number_is_refused(shop, cell):
    (shop.folder / "s.toml").write_text(
        f'[[deck]]\nline = "centre"\nmode = "bridged"\ngaps = [0.05, {cell}, 0.05]\n'
    )
    assert "deck" in shop.refused("measure", "pump", "s.toml")


@pytest.mark.parametrize(
    ("raw", "words"),
    [
        (b"\xff\xfe\x00u", "not UTF-8"),
        ('units = "mm"'.encode("utf-16"), "not UTF-8"),
        (b'units = "m\0m"', "not readable as TOML"),
        (b"\0" * 5000, "not readable as TOML"),
    ],
    ids=["bytes", "utf-16", "a nought", "only noughts"],
)
def test_a_file_of_another_kind_is_refused(shop, raw, words):
    (shop.folder / "s.toml").write_bytes(raw)
    assert words in shop.refused("measure", "pump", "s.toml")


def test_a_byte_order_mark_is_no_fault(shop):
    path = shop.folder / "pump" / "survey-1.toml"
    path.write_bytes(b"\xef\xbb\xbf" + path.read_bytes())
    assert shop.run("measure", "pump", "survey-1.toml")[0] == 0


@pytest.mark.parametrize(
    ("key", "value"),
    [("length", "[420]"), ("length", "{ mm = 420 }"), ("length", "2026-03-01"), ("alloy", "[]"), ("mass", "true"),
     ("height", '"ninety"')],
)  # fmt: skip
def test_a_value_of_another_type_is_named_with_its_key(shop, key, value):
    head = shop.folder / "pump" / "head.toml"
    lines = head.read_text().splitlines(keepends=True)
    at = next((n for n, line in enumerate(lines) if line.startswith(key + " ")), None)
    if at is None:
        at = next(n for n, line in enumerate(lines) if line.startswith("[casting]"))
        lines[at] += f"{key} = {value}\n"
    else:
        lines[at] = f"{key} = {value}\n"
    head.write_text("".join(lines))
    assert f"casting.{key}" in shop.refused("measure", "pump", "survey-1.toml")


def test_what_moves_the_cursor_or_turns_the_writing_is_shown_as_an_escape(shop):
    (shop.folder / "s.toml").write_text('"\\u001b[2J\\u202egnp" = 1\n')
    told = shop.refused("measure", "pump", "s.toml")
    assert "\\x1b[2J\\u202e" in told
    assert "\x1b" not in told


@pytest.mark.parametrize("text", ["0,10 mm", "0.10 mm", ".10", "0,1", "4 thou"])
def test_a_decimal_comma_is_understood(shop, text):
    survey = f'[[deck]]\nline = "centre"\nmode = "bridged"\nstations = [210]\ngaps = ["goes {text}"]\n'
    (shop.folder / "s.toml").write_text(survey)
    assert shop.run("measure", "pump", "s.toml")[0] == 0


def test_a_comma_that_could_part_thousands_is_asked_back(shop):
    head = shop.folder / "pump" / "head.toml"
    line = next(line for line in head.read_text().splitlines() if line.startswith("length "))
    head.write_text(head.read_text().replace(line, 'length = "1,420 mm"'))
    assert "decimal comma or thousands" in shop.refused("measure", "pump", "survey-1.toml")


def test_a_survey_with_semicolons_and_decimal_commas_is_read(shop):
    rows = ["kind;line;mode;station_mm;goes_mm;stops_mm"]
    rows += [f"deck;centre;bridged;{x};{low};{high}" for x, low, high in
             (("70,5", "0,05", "0,06"), ("210", "0,15", "0,18"), ("350", "0,05", "0,06"))]  # fmt: skip
    (shop.folder / "s.csv").write_text("\n".join(rows))
    assert shop.run("measure", "pump", "s.csv", "--json")[0] == 0
    code, _ = shop.run("export", "pump", "--csv")
    assert code == 0
    assert "70.5,0.05,0.06" in shop.out
