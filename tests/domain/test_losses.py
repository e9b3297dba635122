"""Loss arithmetic: balances, limits that know what belongs together, bushels, refusals."""

import math
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.domain.losses import (
    bushels_per_tonne,
    concentration_factor,
    ground_loss_kg_ha,
    loss_for_share,
    loss_share_pct,
    loss_value,
)
from service.domain.types import Interval
from service.errors import OutOfRange
from service.units import convert

DENSITY = st.floats(0, 1e4)
STRIP = st.floats(0.05, 1)
HUNDRED = Interval(100.0, 100.0, 100.0)  # grams per thousand: kernels per square metre are kilograms per hectare


def exact(value: float) -> Interval:
    return Interval(value, value, value)


def limits(draw: st.DrawFn, value: float) -> Interval:
    below, over = draw(st.floats(0, value)), draw(st.floats(0, 100))
    return Interval(value, value - below, value + over)


@st.composite
def estimates(draw: st.DrawFn) -> Interval:
    return limits(draw, draw(st.floats(0, 1000)))


@given(standing=DENSITY, cut=DENSITY, discharge=DENSITY, share=STRIP)
def test_parts_add_up_to_the_total(standing: float, cut: float, discharge: float, share: float) -> None:
    p, b, a, q = (exact(value) for value in (standing, cut, discharge, share))
    header = ground_loss_kg_ha([(1, 0, b), (-1, 0, p)], [], q, HUNDRED)
    machine = ground_loss_kg_ha([(0, 1, a), (0, -1, b)], [], q, HUNDRED)
    total = ground_loss_kg_ha([(1, -1, b), (0, 1, a)], [], q, HUNDRED)
    assert standing + header.value + machine.value == pytest.approx(total.value, abs=1e-7)


@given(ground=estimates(), share=STRIP)
def test_strip_width_never_touches_what_lay_on_the_ground(ground: Interval, share: float) -> None:
    loss = ground_loss_kg_ha([(1, 0, ground)], [], Interval(share, 0.0, 1.0), HUNDRED)
    assert (loss.value, loss.low, loss.high) == pytest.approx((ground.value, ground.low, ground.high), abs=1e-7)


@given(cut=estimates(), discharge=estimates(), share=STRIP)
def test_total_of_two_densities_is_no_wider_than_cut_ground_and_machine_apart(
    cut: Interval, discharge: Interval, share: float
) -> None:
    q = exact(share)
    machine = ground_loss_kg_ha([(0, 1, discharge), (0, -1, cut)], [], q, HUNDRED)
    total = ground_loss_kg_ha([(1, -1, cut), (0, 1, discharge)], [], q, HUNDRED)
    apart = math.hypot(cut.high - cut.value, machine.high - machine.value)
    assert total.high - total.value <= apart + 1e-6


@given(count=estimates(), share=STRIP)
def test_counting_and_weighing_the_same_kernels_agree(count: Interval, share: float) -> None:
    grams = Interval(*(end * 0.04 for end in (count.value, count.low, count.high)))
    q = Interval(share, share * 0.9, share)
    counted = ground_loss_kg_ha([(0, 1, count)], [], q, exact(40.0))
    weighed = ground_loss_kg_ha([], [(0, 1, grams)], q, exact(40.0))
    assert (counted.low, counted.high) == pytest.approx((weighed.low, weighed.high), abs=1e-7)


def test_kernel_mass_is_one_factor_for_all_counts() -> None:
    # 20 % off in the mass is 20 % off in the difference, not in each of its parts
    mass = Interval(40.0, 32.0, 48.0)
    loss = ground_loss_kg_ha([(1, 0, exact(130)), (-1, 0, exact(120))], [], exact(1), mass)
    assert (loss.low, loss.value, loss.high) == pytest.approx((3.2, 4.0, 4.8))


def test_dividing_everything_by_the_factor_hides_most_of_what_lay_on_the_ground() -> None:
    right = ground_loss_kg_ha([(1, -1, exact(13)), (0, 1, exact(133))], [], exact(1 / 6), HUNDRED).value
    assert right - 133 / 6 == pytest.approx(13 * 5 / 6)


@given(share=st.floats(0, 99), harvested=st.floats(0.1, 20))
def test_share_and_loss_are_inverses(share: float, harvested: float) -> None:
    assert loss_share_pct(loss_for_share(share, harvested), harvested) == pytest.approx(share, abs=1e-9)


@given(loss=st.floats(0.001, 20), harvested=st.floats(0.1, 20))
def test_percent_of_what_grew_is_below_percent_of_harvest(loss: float, harvested: float) -> None:
    assert loss_share_pct(loss, harvested) < 100 * loss / harvested


@given(parts=st.lists(st.floats(0, 3), min_size=3, max_size=3), harvested=st.floats(0.5, 20))
def test_shares_of_the_parts_add_up(parts: list[float], harvested: float) -> None:
    total = sum(parts)
    shares = sum(loss_share_pct(part, harvested, total - part) for part in parts)
    assert shares == pytest.approx(loss_share_pct(total, harvested), abs=1e-9)


@given(bushel=st.floats(20, 80))
def test_bushels_of_a_tonne_weigh_a_tonne(bushel: float) -> None:
    assert convert(bushels_per_tonne(bushel) * bushel, "[lb_av]", "t") == pytest.approx(1)


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
        lambda: ground_loss_kg_ha([], [], Interval(0.9, 0.9, 1.1), HUNDRED),
        lambda: ground_loss_kg_ha([], [], Interval(0.1, -0.1, 0.2), HUNDRED),
        lambda: ground_loss_kg_ha([], [], Interval(0.5, 0.6, 0.7), HUNDRED),
        lambda: ground_loss_kg_ha([], [], exact(math.nan), HUNDRED),
        lambda: ground_loss_kg_ha([], [], exact(0.5), Interval(40, -1, 50)),
        lambda: loss_share_pct(1, 0),
        lambda: loss_share_pct(-1, 5),
        lambda: loss_share_pct(1, 5, -1),
        lambda: loss_for_share(99.5, 5),
        lambda: loss_for_share(1, 0),
        lambda: loss_value(1, -1),
        lambda: loss_value(math.inf, 1),
        lambda: bushels_per_tonne(0),
    ],
)
def test_out_of_range_is_refused(call: Callable[[], object]) -> None:
    with pytest.raises(OutOfRange):
        call()
