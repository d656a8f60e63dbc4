"""Every command has --json, and what it then says is one JSON object that names its schema."""

import json

import pytest

from tests.reference.answers import answers
from tests.reference.commands import commands

# The command's answer is what it prints without --out; the schema is then the export's own.
SCHEMAS = {
    "new": "new", "measure": "check", "check": "check", "where": "where", "plan": "plan", "tighten": "tighten",
    "stage": "stage", "settle": "settle",
    "log": "log", "decide": "decide", "try": "try", "explain": "explain", "sheet": "sheet", "sand": "sand",
    "finish": "finish", "bench": "bench", "heads": "heads", "history": "history", "export": "export",
    "import": "import", "strike": "strike", "book check": "book-check", "book rescue": "book-rescue",
    "book merge": "import",
}  # fmt: skip


def test_the_list_is_of_all_commands():
    assert {name for name, _ in commands()} == set(SCHEMAS)


@pytest.mark.parametrize("command", SCHEMAS)
def test_every_command_takes_json(command):
    import inspect

    assert "as_json" in inspect.signature(dict(commands())[command]).parameters


@pytest.fixture(scope="module")
def said():
    return answers()


@pytest.mark.parametrize("schema", sorted(set(SCHEMAS.values())))
def test_every_answer_is_one_object_that_names_its_schema(said, schema):
    given = [answer for name in said if name.startswith(f"straighten/{schema}/") for answer in said[name]]
    assert given
    for answer in given:
        assert isinstance(answer, dict)
        json.dumps(answer, allow_nan=False)


def test_a_table_and_json_at_once_are_refused(tmp_path, capsys):
    from straighten.cli import main

    book = str(tmp_path / "b.book")
    assert main(["export", "nobody", "--csv", "--json", "--book", book]) == 3
    fault = json.loads(capsys.readouterr().err)
    assert fault["schema"] == "straighten/error/1"
    assert fault["where"] == "--csv"
