"""A place is moved by less than a kilometre, and cells are about one kilometre wide everywhere."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.domain.location import coarse_place
from service.errors import OutOfRange

EARTH_KM = 6371.0  # mean radius (R1) of the GRS 80 ellipsoid, to the kilometre
LATITUDE = st.floats(-90, 90)
LONGITUDE = st.floats(-180, 180)


def distance_km(one: tuple[float, float], other: tuple[float, float]) -> float:
    """Great-circle distance by the haversine."""
    (a, b), (c, d) = (tuple(map(math.radians, place)) for place in (one, other))
    half = math.sin((c - a) / 2) ** 2 + math.cos(a) * math.cos(c) * math.sin((d - b) / 2) ** 2
    return 2 * EARTH_KM * math.asin(min(1.0, math.sqrt(half)))


@settings(max_examples=300, deadline=None, database=None)
@given(latitude=LATITUDE, longitude=LONGITUDE)
def test_a_place_moves_less_than_a_kilometre_and_stays_on_earth(latitude: float, longitude: float) -> None:
    coarse = coarse_place(latitude, longitude)
    assert -90 <= coarse.latitude_deg <= 90
    assert -180 <= coarse.longitude_deg <= 180
    # half the diagonal of a cell of 1.11 km by at most 1.5 x 1.11 km
    assert distance_km((latitude, longitude), (coarse.latitude_deg, coarse.longitude_deg)) <= 1.01


@settings(max_examples=300, deadline=None, database=None)
@given(latitude=LATITUDE, longitude=LONGITUDE)
def test_rounding_twice_changes_nothing(latitude: float, longitude: float) -> None:
    once = coarse_place(latitude, longitude)
    again = coarse_place(once.latitude_deg, once.longitude_deg)
    assert distance_km((once.latitude_deg, once.longitude_deg), (again.latitude_deg, again.longitude_deg)) < 0.001


@pytest.mark.parametrize("latitude", [0, 10, 35, 48, 52.4, 60, 66.5, 75])
def test_a_field_is_hidden_among_a_square_kilometre_s_worth_of_places(latitude: float) -> None:
    """Walk east in steps of 10 m: the kept longitude stays the same for about a kilometre."""
    step = 0.01 / (EARTH_KM * math.pi / 180 * math.cos(math.radians(latitude)))
    kept = [coarse_place(latitude, 11 + step * number).longitude_deg for number in range(1000)]
    widths = [kept.count(value) * 0.01 for value in sorted(set(kept))[1:-1]]
    assert widths
    assert all(0.7 <= width <= 1.7 for width in widths)


@pytest.mark.parametrize(("latitude", "longitude"), [(90.01, 0), (-90.01, 0), (0, 180.01), (0, -181), (math.nan, 0)])
def test_a_place_off_the_earth_is_refused(latitude: float, longitude: float) -> None:
    with pytest.raises(OutOfRange):
        coarse_place(latitude, longitude)
