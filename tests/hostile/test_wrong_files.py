"""A sound file given where another is due: the message says which kind it looks like and which is due."""

import pytest

from straighten.errors import BadInput
from straighten.filecheck import KINDS, refuse_other_kind
from tests.hostile.doors import Doors
from tests.hostile.spoilt import sound
from tests.reference.files import models

CALLED = {
    "head": "head file",
    "survey": "survey",
    "setup": "set-up file",
    "tightening": "tightening log",
    "sand-log": "sanding log",
    "surface": "survey of a surface",
    "finish": "final list",
}
# A survey of a head read as that of a surface lacks the surface's size alone; a log of rounds alone has no key that a
# set-up has not: both are told by the key at fault.
LIKE = {("surface", "survey"), ("setup", "tightening")}
PAIRS = [(due, given) for due in CALLED for given in CALLED if due != given and (due, given) not in LIKE]


@pytest.fixture(scope="module")
def doors(tmp_path_factory):
    return Doors(tmp_path_factory.mktemp("doors"))


@pytest.mark.parametrize(("due", "given"), PAIRS)
def test_a_file_of_another_kind_is_called_what_it_looks_like(doors, due, given):
    path = doors.folder / "given.toml"
    for text in sound(given):
        path.write_text(text)
        with pytest.raises(BadInput) as fault:
            doors.doors[due](path)
        assert f"this looks like a {CALLED[given]} (" in str(fault.value)
        assert f"a {CALLED[due]} is due" in str(fault.value)
        assert "given.toml" in str(fault.value)


@pytest.mark.parametrize("kind", CALLED)
def test_a_file_with_a_misspelt_key_is_still_of_its_own_kind(doors, kind):
    path = doors.folder / "slip.toml"
    for text in sound(kind):
        path.write_text("zzz = 1\n" + text)
        with pytest.raises(BadInput, match="zzz: unknown key"):
            doors.doors[kind](path)


def test_the_kinds_have_the_keys_that_their_files_take():
    taken = {title: frozenset(model.model_fields) for title, _, model in models()}
    told = {"Head file": "head file", "Survey file": "survey", "Set-up file": "set-up file", "Sand log": "sanding log",
            "Tightening file": "tightening log", "Final list": "final list"}  # fmt: skip
    assert taken == {title: KINDS[kind] for title, kind in told.items()}
    assert KINDS["survey of a surface"] == KINDS["survey"] | {"name", "length", "width", "grade"}


def test_a_few_shared_keys_prove_nothing():
    for keys in ({}, {"units": "mm"}, {"units": "mm", "head": "x"}, {"zzz": 1}):
        for kind in KINDS:
            if set(keys) <= KINDS[kind] or not set(keys) & frozenset().union(*KINDS.values()):
                refuse_other_kind(keys, kind, "f.toml")


def test_a_head_that_nobody_knows_is_named_before_its_survey(shop):
    told = shop.refused("measure", "pump-fuor", "survey-1.toml")
    assert told.index("pump-fuor/head.toml") < told.index("survey-1.toml")
    assert "Check the name of the head" in told


def test_a_survey_to_plan_from_goes_with_a_head(shop):
    told = shop.refused("plan", "--survey", "x.csv")
    assert "None" not in told
    assert "straighten plan NAME --survey x.csv" in told
    told = shop.refused("plan", "pump-fuor", "--survey", "x.csv")
    assert "pump-fuor/head.toml" in told


def test_a_survey_of_another_head_is_refused(shop):
    survey = shop.folder / "pump" / "survey-1.toml"
    survey.write_text('head = "ferry-six"\n' + survey.read_text())
    told = shop.refused("measure", "pump", "survey-1.toml")
    assert "ferry-six" in told
    survey.write_text(survey.read_text().replace("ferry-six", "irrigation-pump-four"))
    assert shop.run("measure", "pump", "survey-1.toml")[0] == 0
