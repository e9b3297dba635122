"""Units against an independent UCUM parser, exact definitions, and themselves."""

import math
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import settings as profile
from hypothesis import strategies as st
from ucumvert import PintUcumRegistry

from service import units
from service.errors import OutOfRange, UnknownName
from service.units import DECIMALS, TO_US, UNITS, convert, dimension, served, shown_unit

relaxed = profile(deadline=None)
codes = pytest.mark.parametrize("code", UNITS)
PAIRS = [(a, b) for a in UNITS for b in UNITS if UNITS[a][0] == UNITS[b][0] and a != b]


@pytest.fixture(scope="module")
def oracle() -> Any:
    """Pint with a parser of the UCUM grammar; it shares nothing with our table."""
    return PintUcumRegistry()


@codes
def test_code_is_ucum(oracle: Any, code: str) -> None:
    assert oracle.from_ucum(code).magnitude > 0


@pytest.mark.parametrize(("unit", "to"), PAIRS, ids=[f"{a} to {b}" for a, b in PAIRS])
def test_conversion_is_that_of_ucum(oracle: Any, unit: str, to: str) -> None:
    expected = oracle.from_ucum(unit).to(oracle.from_ucum(to).units).magnitude / oracle.from_ucum(to).magnitude
    assert convert(1, unit, to) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("kind", sorted({kind for kind, _ in UNITS.values()}))
def test_one_kind_is_one_dimension(oracle: Any, kind: str) -> None:
    first, *others = (oracle.from_ucum(code).dimensionality for code, (of, _) in UNITS.items() if of == kind)
    assert all(other == first for other in others)


def test_different_quantities_are_not_mixed_up() -> None:
    for unit, to in (("mm", "har"), ("kg", "t/h"), ("kg/hL", "t/har"), ("deg", "%"), ("m/s", "{rev}/min")):
        with pytest.raises(OutOfRange) as refused:
            convert(1, unit, to)
        assert refused.value.facts["value"] == to


@pytest.mark.parametrize(
    ("code", "exact"),
    [
        ("[ft_i]", Fraction(3048, 10000)),
        ("[in_i]", Fraction(254, 10000)),
        ("[lb_av]", Fraction(45359237, 10**8)),
        ("[acr_us]", 43560 * Fraction(1200, 3937) ** 2),
        ("[gal_us]", Fraction(3785411784, 10**12)),
        ("[bu_us]", Fraction(3523907016688, 10**14)),
        ("[mi_i]/h", Fraction(44704, 10**5)),
        ("[ft_i]/min", Fraction(508, 10**5)),
        ("km/h", Fraction(5, 18)),
        ("[sft_i]", Fraction(9290304, 10**8)),
        ("har", Fraction(10_000)),
        ("kg/hL", Fraction(10)),
    ],
)
def test_factor_is_the_exact_definition(code: str, exact: Fraction) -> None:
    """International yard and pound of 1959, survey acre, 231 cubic inches, 2150.42 cubic inches."""
    assert UNITS[code][1] == exact


def test_acre_is_the_survey_acre() -> None:
    """4046.8726 m2; the international acre of 4046.8564 m2 is 4 parts in a million smaller."""
    assert convert(1, "[acr_us]", "m2") == pytest.approx(4046.8726, abs=5e-5)


@relaxed
@given(st.sampled_from(PAIRS), st.floats(-1e9, 1e9))
def test_conversion_comes_back(pair: tuple[str, str], value: float) -> None:
    unit, to = pair
    # a temperature is counted from a zero of its own, so that near it only the absolute error is small
    least = 1e-12 * (1000 + abs(value)) if dimension(unit) == "temperature" else 1e-300
    assert convert(convert(value, unit, to), to, unit) == pytest.approx(value, rel=1e-12, abs=least)


@codes
def test_same_unit_is_left_alone(code: str) -> None:
    assert convert(0.1, code, code) == 0.1


@pytest.mark.parametrize("code", ["rpm", "ha", "mph", "kg/hl", ""])
def test_unit_outside_the_table_is_refused(code: str) -> None:
    with pytest.raises(UnknownName):
        dimension(code)
    with pytest.raises(UnknownName):
        convert(1, code, "mm")
    with pytest.raises(UnknownName):
        convert(1, "mm", code)


@pytest.mark.parametrize(("metric", "customary"), TO_US.items())
def test_customary_unit_measures_the_same(metric: str, customary: str) -> None:
    assert dimension(metric) == dimension(customary)
    assert shown_unit(metric, "us") == customary
    assert shown_unit(metric, "metric") == metric
    assert shown_unit(customary, "us") == customary


@codes
def test_every_unit_that_a_reader_can_get_has_decimals(code: str) -> None:
    assert code in DECIMALS
    assert shown_unit(code, "us") in DECIMALS


@relaxed
@given(st.sampled_from(sorted(DECIMALS)), st.floats(-1e6, 1e6))
def test_serving_twice_changes_nothing(unit: str, value: float) -> None:
    once = served(value, unit)
    assert served(once, unit) == once
    assert abs(once - value) <= 0.5 * 10 ** -DECIMALS[unit] * (1 + 1e-9)


def test_zero_is_never_negative() -> None:
    assert math.copysign(1, served(-0.0001, "m/s")) == 1


@relaxed
@given(st.floats(0, 1e5), st.floats(14, 100))
def test_bushels_and_mass_turn_into_each_other(mass: float, bushel_lb: float) -> None:
    assert units.mass_kg_ha(units.bushels_per_acre(mass, bushel_lb), bushel_lb) == pytest.approx(mass, rel=1e-12)


def test_rule_of_seeds_per_square_foot() -> None:
    """43 560 square feet to the acre: a 60 lb bushel of 31.24 g kernels is 20 per square foot (NDSU rule of 20)."""
    kernels_m2 = convert(20, "{kernel}/[sft_i]", "{kernel}/m2")
    assert units.bushels_per_acre(kernels_m2 * 31.24 / 100, 60) == pytest.approx(1, abs=0.0005)


@pytest.mark.parametrize(
    ("unit", "system", "bushel_lb", "shown"),
    [
        # a bushel of wheat is 60 lb of 0.45359237 kg by law: 0.0272155422 t
        ("t", "us", 60.0, (1.0, "[bu_us]")),
        ("t/h", "us", 60.0, (1.0, "[bu_us]/h")),
        ("t", "us", None, (60.0, "[lb_av]")),
        ("t", "metric", 60.0, (0.0272155422, "t")),
    ],
)
def test_grain_is_counted_in_bushels_where_it_has_one(
    unit: str, system: units.UnitSystem, bushel_lb: float | None, shown: tuple[float, str]
) -> None:
    value, label = units.shown_grain(0.0272155422, unit, system, bushel_lb)
    assert (value, label) == (pytest.approx(shown[0], rel=1e-12), shown[1])
