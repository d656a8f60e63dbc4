"""A torch known by its crayons: the power worked out drives the card; a crayon pair brackets it."""

import math

import pytest

from straighten.desk.dossier import bench_head
from straighten.errors import BadInput
from straighten.head import template_head
from straighten.heat.torch import power_from_trial

TEXT = template_head("tried")


def tried(*lines):
    return bench_head(TEXT.replace('# crayon = "250 C"', "\n".join(lines) + '\n# crayon = "250 C"'), "head")


def test_one_crayon_gives_the_power_that_melts_it_in_that_time():
    head = tried('crayon = "250 C"', 'crayon_after = "1.2 s"')
    assert head.torch.trial is not None
    expected = power_from_trial(head.alloy, head.casting.roof, head.torch.radius, head.torch.trial)
    assert head.torch.power == pytest.approx(expected)


def test_a_pair_brackets_the_power():
    alone = tried('crayon = "250 C"', 'crayon_after = "1.2 s"').torch.power
    pair = tried(
        'crayon = "250 C"', 'crayon_after = "1.2 s"', 'unmelted_crayon = "300 C"', 'unmelted_after = "1.2 s"'
    )
    # surface rise is linear in power: the hotter crayon asks for (300 - 20) / (250 - 20) times as much
    assert pair.torch.power == pytest.approx(alone * math.sqrt(280 / 230), rel=0.03)


@pytest.mark.parametrize(
    "lines", [('crayon = "250 C"',), ('unmelted_crayon = "300 C"', 'unmelted_after = "1 s"'),
              ('crayon = "10 C"', 'crayon_after = "1 s"'),
              ('crayon = "300 C"', 'crayon_after = "1 s"', 'unmelted_crayon = "250 C"', 'unmelted_after = "1 s"')],
)  # fmt: skip
def test_a_trial_that_tells_no_heat_is_refused(lines):
    with pytest.raises(BadInput, match="torch"):
        tried(*lines)


def test_without_a_trial_the_peak_aimed_at_stands():
    assert bench_head(TEXT, "head").torch.power is None
