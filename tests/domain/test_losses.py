"""Loss arithmetic: balances, traps of the printed sources, refusals."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.domain.kernel_counts import loss_by_rule
from service.domain.losses import (
    concentration_factor,
    field_loss,
    loss_for_share,
    loss_share_pct,
    loss_value,
    share_of_harvest_pct,
    split_losses,
    whole_swath_loss_kg_ha,
)
from service.errors import OutOfRange

DENSITY = st.floats(0, 1e4)
FACTOR = st.floats(1, 20)


@given(standing=DENSITY, cut=DENSITY, discharge=DENSITY, factor=FACTOR)
def test_parts_add_up_to_the_total(standing: float, cut: float, discharge: float, factor: float) -> None:
    split = split_losses(standing, cut, discharge, factor)
    assert split.preharvest + split.header + split.machine == pytest.approx(split.total, abs=1e-9)
    assert split.caused == pytest.approx(split.total - split.preharvest, abs=1e-8)
    # the total does not care what fell before the machine came
    assert split.total == pytest.approx(cut + (discharge - cut) / factor, abs=1e-8)


@given(ground=DENSITY, factor=FACTOR)
def test_concentration_never_touches_what_lay_on_the_ground(ground: float, factor: float) -> None:
    split = split_losses(0, ground, ground, factor)
    assert (split.machine, split.total) == (0, ground)


def test_dividing_everything_by_the_factor_hides_most_of_what_lay_on_the_ground() -> None:
    right = split_losses(3, 13, 133, 6).total
    wrong = 133 / 6
    assert right - wrong == pytest.approx(13 * 5 / 6)


def test_front_loss_subtracts_counts_before_the_rule_is_applied() -> None:
    # the printed expression takes kilograms from kernels: (B x 100 / n) - P with B 60, P 15, n 27
    right = loss_by_rule(60 - 15, 27, 100)
    assert right == pytest.approx(loss_by_rule(60, 27, 100) - loss_by_rule(15, 27, 100))
    assert loss_by_rule(60, 27, 100) - 15 > 1.2 * right


def test_soybean_limits_of_nebraska_add_up_as_printed() -> None:
    # shatter 0.75, stubble 0.75, lodged 0.5, loose 0.5, machine in all 2.75, pre-harvest 0.25, all 3 %
    gathering = 0.75 + 0.75 + 0.5 + 0.5
    split = split_losses(0.25, 0.25 + gathering, 0.25 + gathering + (2.75 - gathering), 1)
    assert (split.caused, split.total) == (2.75, 3.0)


@given(share=st.floats(0, 99), harvested=st.floats(0.1, 20))
def test_share_and_loss_are_inverses(share: float, harvested: float) -> None:
    assert loss_share_pct(loss_for_share(share, harvested), harvested) == pytest.approx(share, abs=1e-9)


@given(loss=st.floats(0.001, 20), harvested=st.floats(0.1, 20))
def test_percent_of_what_grew_is_below_percent_of_harvest(loss: float, harvested: float) -> None:
    assert loss_share_pct(loss, harvested) < share_of_harvest_pct(loss, harvested)


@given(parts=st.lists(st.floats(0, 3), min_size=3, max_size=3), harvested=st.floats(0.5, 20))
def test_shares_of_the_parts_add_up(parts: list[float], harvested: float) -> None:
    total = sum(parts)
    shares = sum(loss_share_pct(part, harvested, total - part) for part in parts)
    assert shares == pytest.approx(loss_share_pct(total, harvested), abs=1e-9)


@given(mass=st.floats(0, 1e4), width=st.floats(1, 20), length=st.floats(0.2, 10))
def test_whole_swath_needs_no_concentration_factor(mass: float, width: float, length: float) -> None:
    strip = 10 * mass / (length * width / 6)
    assert whole_swath_loss_kg_ha(mass, length, width) == pytest.approx(field_loss(strip, 6))


def test_discharge_as_wide_as_the_cut_is_not_concentrated() -> None:
    assert concentration_factor(7.5, 7.5) == 1


def test_a_discharge_wider_than_the_cut_says_so() -> None:
    with pytest.raises(OutOfRange) as refusal:
        concentration_factor(6.0, 6.01)
    assert refusal.value.facts["reason"] == "wider_than_cut"
    assert refusal.value.facts["high"] == 6.0


@pytest.mark.parametrize(
    "call",
    [
        lambda: concentration_factor(0, 1),
        lambda: concentration_factor(5, 0),
        lambda: field_loss(5, 0.9),
        lambda: field_loss(-5, 2),
        lambda: split_losses(-1, 2, 3, 4),
        lambda: split_losses(1, 2, math.nan, 4),
        lambda: split_losses(1, 2, 3, 0.5),
        lambda: loss_share_pct(1, 0),
        lambda: loss_share_pct(-1, 5),
        lambda: loss_share_pct(1, 5, -1),
        lambda: loss_for_share(99.5, 5),
        lambda: loss_for_share(1, 0),
        lambda: share_of_harvest_pct(-1, 5),
        lambda: loss_value(1, -1),
        lambda: loss_value(math.inf, 1),
        lambda: whole_swath_loss_kg_ha(5, 0, 9),
        lambda: whole_swath_loss_kg_ha(5, 1, 0),
    ],
)
def test_out_of_range_is_refused(call: object) -> None:
    with pytest.raises(OutOfRange):
        call()  # type: ignore[operator]
