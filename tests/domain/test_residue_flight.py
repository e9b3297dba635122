"""Flight of straw and chaff: monotone in wind, symmetrical, bounded by motion without air."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.domain.residue_flight import Stream, landing_m, landings_m, reaches_m, shifts_m, still_path_m
from service.domain.residue_reach import calibrated
from service.errors import Contradiction, OutOfRange

FEW = settings(max_examples=15, deadline=None, database=None)
FALLS = st.floats(0.7, 9)
SPEEDS = st.floats(8, 45)
WINDS = (-12.0, -6.0, -3.0, -1.0, 0.0, 1.0, 3.0, 6.0, 12.0)


@FEW
@given(FALLS, SPEEDS, st.floats(0.5, 2.5), st.sampled_from([-90.0, -30.0, 0.0, 45.0, 90.0]))
def test_more_wind_to_the_right_lands_further_right(fall: float, speed: float, height: float, angle: float) -> None:
    rows = landings_m(Stream(fall, speed, height), [angle], WINDS, 0.0)
    landed = [row[0] for row in rows]
    assert landed == sorted(landed)
    assert landed[-1] - landed[0] > 0.5


@FEW
@given(FALLS, SPEEDS, st.floats(-10, 10), st.floats(-12, 12), st.sampled_from([15.0, 60.0, 90.0]))
def test_a_mirror_image_lands_at_the_mirror_image(
    fall: float, speed: float, slope: float, wind: float, angle: float
) -> None:
    one = landing_m(fall, speed, 1.5, angle_deg=angle, crosswind_m_s=wind, slope_deg=slope)
    other = landing_m(fall, speed, 1.5, angle_deg=-angle, crosswind_m_s=-wind, slope_deg=-slope)
    assert other == pytest.approx(-one, abs=1e-4)


@FEW
@given(FALLS, SPEEDS, st.floats(0.5, 2.5))
def test_air_only_shortens_the_throw(fall: float, speed: float, height: float) -> None:
    """Without air the piece falls for sqrt(2 h / g)."""
    (reach,) = reaches_m([fall], [speed], height)
    assert 0 < reach < speed * math.sqrt(2 * height / 9.80665)


@FEW
@given(SPEEDS, st.floats(0.5, 2.5))
def test_heavier_and_faster_pieces_fly_further(speed: float, height: float) -> None:
    by_fall = reaches_m([1.0, 2.0, 4.0, 8.0], [speed], height)
    by_speed = reaches_m([3.0], [5.0, 10.0, 20.0, 40.0], height)
    assert list(by_fall) == sorted(by_fall)
    assert list(by_speed) == sorted(by_speed)


def test_the_ground_falls_away_to_the_low_side() -> None:
    assert landing_m(3.35, 25, 1.5, angle_deg=0, slope_deg=8) > 0.1
    steeper = [landing_m(3.35, 25, 1.5, angle_deg=0, slope_deg=slope) for slope in (0, 2, 4, 8, 16)]
    assert steeper == sorted(steeper)


def test_long_before_it_falls_the_piece_follows_the_way_without_gravity() -> None:
    """From a millimetre the flight lasts 14 ms; along the throw only drag counts."""
    height = 1e-3
    seconds = math.sqrt(2 * height / 9.80665)
    assert reaches_m([3.35], [25], height)[0] == pytest.approx(still_path_m(3.35, 25, seconds), rel=0.12)


@FEW
@given(FALLS, st.floats(0.3, 9), st.floats(10, 40), st.floats(1, 2))
def test_the_calibrated_stream_reaches_as_far_as_was_measured(
    fall: float, reach: float, speed: float, height: float
) -> None:
    found = calibrated(reach, fall, speed, height, 2.5, 45.0)
    stream = found.stream
    assert reaches_m([stream.fall_speed_m_s], [stream.discharge_speed_m_s], height)[0] == pytest.approx(reach, rel=3e-3)
    assert stream.fall_speed_m_s >= fall * (1 - 1e-9)
    assert stream.discharge_speed_m_s <= 45 * (1 + 1e-9)
    if found.adapted != "faster":
        assert stream.fall_speed_m_s <= fall * 2.5 * (1 + 1e-9)
    assert found.adapted == (
        "slower" if reach < found.lone_reach_m else "drag" if stream.discharge_speed_m_s == speed else "faster"
    )


def test_shifts_stay_those_of_the_outermost_beyond_it() -> None:
    assert shifts_m([-1, 1], [0, 3], [-9, 9]) == (1, 2)


@pytest.mark.parametrize(
    "call",
    [
        lambda: landing_m(0, 25, 1.5),
        lambda: landing_m(3, 0, 1.5),
        lambda: landing_m(3, 25, 0),
        lambda: landing_m(3, 25, 1.5, angle_deg=91),
        lambda: landing_m(3, 25, 1.5, crosswind_m_s=61),
        lambda: landing_m(3, 25, 1.5, slope_deg=31),
        lambda: landing_m(3, 121, 1.5),
        lambda: still_path_m(0, 25, 1),
        lambda: still_path_m(3, 25, -1),
        lambda: calibrated(0, 3, 25, 1.5, 2.5, 40),
        lambda: calibrated(3, 16, 25, 1.5, 2.5, 40),
        lambda: calibrated(3, 3, 25, 1.5, 0.9, 40),
        lambda: calibrated(39, 1, 25, 1.5, 1.0, 40),
        lambda: calibrated(3, 3, 25, 1.5, 2.5, 24),
        lambda: landings_m(Stream(3, 25, 1.5), [], [0.0], 0.0),
    ],
)
def test_what_is_out_of_range_is_refused(call: object) -> None:
    with pytest.raises(OutOfRange):
        call()  # type: ignore[operator]


@pytest.mark.parametrize("call", [lambda: shifts_m([0, 1], [0], [0]), lambda: shifts_m([1, 0], [0, 1], [0])])
def test_what_contradicts_itself_is_refused(call: object) -> None:
    with pytest.raises(Contradiction):
        call()  # type: ignore[operator]
