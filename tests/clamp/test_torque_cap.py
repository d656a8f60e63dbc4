"""The most torque on a card: the least of bolt, base thread, washer face and casting, by numbers worked out by hand.

M10x1.5: stress area 58.0 mm2, d2 = 9.026 mm, bearing diameter 12.8 mm (ISO 898-1, ISO 724, ISO 4032 and ISO 273), so at a
friction of 0.08 torque over tension is 0.16 * 1.5 + (0.58 * 9.026 + 12.8 / 2) * 0.08 = 1.171 mm (VDI 2230 part 1).
"""

import json
import re

import pytest

from straighten.cli import main
from straighten.head import template_head
from tests.slow import slow_after

SURVEY = "straighten/desk/example_survey.toml"
PER_KN = 1.171  # N m of torque for each kN, M10x1.5 at a friction of 0.08
SLIPPERY = 0.02  # rounding of the hand arithmetic


def carded(folder, capsys, *changes):
    text = template_head("tried")
    for old, new in changes:
        assert re.search(old, text), old
        text = re.sub(old, new, text)
    path = folder / "tried.toml"
    path.write_text(text)
    capsys.readouterr()
    found = main(["plan", str(path), "--survey", SURVEY, "--json"])
    out = capsys.readouterr()
    assert found == 0, out.err
    return json.loads(out.out)


BOLT = 'grade = "10.9"'


@pytest.mark.slow
def test_the_bolt_binds_where_the_stud_goes_through(tmp_path, capsys):
    """M10x1.5 10.9: proof load 48.1 kN (EN ISO 898-1 table), of which a clamp bolt gets three quarters."""
    card = carded(tmp_path, capsys, (BOLT, BOLT + "\nthrough = true"))
    assert card["most_torque_limit"] == "bolt proof load"
    assert card["most_torque_Nm"] == pytest.approx(0.75 * 48.1 * PER_KN, rel=SLIPPERY)


def test_a_thread_of_one_diameter_in_aluminium_binds(tmp_path, capsys):
    """M10 in aluminium strips at 33 kN (FED-STD-H28, 200 MPa, 0.6 in shear); it is used again and again: 0.6 of that."""
    card = carded(tmp_path, capsys, ('material = "steel"', 'material = "aluminium"'))
    assert card["most_torque_limit"] == "thread in the base"
    assert card["most_torque_Nm"] == pytest.approx(0.6 * 33.0 * PER_KN, rel=SLIPPERY)
    assert "thread in the base" in card["stop_rule"]


@pytest.mark.slow
def test_a_deeper_thread_in_aluminium_gives_way_to_the_bolt(tmp_path, capsys):
    deep = (BOLT, BOLT + '\nengagement = "25 mm"')
    card = carded(tmp_path, capsys, ('material = "steel"', 'material = "aluminium"'), deep)
    assert card["most_torque_limit"] == "bolt proof load"


@pytest.mark.slow
def test_a_nut_below_takes_the_base_thread_out_of_it(tmp_path, capsys):
    through = (BOLT, BOLT + "\nthrough = true")
    card = carded(tmp_path, capsys, ('material = "steel"', 'material = "aluminium"'), through)
    assert card["most_torque_limit"] == "bolt proof load"
    assert not any("thread in the base" in line for line in card["clamp_limits"])


@pytest.mark.slow
def test_the_weakest_of_unlike_bolts_binds(tmp_path, capsys):
    """M10x1.5 8.8: proof load 33.7 kN; one pair of them among 10.9 sets the torque of all."""
    rows = (
        "stations = [18, 111, 309, 402]",
        'through = true\n\n[[bolts]]\nstations = [210]\nthread = "M10x1.5"\ngrade = "8.8"\nthrough = true\n',
    )
    card = carded(
        tmp_path, capsys, (r"stations = \[18, 111, 210, 309, 402\]", rows[0]), (BOLT, f"{BOLT}\n{rows[1]}")
    )
    assert {bolt["grade"] for bolt in card["bolts"]} >= {"8.8"}
    assert card["most_torque_Nm"] == pytest.approx(0.75 * 33.7 * PER_KN, rel=SLIPPERY)


@pytest.mark.parametrize(
    ("alloy", "pressure"), slow_after(1, [("AlSi8Cu3-F", 220), ("319-T6", 290), ("A356-T6", 380)])
)
def test_a_small_washer_crushes_the_casting(tmp_path, capsys, alloy, pressure):
    """GK-AlSi9Cu3 220, GD-AlSi9Cu3 290, GK-AlSi7Mg wa 380 MPa: fastener tables after VDI 2230; 14 mm over an 11 mm hole."""
    small = (BOLT, BOLT + '\nthrough = true\nwasher = "14 mm"')
    area = 3.14159 / 4 * (14**2 - 11**2)  # mm2
    card = carded(tmp_path, capsys, ('alloy = "A356-T6"', f'alloy = "{alloy}"'), small)
    assert card["most_torque_limit"] == "face under the washer"
    assert card["most_torque_Nm"] == pytest.approx(pressure * area / 1e3 * PER_KN, rel=SLIPPERY)


@pytest.mark.slow
def test_a_slender_soft_casting_binds_before_strong_bolts(tmp_path, capsys):
    """As cast, 90 MPa less one deviation of 0.12: a beam on two supports reaches that long before M14 12.9 does."""
    strong = ('thread = "M10x1.5"', 'thread = "M14"\nthrough = true')
    soft = ('alloy = "A356-T6"', 'alloy = "AlSi7Mg-F"')
    card = carded(tmp_path, capsys, strong, soft, (BOLT, 'grade = "12.9"'))
    assert card["most_torque_limit"] == "casting against its cold yield"


def test_no_round_asks_for_more_than_the_cap(tmp_path, capsys):
    card = carded(tmp_path, capsys, ('material = "steel"', 'material = "aluminium"'))
    assert card["rounds"]
    assert all(turn["torque_Nm"] <= card["most_torque_Nm"] for turn in card["rounds"])


def test_one_weak_pair_among_strong_ones_sets_the_torque_of_all():
    """M10x1.5 8.8 among 10.9: proof load 33.7 kN (EN ISO 898-1 table); no bolt may have more than the weakest can bear."""
    from dataclasses import replace

    from straighten.clamp import ClampSetup
    from straighten.clamp.tightening import torque_cap
    from tests.clamp.benches import pump_head

    head = pump_head()
    for weak in (2, 5, 7):
        bolts = (
            replace(b, through=True, grade="8.8" if n == weak else "10.9") for n, b in enumerate(head.bolts)
        )
        cap = torque_cap(
            replace(head, bolts=tuple(bolts)),
            ClampSetup(shims=(1e-4,) * 4, bolts=(2, 3, 4, 5, 6, 7), gap=0.0),
        )
        assert cap.torque == pytest.approx(0.75 * 33.7 * PER_KN, rel=SLIPPERY)


# --- the casting's own limit, by hand ---------------------------------------------------------------------------


def test_the_casting_is_held_to_half_of_its_yield_less_one_deviation():
    """LM25-TF: 230 MPa, log deviation 0.09, so 230 * 0.914 / 2 = 105.1 MPa."""
    from dataclasses import replace

    from straighten.clamp import ClampSetup, clamp_head, section_of
    from straighten.clamp.limits import limits_of
    from straighten.head.alloys import alloy_named
    from tests.clamp.benches import bowed, draws, pump_head

    head = replace(pump_head(), alloy=alloy_named("LM25-TF"))
    setup = ClampSetup(shims=(1e-4,) * 4, bolts=(4, 5), gap=5e-5)
    clamped = clamp_head(head, bowed(3e-4), setup, draws([1.0]))
    found = {limit.name: limit for limit in limits_of(head, section_of(head), clamped, setup)}
    assert found["casting against its cold yield"].allowed == pytest.approx(105.1e6, rel=0.001)


def test_the_load_that_bends_a_bar_to_its_yield():
    """Roark, centre load P on supports L apart: stress = P L c / (4 I). Solid bar 0.40 x 0.15 x 0.10 m, shims 0.38 m apart."""
    from straighten.clamp import ClampSetup
    from straighten.clamp.tightening import casting_load
    from straighten.head.records import Plates
    from tests.clamp.benches import plain_head

    head = plain_head(0.4, 0.15, 0.1, plates=Plates(solid=True), stations=(0.2,), shims=(0.01, 0.39))
    alloy = head.alloy
    yields = alloy.yield_short[0][1] * 2.718281828**-alloy.spread
    load = yields * 4 * (0.15 * 0.1**3 / 12) / (0.05 * 0.38)  # of both bolts
    found = casting_load(head, ClampSetup(shims=(1e-4,) * 4, bolts=(0, 1), gap=0.0))
    assert 2 * found == pytest.approx(load, rel=1e-6)


# --- a torque over it -------------------------------------------------------------------------------------------


def test_try_refuses_a_torque_over_the_cap_and_log_tells_it(tmp_path, capsys):
    head = tmp_path / "tried.toml"
    head.write_text(template_head("tried"))
    setup = tmp_path / "setup.toml"
    setup.write_text(
        f'head = "{head}"\nbow_before = "0.3 mm"\n[clamp]\nshims = "0.1 mm"\ntorque = "60 Nm"\n'
        '[[spots]]\nstations = [160, 260]\nflux_radius = 12\ndwell = "4 s"\npeak = "450 C"\n'
    )
    assert main(["try", str(setup), "--json"]) == 3
    assert "60 Nm" in json.loads(capsys.readouterr().err)["problem"]
    book = ["--book", str(tmp_path / "b.book")]
    assert main(["measure", str(head), SURVEY, *book]) == 0
    capsys.readouterr()
    assert main(["log", str(head), "--done", str(setup), "--json", *book]) == 0
    (said,) = json.loads(capsys.readouterr().out)["broke"]
    assert "threads" in said
