"""Drying after harvest."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.domain.drying import fuel_by_points_l_t, fuel_by_water_l_t, fuel_cost, fuel_per_point_l_t
from service.domain.moisture import mass_at_moisture
from service.errors import OutOfRange

WET, DRY = st.floats(15, 40), st.floats(5, 15)


@given(wet=WET, middle=st.floats(0, 1), dry=DRY, energy=st.floats(2.5, 8))
def test_drying_in_two_passes_takes_the_same_fuel(wet: float, middle: float, dry: float, energy: float) -> None:
    between = dry + middle * (wet - dry)
    rest = mass_at_moisture(1.0, wet, between)  # the second pass starts with less
    two = fuel_by_water_l_t(wet, between, energy, 23.5) + rest * fuel_by_water_l_t(between, dry, energy, 23.5)
    assert two == pytest.approx(fuel_by_water_l_t(wet, dry, energy, 23.5), abs=1e-9)


@given(wet=WET, dry=DRY)
def test_a_point_takes_more_water_out_of_wet_grain_than_points_say(wet: float, dry: float) -> None:
    """1 point from 1 t is 10 kg of water and the shrink of what stays: always more than 10 kg."""
    assert fuel_by_water_l_t(wet, dry, 1.0, 1.0) >= 10 * fuel_by_points_l_t(wet, dry, 1.0)


def test_both_routes_agree_for_maize_within_their_printed_ranges() -> None:
    """0.010 to 0.025 gal a bushel and point; 4.28 to 6.98 MJ/kg at 23.5 MJ/L: the ranges overlap."""
    by_points = [fuel_by_points_l_t(25, 15, fuel_per_point_l_t(gallons, 56)) for gallons in (0.010, 0.018, 0.025)]
    by_water = [fuel_by_water_l_t(25, 15, energy, 23.5) for energy in (4.28, 6.98)]
    assert by_points[0] < by_water[0] < by_points[1] < by_water[1] < by_points[2]


def test_a_bushel_is_a_mass_and_not_a_tonne() -> None:
    assert fuel_per_point_l_t(0.018, 56) == pytest.approx(0.018 * 3.785411784 / 0.0254011727, rel=1e-8)
    assert fuel_per_point_l_t(0.018, 28) == pytest.approx(2 * fuel_per_point_l_t(0.018, 56))


@pytest.mark.parametrize(
    "call",
    [
        lambda: fuel_per_point_l_t(-0.01, 56),
        lambda: fuel_per_point_l_t(0.01, 0),
        lambda: fuel_by_points_l_t(15, 16, 3),
        lambda: fuel_by_points_l_t(96, 15, 3),
        lambda: fuel_by_points_l_t(20, 15, math.nan),
        lambda: fuel_by_water_l_t(20, 15, -1, 23),
        lambda: fuel_by_water_l_t(20, 15, 4, 0),
        lambda: fuel_cost(-1, 2, 3),
        lambda: fuel_cost(1, -2, 3),
        lambda: fuel_cost(1, 2, 96),
    ],
)
def test_a_number_outside_its_range_is_refused(call: object) -> None:
    with pytest.raises(OutOfRange):
        call()  # type: ignore[operator]
