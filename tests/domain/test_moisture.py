"""Moisture: both bases, dry matter kept, shrink."""

import math
from collections.abc import Callable

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from service.domain.moisture import (
    dry_basis_pct,
    linear_shrink_factor,
    mass_at_moisture,
    shrink_factor_per_point,
    shrink_pct,
    water_removed_kg_t,
    wet_basis_pct,
    yield_at_moisture_t_ha,
)
from service.errors import OutOfRange

relaxed = settings(deadline=None)
moistures = st.floats(0, 95)
masses = st.floats(0, 1e6)


@relaxed
@given(moistures)
def test_bases_turn_into_each_other(moisture_pct: float) -> None:
    assert wet_basis_pct(dry_basis_pct(moisture_pct)) == pytest.approx(moisture_pct, rel=1e-12, abs=1e-12)


@relaxed
@given(moistures)
def test_dry_basis_is_never_below_wet_basis(moisture_pct: float) -> None:
    assert dry_basis_pct(moisture_pct) >= moisture_pct * (1 - 1e-12)


@relaxed
@given(masses, moistures, moistures)
def test_drying_there_and_back_keeps_the_mass(mass: float, first: float, second: float) -> None:
    there = mass_at_moisture(mass, first, second)
    assert mass_at_moisture(there, second, first) == pytest.approx(mass, rel=1e-12)


@relaxed
@given(masses, moistures, moistures)
def test_dry_matter_is_conserved(mass: float, first: float, second: float) -> None:
    answer = mass_at_moisture(mass, first, second)
    assert answer * (100 - second) == pytest.approx(mass * (100 - first), rel=1e-12)


@relaxed
@given(moistures, moistures)
def test_grain_and_water_make_up_the_tonne(wet: float, dry: float) -> None:
    assume(dry <= wet)
    assert mass_at_moisture(1000, wet, dry) + water_removed_kg_t(wet, dry) == pytest.approx(1000, rel=1e-12)


@relaxed
@given(moistures, moistures)
def test_factor_times_points_is_the_shrink(wet: float, dry: float) -> None:
    assert (wet - dry) * shrink_factor_per_point(dry) == pytest.approx(shrink_pct(wet, dry), abs=1e-9)


@relaxed
@given(st.floats(10.1, 40), st.floats(0.1, 2))
def test_insurance_rule_gives_less_than_dry_matter_below_a_standard_of_16(wet: float, points: float) -> None:
    """0.12 % per 0.1 point is more than 100 / (100 - standard) as long as the standard is below 16.7 %."""
    standard = min(16.0, max(5.0, wet - points))
    assume(standard <= wet)
    assert linear_shrink_factor(wet, standard) <= mass_at_moisture(1, wet, standard) + 1e-12


def test_the_common_mistake_is_not_ours() -> None:
    """10 000 lb/ac at 20 %: water off, then 15.5 % of the dry matter added, gives 9240 (UF/IFAS AG442)."""
    answer = mass_at_moisture(10_000, 20, 15.5)
    assert answer == pytest.approx(8000 / 0.845)
    assert answer > 9240 + 200


def test_yield_moves_like_a_mass() -> None:
    assert yield_at_moisture_t_ha(8, 18, 14.5) == mass_at_moisture(8, 18, 14.5)


@pytest.mark.parametrize("bad", [-0.01, 95.01, math.nan, math.inf, -math.inf])
@pytest.mark.parametrize(
    "call",
    [
        dry_basis_pct,
        shrink_factor_per_point,
        lambda moisture_pct: mass_at_moisture(1, moisture_pct, 14),
        lambda moisture_pct: mass_at_moisture(1, 14, moisture_pct),
        lambda moisture_pct: shrink_pct(moisture_pct, 14),
        lambda moisture_pct: water_removed_kg_t(moisture_pct, 0),
        lambda moisture_pct: linear_shrink_factor(moisture_pct, 0),
    ],
)
def test_impossible_moisture_is_refused(call: Callable[[float], float], bad: float) -> None:
    with pytest.raises(OutOfRange):
        call(bad)


@pytest.mark.parametrize("bad", [-0.1, 1900.1, math.nan])
def test_impossible_dry_basis_is_refused(bad: float) -> None:
    with pytest.raises(OutOfRange):
        wet_basis_pct(bad)


@pytest.mark.parametrize("bad", [-1, math.nan, math.inf])
def test_impossible_mass_is_refused(bad: float) -> None:
    with pytest.raises(OutOfRange):
        mass_at_moisture(bad, 20, 14)
    with pytest.raises(OutOfRange):
        yield_at_moisture_t_ha(bad, 20, 14)


def test_water_is_not_removed_by_wetting() -> None:
    with pytest.raises(OutOfRange):
        water_removed_kg_t(14, 15)


def test_insurance_rule_does_not_mark_dry_grain_up() -> None:
    with pytest.raises(OutOfRange):
        linear_shrink_factor(14, 15)


def test_insurance_rule_never_leaves_less_than_nothing() -> None:
    with pytest.raises(OutOfRange) as refused:
        linear_shrink_factor(95, 10)
    assert refused.value.facts["reason"] == "no_grain_left"
    assert refused.value.facts["high"] == pytest.approx(10 + 100 / 1.2)


@pytest.mark.parametrize("rate", [0, -0.1, math.nan])
def test_insurance_rate_must_be_positive(rate: float) -> None:
    with pytest.raises(OutOfRange):
        linear_shrink_factor(20, 15, rate)
