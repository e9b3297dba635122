"""Terminal velocities: they rise with mass and moisture, and drag really carries the weight."""

import math
from collections.abc import Callable

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.domain import aerodynamics as air
from service.errors import OutOfRange

relaxed = settings(deadline=None, max_examples=60)
diameters = st.floats(0.3, 12)
densities = st.floats(800, 1500)
sphericities = st.floats(0.55, 1)


def weight_n(diameter_mm: float, density_kg_m3: float) -> float:
    volume_m3 = math.pi / 6 * (diameter_mm / 1000) ** 3
    return volume_m3 * (density_kg_m3 - air.AIR_DENSITY_KG_M3) * air.GRAVITY_M_S2


def drag_n(coefficient: float, diameter_mm: float, velocity_m_s: float) -> float:
    area_m2 = math.pi / 4 * (diameter_mm / 1000) ** 2
    return coefficient * area_m2 * air.AIR_DENSITY_KG_M3 * velocity_m_s**2 / 2


def reynolds(diameter_mm: float, velocity_m_s: float) -> float:
    return air.AIR_DENSITY_KG_M3 * velocity_m_s * diameter_mm / 1000 / air.AIR_VISCOSITY_PA_S


@relaxed
@given(diameters, densities)
def test_drag_carries_a_sphere(diameter_mm: float, density_kg_m3: float) -> None:
    velocity = air.sphere_terminal_velocity_m_s(diameter_mm, density_kg_m3)
    coefficient = air.sphere_drag_coefficient(reynolds(diameter_mm, velocity))
    assert drag_n(coefficient, diameter_mm, velocity) == pytest.approx(weight_n(diameter_mm, density_kg_m3), rel=1e-8)


@relaxed
@given(diameters, densities, sphericities)
def test_drag_carries_another_body(diameter_mm: float, density_kg_m3: float, sphericity: float) -> None:
    velocity = air.shaped_terminal_velocity_m_s(diameter_mm, density_kg_m3, sphericity)
    coefficient = air.shaped_drag_coefficient(reynolds(diameter_mm, velocity), sphericity)
    assert drag_n(coefficient, diameter_mm, velocity) == pytest.approx(weight_n(diameter_mm, density_kg_m3), rel=1e-8)


@relaxed
@given(st.floats(1, 800), st.floats(1.01, 3), densities)
def test_heavier_kernels_float_at_more(mass_g: float, ratio: float, density_kg_m3: float) -> None:
    light, heavy = (air.equivalent_diameter_mm(m, density_kg_m3) for m in (mass_g, mass_g * ratio))
    assert air.sphere_terminal_velocity_m_s(heavy, density_kg_m3) > air.sphere_terminal_velocity_m_s(
        light, density_kg_m3
    )
    assert air.shaped_terminal_velocity_m_s(heavy, density_kg_m3, 0.85) > air.shaped_terminal_velocity_m_s(
        light, density_kg_m3, 0.85
    )


@relaxed
@given(st.floats(5, 40), st.floats(0.5, 20), st.floats(10, 500))
def test_wetter_kernels_weigh_and_float_at_more(moisture_pct: float, points: float, mass_g: float) -> None:
    dry, wet = (air.kernel_mass_at_moisture_g(mass_g, 14, m) for m in (moisture_pct, moisture_pct + points))
    assert wet > dry
    assert air.sphere_terminal_velocity_m_s(air.equivalent_diameter_mm(wet, 1200), 1200) > (
        air.sphere_terminal_velocity_m_s(air.equivalent_diameter_mm(dry, 1200), 1200)
    )


@relaxed
@given(st.floats(7, 27), st.floats(0.1, 5), st.floats(0.3, 3), st.floats(1.01, 2))
def test_measured_line_rises_with_moisture_and_mass(moisture: float, points: float, ratio: float, more: float) -> None:
    def velocity(moisture_pct: float, mass_ratio: float) -> float:
        return air.measured_terminal_velocity_m_s(6.31, 0.0855, 7, moisture_pct, mass_ratio)

    assert velocity(moisture + points, ratio) > velocity(moisture, ratio)
    assert velocity(moisture, ratio * more) > velocity(moisture, ratio)


@relaxed
@given(st.floats(0.5, 200), densities)
def test_equivalent_sphere_has_the_mass_of_the_kernel(mass_g: float, density_kg_m3: float) -> None:
    volume_mm3 = math.pi / 6 * air.equivalent_diameter_mm(mass_g, density_kg_m3) ** 3
    assert volume_mm3 * density_kg_m3 / 1e6 * 1000 == pytest.approx(mass_g, rel=1e-12)


@relaxed
@given(st.floats(5, 50), st.floats(5, 20), st.floats(2, 6), st.floats(1.1, 4))
def test_straw_floats_by_the_root_of_its_mass(mass: float, length: float, diameter: float, ratio: float) -> None:
    light = air.straw_terminal_velocity_m_s(mass, length, diameter)
    assert air.straw_terminal_velocity_m_s(mass * ratio, length, diameter) == pytest.approx(light * ratio**0.5)


def test_straw_floats_below_the_kernel() -> None:
    """The winnowing window of wheat: straw at most 4.85 m/s, kernels at least 7.04 m/s (Khoshtaghaza 2006)."""
    assert air.straw_terminal_velocity_m_s(31, 12.5, 3.7) < 4.85
    assert air.measured_terminal_velocity_m_s(6.81, 0.14, 7, 14, 1) > 7.04


def test_geometric_sphericity_is_a_trap() -> None:
    """Measured wheat kernels float at 6.3 to 8.6 m/s; the wrong sphericity of 0.63 cannot reach that."""
    assert air.shaped_terminal_velocity_m_s(3.88, 1250, 0.63) < 5
    assert 6.3 < air.shaped_terminal_velocity_m_s(3.88, 1250, 0.83) < 8.6


def test_thin_air_lifts_less() -> None:
    at_sea_level = air.sphere_terminal_velocity_m_s(4, 1250)
    assert air.sphere_terminal_velocity_m_s(4, 1250, air_density_kg_m3=1.0) > at_sea_level


@pytest.mark.parametrize(
    ("call", "low", "high"),
    [
        (air.sphere_drag_coefficient, 1e-4, 3e5),
        (lambda x: air.shaped_drag_coefficient(x, 0.8), 1e-4, 2.5e4),
        (lambda x: air.shaped_drag_coefficient(100, x), 0.5, 1),
        (lambda x: air.shaped_terminal_velocity_m_s(4, 1250, x), 0.5, 1),
        (lambda x: air.measured_terminal_velocity_m_s(7, 0.1, x, 14, 1), 0, 60),
    ],
)
def test_both_ends_are_allowed_and_no_more(call: Callable[[float], float], low: float, high: float) -> None:
    assert call(low) > 0
    assert call(high) > 0
    for bad in (low - 0.01, math.nan, math.inf):
        with pytest.raises(OutOfRange):
            call(bad)


@pytest.mark.parametrize("bad", [0, -1, math.nan, math.inf])
@pytest.mark.parametrize(
    "call",
    [
        lambda x: air.sphere_terminal_velocity_m_s(x, 1200),
        lambda x: air.sphere_terminal_velocity_m_s(4, x),
        lambda x: air.sphere_terminal_velocity_m_s(4, 1200, x),
        lambda x: air.sphere_terminal_velocity_m_s(4, 1200, 1.2, x),
        lambda x: air.equivalent_diameter_mm(x, 1200),
        lambda x: air.equivalent_diameter_mm(40, x),
        lambda x: air.measured_terminal_velocity_m_s(x, 0.1, 14, 14, 1),
        lambda x: air.measured_terminal_velocity_m_s(7, 0.1, 14, 14, x),
        lambda x: air.straw_terminal_velocity_m_s(x, 12, 4),
        lambda x: air.straw_terminal_velocity_m_s(17, x, 4),
        lambda x: air.straw_terminal_velocity_m_s(17, 12, x),
    ],
)
def test_what_must_be_positive_is(call: Callable[[float], float], bad: float) -> None:
    with pytest.raises(OutOfRange):
        call(bad)


@pytest.mark.parametrize(("diameter_mm", "why"), [(200, "faster than the drag formula knows"), (1e-3, "too slow")])
def test_solution_outside_the_drag_formula_is_refused(diameter_mm: float, why: str) -> None:
    with pytest.raises(OutOfRange) as refused:
        air.sphere_terminal_velocity_m_s(diameter_mm, 1200)
    assert refused.value.facts["reason"] == "outside_the_drag_formula", why


def test_measured_line_is_not_followed_below_zero() -> None:
    with pytest.raises(OutOfRange) as refused:
        air.measured_terminal_velocity_m_s(2, 0.5, 20, 10, 1)
    assert refused.value.facts["reason"] == "beyond_the_measured_line"
