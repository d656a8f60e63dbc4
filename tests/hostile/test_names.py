"""Names of heads: any language, no way out of the folder, nothing that a spreadsheet runs."""

import csv
import io
import json
import tomllib
import unicodedata

import pytest

from straighten.cli import main


@pytest.mark.parametrize(
    "name",
    [
        "../x",
        "/tmp/x",
        "a/b",
        "",
        "  ",
        "..",
        ".",
        "a" * 300,
        "a\0b",
        "x" * 200 + "é" * 40,
        "\x1b[31m",
        "\u202egnp",
    ],
)
def test_a_name_that_leads_elsewhere_makes_no_folder(shop, name):
    before = sorted(path.name for path in shop.folder.parent.rglob("*"))
    shop.refused("new", name)
    assert sorted(path.name for path in shop.folder.parent.rglob("*")) == before


@pytest.mark.parametrize(
    "name", ["../x", "C:\\x", "", "a" * 300, "é" * 200, "a\0b", "\x1b[31m", ".", "/", "~root", "\n"]
)
@pytest.mark.parametrize("command", ["check", "plan", "export"])
def test_a_name_that_no_head_has_is_refused(shop, name, command):
    shop.run("measure", "pump", "survey-1.toml")
    told = shop.refused(command, name)
    assert "\x1b" not in told
    assert "\0" not in told


@pytest.mark.parametrize(
    "name", ["שלום ארבע", "日本の四気筒", "pompe-à-eau", "C:\\x", "насос 4", "🔧", 'say "x"']
)
def test_a_name_in_any_writing_goes_all_the_way(shop, name):
    assert shop.run("new", name)[0] == 0
    text = (shop.folder / name / "head.toml").read_text(encoding="utf-8")
    assert tomllib.loads(text)["name"] == name
    pump = (
        (shop.folder / "pump" / "head.toml")
        .read_text(encoding="utf-8")
        .replace("irrigation-pump-four", "NAMED")
    )
    (shop.folder / name / "head.toml").write_text(
        pump.replace('"NAMED"', json.dumps(name, ensure_ascii=False)), encoding="utf-8"
    )
    for words in (("measure", name, "../pump/survey-1.toml"), ("plan", name), ("heads",), ("check", name)):
        code, told = shop.run(*words)
        assert code in (0, 5), told
    assert "Traceback" not in told


def test_two_spellings_of_one_letter_are_one_name(shop):
    long, short = unicodedata.normalize("NFD", "é"), unicodedata.normalize("NFC", "é")
    head = (shop.folder / "pump" / "head.toml").read_text()
    for place, name in enumerate((long, short)):
        (shop.folder / f"h{place}.toml").write_text(
            head.replace('name = "irrigation-pump-four"', f'name = "{name}"')
        )
        assert shop.run("measure", f"h{place}.toml", "pump/survey-1.toml")[0] == 0
    assert {kind for _, kind, _ in shop.entries()} == {"head", "survey"}
    main(["heads"])
    assert len([line for line in shop.run("heads", "--json")[1].splitlines() if line]) == 0
    assert shop.out.count('"name"') == 1


@pytest.mark.parametrize("name", ["../../outside", "/etc/x", "C:\\x", "\u202egnp", "CON"])
def test_a_sheet_is_written_into_this_folder_whatever_the_head_is_called(shop, name):
    head = shop.folder / "pump" / "head.toml"
    head.write_text(head.read_text().replace('"irrigation-pump-four"', f"'{name}'"))
    before = set(shop.folder.parent.rglob("*"))
    code, told = shop.run("measure", "pump", "survey-1.toml")
    if code == 0:
        assert shop.run("sheet", "pump")[0] == 0
        fresh = set(shop.folder.parent.rglob("*")) - before - {shop.book}
        assert {path.parent for path in fresh} == {shop.folder}
        assert all(path.suffix == ".html" for path in fresh)
    else:
        assert code == 3
        assert told.count("\n") == 1


@pytest.mark.parametrize("name", ["=cmd|' /C calc'!A0", "+1", "-1+2", "@SUM(A1)", "|x", "％1"])
def test_no_cell_of_an_export_is_run_by_a_spreadsheet(shop, name):
    # source: OWASP, CSV injection: cells that begin with = + - @ TAB CR (from memory)
    head = shop.folder / "pump" / "head.toml"
    head.write_text(head.read_text().replace('name = "irrigation-pump-four"', f'name = "{name}"'))
    assert shop.run("measure", "pump", "survey-1.toml")[0] == 0
    assert shop.run("export", "pump", "--csv")[0] == 0
    rows = list(csv.DictReader(io.StringIO(shop.out)))
    assert len(rows) > 10
    for row in rows:
        for cell in row.values():
            number = cell.lstrip("-").replace(".", "", 1).isdigit()
            assert number or not cell.lstrip(" ").startswith(("=", "+", "-", "@", "\t", "\r", "|"))
