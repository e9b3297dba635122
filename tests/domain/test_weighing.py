"""Weighed frames."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.domain.weighing import check_frames, frames_needed_weighed, variation_pct, weighed_density
from service.errors import OutOfRange

MASSES = st.lists(st.floats(0, 500), min_size=2, max_size=12)


@given(masses=MASSES, area=st.floats(0.05, 4))
def test_density_lies_within_its_limits_and_is_never_negative(masses: list[float], area: float) -> None:
    found = weighed_density(masses, [area] * len(masses))
    assert 0 <= found.low <= found.value <= found.high
    assert found.value == pytest.approx(sum(masses) / (area * len(masses)), rel=1e-12, abs=1e-12)


@given(masses=MASSES)
def test_grams_on_twice_the_area_are_half_as_dense(masses: list[float]) -> None:
    one, two = (weighed_density(masses, [a] * len(masses)) for a in (0.5, 1.0))
    assert two.high == pytest.approx(one.high / 2, abs=1e-9)


def test_a_lower_limit_below_zero_is_given_as_zero() -> None:
    assert weighed_density([0.0, 5.0], [1.0, 1.0]).low == 0


def test_mass_in_step_with_area_has_no_scatter() -> None:
    limits = weighed_density([1.0, 2.0, 4.0], [0.25, 0.5, 1.0])
    assert (limits.low, limits.high) == (4.0, 4.0)


@given(cv=st.floats(0, 300), error=st.floats(0.05, 1))
def test_frames_rise_with_scatter_and_with_precision(cv: float, error: float) -> None:
    frames = frames_needed_weighed(cv, error)
    assert frames >= 2
    assert frames_needed_weighed(cv * 1.5, error) >= frames
    assert frames_needed_weighed(cv, error / 1.5) >= frames


@pytest.mark.parametrize(
    "call",
    [
        lambda: weighed_density([1.0], [1.0]),
        lambda: weighed_density([1.0, -2.0], [1.0, 1.0]),
        lambda: weighed_density([1.0, math.inf], [1.0, 1.0]),
        lambda: variation_pct([0.0, 0.0], [1.0, 1.0]),
        lambda: frames_needed_weighed(-1, 0.2),
        lambda: frames_needed_weighed(30, 0),
        lambda: check_frames("masses_g", [1.0, 2.0], [1.0, 1.0, 1.0], 1),
    ],
)
def test_out_of_range_is_refused(call: object) -> None:
    with pytest.raises(OutOfRange):
        call()  # type: ignore[operator]
