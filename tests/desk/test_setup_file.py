"""The set-up file: what it means, and each thing that cannot be refused with its key."""

import pytest

from straighten.desk.dossier import default_dossier
from straighten.desk.setup_file import bows_before, head_path, setup_file, setup_of
from straighten.errors import BadInput
from straighten.filecheck import parse_toml
from straighten.plan.records import setup_from_plain, setup_to_plain

SPOTS = '[[spots]]\nstations = [200]\nflame_radius = "12 mm"\ndwell = "4 s"\n'
SOAK = '[soak]\ntemperature = "200 C"\nhold = "4 h"\n'


@pytest.fixture(scope="module")
def head():
    return default_dossier().head


def read(text, head):
    file = setup_file(parse_toml(text, "s.toml"), where="s.toml", system="mm")
    return setup_of(file, head, "s.toml")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (SPOTS + "peak = 500\n[clamp]\nshims = 0.2\n" + SOAK, "heat spots and a soak in one pass"),
        (SOAK, "without a clamp straightens nothing"),
        ('[clamp]\nshims = 0.2\ngap = 0\ntorque = "20 Nm"\n', "gap and torque are given"),
        ("[clamp]\nshims = 20\n", "shim height"),
        ("[clamp]\nshims = 0.2\npull_at = [5]\n", "no bolt at 5.0 mm"),
        (SPOTS, "either the surface peak or the absorbed power"),
        (SPOTS.replace("200", "2000") + "peak = 500\n", "outside the head"),
        (SPOTS.replace("12 mm", "120 mm") + "peak = 500\n", "allowed is 3 to 40 mm"),
        (SPOTS.replace("4 s", "4 h") + "peak = 500\n", "allowed is 0.5 to 60 s"),
        ("[clamp]\nshims = 0.2\n" + SOAK.replace("200 C", "600 C"), "allowed is 60 to 420 C"),
        ("[clamp]\nshims = 0.2\n" + SOAK.replace("4 h", "400 h"), "allowed is 0 to 300 h"),
    ],
)
def test_what_cannot_be_is_refused_with_its_file(head, text, words):
    with pytest.raises(BadInput) as fault:
        read(text, head)
    assert words in str(fault.value)
    assert str(fault.value).startswith("s.toml")


def test_shims_are_one_height_or_two_or_four(head):
    assert read("[clamp]\nshims = 0.2\n", head).clamp.shims == (2e-4, 2e-4, 2e-4, 2e-4)
    assert read("[clamp]\nshims = 0.2\nrear_shims = 0.1\n", head).clamp.shims == (2e-4, 2e-4, 1e-4, 1e-4)
    four = read("[clamp]\ncorners = [0.1, 0.2, 0.3, 0.4]\n", head).clamp.shims
    assert four == pytest.approx((1e-4, 2e-4, 3e-4, 4e-4))


def test_a_torque_is_a_tension_and_takes_the_place_of_the_gap(head):
    clamp = read('[clamp]\nshims = 0.2\ntorque = "20 Nm"\n', head).clamp
    assert clamp.gap is None
    # short form T = 0.2 F d of the trade, within the difference of thread pitch and friction (from memory)
    assert clamp.tension == pytest.approx(20 / (0.2 * 0.010), rel=0.3)


def test_a_pull_names_the_bolts_near_a_station_on_both_sides(head):
    station = head.bolts[0].station
    chosen = read(f"[clamp]\nshims = 0.2\npull_at = [{1e3 * station:.1f}]\n", head).clamp.bolts
    assert {head.bolts[n].station for n in chosen} == {station}
    assert len(chosen) == sum(bolt.station == station for bolt in head.bolts)


def test_spots_burn_together_or_one_after_the_other(head):
    together = read(SPOTS.replace("[200]", "[150, 250]") + "peak = 500\n", head).spots
    assert {spot.start for spot in together} == {0.0}
    assert len(together) == 4
    apart = read(
        SPOTS.replace("[200]", "[150, 250]") + 'peak = 500\ntogether = false\npause = "5 min"\n', head
    ).spots
    assert [spot.start for spot in apart] == [304.0 * n for n in range(4)]


@pytest.mark.parametrize(
    "text", ["[clamp]\nshims = 0.2\n", SPOTS + "peak = 500\n", "[clamp]\nshims = 0.1\n" + SOAK]
)
def test_a_set_up_comes_back_from_the_book_as_it_went_in(head, text):
    setup = read(text, head)
    assert setup_from_plain(setup_to_plain(setup)) == setup


def test_bows_before_are_asked_for_and_bounded(tmp_path):
    def bows(text):
        return bows_before(setup_file(parse_toml(text, "s"), where="s", system="mm"), "s")

    assert bows("bow_before = 0.4\n") == pytest.approx((4e-4, 4e-4))
    assert bows("deck_bow_before = 0.4\ncam_bow_before = 0.3\n") == pytest.approx((4e-4, 3e-4))
    with pytest.raises(BadInput, match="the bow before is missing"):
        bows("rounds = 1\n")
    with pytest.raises(BadInput, match="bow_before"):
        bows("bow_before = 40\n")


def test_the_head_is_named_beside_the_set_up(tmp_path):
    file = setup_file(parse_toml('head = "head.toml"\n', "s"), where="s", system="mm")
    assert head_path(file, tmp_path / "s.toml") == tmp_path / "head.toml"
    with pytest.raises(BadInput, match="the head is missing"):
        head_path(setup_file({}, where="s", system="mm"), tmp_path / "s.toml")


def test_the_older_word_for_the_flames_radius_is_still_read_and_both_together_are_not(head):
    new = SPOTS + "peak = 480\n"
    old = new.replace("flame_radius", "flux_radius")
    assert read(old, head) == read(new, head)
    with pytest.raises(BadInput) as fault:
        read(new + 'flux_radius = "12 mm"\n', head)
    assert "flux_radius" in fault.value.where
