"""A round of a tightening typed in one line: torque and two blades, decimal points or commas."""

import pytest

from straighten.clamp.tightening_log import check_log
from straighten.desk.dossier import default_dossier
from straighten.desk.typed import one_round, round_parts
from straighten.errors import BadInput

OWN = default_dossier()


def read(line):
    found = one_round(OWN, *round_parts(line))
    check_log((found,))
    return found


@pytest.mark.parametrize(
    "line",
    [
        "10 Nm, 0,10, 0,12",
        "10 Nm , 0,10 , 0,12",
        "10 Nm; 0,10; 0,12",
        "10 Nm 0,10 0,12",
        "10,0 Nm 0,10 mm 0,12 mm",
        "10Nm, 0.10mm, 0.12mm",
        "10 0.1 0.12",
        " 10 Nm;.10;.12 ",
    ],
)
def test_decimal_commas_are_understood_as_the_guide_promises(line):
    found = read(line)
    assert (found.torque, found.goes, found.does_not) == pytest.approx((10.0, 1e-4, 1.2e-4))


def test_inch_units_stand_behind_their_numbers():
    found = read("7 ft-lb 4 thou 1/64 in")
    assert (found.torque, found.goes, found.does_not) == pytest.approx(
        (9.4907, 4 * 25.4e-6, 25.4e-3 / 64), rel=1e-4
    )


@pytest.mark.parametrize("line", ["10 Nm - 0.04", "10 Nm; ; 0,04", "10 Nm none 0.04", "10 Nm, 0, 0.04"])
def test_that_no_blade_goes_is_typed_in_any_way(line):
    found = read(line)
    assert (found.goes, found.does_not) == (0.0, pytest.approx(4e-5))


@pytest.mark.parametrize("line", ["10 Nm 0.10", "10 Nm; 0.10; ", "10 Nm 0.10 -", "10 Nm 0.10 none"])
def test_that_every_blade_goes_is_typed_in_any_way(line):
    found = read(line)
    assert (found.goes, found.does_not) == (pytest.approx(1e-4), None)


@pytest.mark.parametrize(
    "line",
    [
        "10,5,6",  # 10.5 and 6, or 10, 5 and 6?
        "0.10,0.12",
        "10 Nm,0,10,0,12",
        "10 Nm 0.10 0.12 0.15",
        "; 0.10; 0.12",
        "10 N m 0.10 0.12",
        "9 bananas",
        "",
    ],
)
def test_what_can_be_read_in_two_ways_is_refused(line):
    with pytest.raises(BadInput) as fault:
        read(line)
    assert fault.value.fix


@pytest.mark.parametrize("line", ["10 Nm 0 10", "10 Nm, 4, 5", "10 Nm 0.004 0.005", "10 Nm 0.12 0.10"])
def test_blades_no_gauge_has_are_refused(line):
    with pytest.raises(BadInput):
        read(line)
