"""The speed of least cost: against closed forms of the optimum, on a grid, and moved by prices."""

import math

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.special import lambertw

from service.domain.feed_curve import FORMS, loss_at, slope_at
from service.domain.machine import area_rate_ha_h, effective_area_rate_ha_h
from service.domain.working_speed import BestSpeed, best_speed, hours_per_ha, speed_cost
from service.errors import OutOfRange, UnknownName

CURVES = {
    "exponential": st.tuples(st.floats(0.5, 20), st.floats(0.05, 0.9)),
    "power": st.tuples(st.floats(0.05, 10), st.floats(0.5, 4)),
    "quadratic": st.tuples(st.floats(0, 50), st.floats(0, 20), st.floats(0, 8)),
}
CASES = st.fixed_dictionaries(
    {
        "price_per_kg": st.floats(0.05, 2),
        "cost_per_h": st.floats(50, 800),
        "cutting_h_ha": st.floats(0.5, 4),
        "standing_h_ha": st.floats(0, 0.2),
    }
)
CURVE = st.sampled_from(FORMS).flatmap(lambda form: st.tuples(st.just(form), CURVES[form]))
LOW, HIGH = 1.0, 12.0


def best(
    curve: tuple[str, tuple[float, ...]], case: dict[str, float], low: float = LOW, high: float = HIGH
) -> BestSpeed:
    return best_speed(*curve, **case, low_km_h=low, high_km_h=high)


def cost(curve: tuple[str, tuple[float, ...]], case: dict[str, float], speed: float) -> float:
    return speed_cost(*curve, speed, **case).total


@settings(deadline=None)
@given(curve=CURVE, case=CASES)
def test_no_speed_of_a_grid_costs_less(curve: tuple[str, tuple[float, ...]], case: dict[str, float]) -> None:
    found = best(curve, case)
    grid = [LOW + (HIGH - LOW) * place / 997 for place in range(998)]
    least = min(cost(curve, case, speed) for speed in grid)
    assert found.cost_per_ha <= least * (1 + 1e-12)
    assert found.cost_per_ha == pytest.approx(cost(curve, case, found.speed_km_h))


def test_the_lower_of_two_minima_is_found() -> None:
    # far beyond its top a parabola falls again: two places where cost is least nearby
    curve, case = ("quadratic", (0.0, 40.0, -1.7)), {"price_per_kg": 1.0, "cost_per_h": 60.0, "cutting_h_ha": 1.0}
    found = best(curve, case, 0.5, 23.0)
    costs = {speed / 10: cost(curve, case, speed / 10) for speed in range(5, 231)}
    assert found.speed_km_h == pytest.approx(min(costs, key=costs.__getitem__), abs=0.06)


@given(a=st.floats(0.5, 20), k=st.floats(0.1, 0.9), case=CASES)
def test_the_exponential_optimum_is_lambert_s(a: float, k: float, case: dict[str, float]) -> None:
    """H c / v^2 = P k a exp(k v) gives v = (2/k) W((k/2) sqrt(H c / (P k a)))."""
    found = best(("exponential", (a, k)), case)
    assume(found.edge == "none")
    inner = case["cost_per_h"] * case["cutting_h_ha"] / (case["price_per_kg"] * k * a)
    assert found.speed_km_h == pytest.approx(2 / k * lambertw(k / 2 * math.sqrt(inner)).real, rel=1e-5)


@given(a=st.floats(0.05, 10), b=st.floats(0.5, 4), case=CASES)
def test_the_power_optimum_has_a_closed_form(a: float, b: float, case: dict[str, float]) -> None:
    found = best(("power", (a, b)), case)
    assume(found.edge == "none")
    inner = case["cost_per_h"] * case["cutting_h_ha"] / (case["price_per_kg"] * a * b)
    assert found.speed_km_h == pytest.approx(inner ** (1 / (b + 1)), rel=1e-5)


@settings(deadline=None)
@given(curve=CURVE, case=CASES)
def test_at_the_optimum_an_hour_saved_is_worth_the_grain_lost(
    curve: tuple[str, tuple[float, ...]], case: dict[str, float]
) -> None:
    found = best(curve, case)
    saved = case["cost_per_h"] * case["cutting_h_ha"] / found.speed_km_h**2
    lost = case["price_per_kg"] * slope_at(*curve, found.speed_km_h)
    if found.edge == "none":
        assert lost == pytest.approx(saved, rel=1e-4)
    elif found.edge == "high":
        assert lost <= saved * (1 + 1e-4)
    else:
        assert lost >= saved * (1 - 1e-4)


@settings(deadline=None)
@given(curve=CURVE, case=CASES, factor=st.floats(1, 10))
def test_dearer_grain_never_asks_for_more_speed_and_a_dearer_hour_never_for_less(
    curve: tuple[str, tuple[float, ...]], case: dict[str, float], factor: float
) -> None:
    here = best(curve, case).speed_km_h
    dear_grain = best(curve, case | {"price_per_kg": case["price_per_kg"] * factor}).speed_km_h
    dear_hour = best(curve, case | {"cost_per_h": case["cost_per_h"] * factor}).speed_km_h
    assert dear_grain <= here * (1 + 1e-6)
    assert dear_hour >= here * (1 - 1e-6)


@settings(deadline=None)
@given(curve=CURVE, case=CASES, factor=st.floats(0.01, 100))
def test_the_best_speed_does_not_know_the_currency(
    curve: tuple[str, tuple[float, ...]], case: dict[str, float], factor: float
) -> None:
    there = case | {name: case[name] * factor for name in ("price_per_kg", "cost_per_h")}
    assert best(curve, there).speed_km_h == pytest.approx(best(curve, case).speed_km_h, rel=1e-5)
    assert best(curve, there).cost_per_ha == pytest.approx(best(curve, case).cost_per_ha * factor, rel=1e-9)


@settings(deadline=None)
@given(curve=CURVE, case=CASES)
def test_the_flat_part_ends_where_cost_passes_two_percent(
    curve: tuple[str, tuple[float, ...]], case: dict[str, float]
) -> None:
    found = best(curve, case)
    most = found.cost_per_ha * 1.02
    assert LOW <= found.flat_low_km_h <= found.speed_km_h <= found.flat_high_km_h <= HIGH
    for end, at_end in ((found.flat_low_km_h, found.flat_to_low), (found.flat_high_km_h, found.flat_to_high)):
        if at_end:
            assert cost(curve, case, end) <= most * (1 + 1e-9)
        else:
            assert cost(curve, case, end) == pytest.approx(most, rel=1e-7)
    inside = [found.flat_low_km_h + (found.flat_high_km_h - found.flat_low_km_h) * n / 50 for n in range(51)]
    assert all(cost(curve, case, speed) <= most * (1 + 1e-7) for speed in inside)


def test_the_flat_part_is_wider_with_more_tolerance() -> None:
    case = {"price_per_kg": 0.2, "cost_per_h": 300.0, "cutting_h_ha": 1.9, "low_km_h": 2.0, "high_km_h": 10.0}
    widths = []
    for tolerance in (0.0, 1.0, 2.0, 5.0):
        found = best_speed("exponential", (6.0, 0.5), **case, tolerance_pct=tolerance)
        widths.append(found.flat_high_km_h - found.flat_low_km_h)
    assert widths == sorted(widths)
    assert widths[0] == pytest.approx(0, abs=1e-3)


def test_where_loss_falls_with_speed_the_best_is_the_fastest() -> None:
    found = best(("exponential", (50.0, -0.2)), {"price_per_kg": 0.2, "cost_per_h": 300.0, "cutting_h_ha": 2.0})
    assert (found.speed_km_h, found.edge) == (HIGH, "high")


def test_where_time_is_free_the_best_is_the_slowest() -> None:
    found = best(("exponential", (5.0, 0.5)), {"price_per_kg": 0.2, "cost_per_h": 0.0, "cutting_h_ha": 2.0})
    assert (found.speed_km_h, found.edge) == (LOW, "low")


def test_where_nothing_costs_everything_is_flat() -> None:
    found = best(("exponential", (5.0, 0.5)), {"price_per_kg": 0.0, "cost_per_h": 0.0, "cutting_h_ha": 2.0})
    assert found.cost_per_ha == 0
    assert (found.flat_low_km_h, found.flat_high_km_h) == (LOW, HIGH)


@given(speed=st.floats(1, 12), width=st.floats(2, 15), efficiency=st.floats(30, 100))
def test_time_is_the_reciprocal_of_the_area_rate(speed: float, width: float, efficiency: float) -> None:
    cutting = 1 / area_rate_ha_h(1.0, width, efficiency)
    assert 1 / hours_per_ha(speed, cutting, 0.0) == pytest.approx(area_rate_ha_h(speed, width, efficiency))


@given(
    speed=st.floats(1, 12),
    width=st.floats(2, 15),
    run=st.floats(50, 2000),
    turn=st.floats(0, 90),
    stop=st.floats(0, 0.2),
)
def test_time_with_turns_and_stops_is_that_of_hunt(
    speed: float, width: float, run: float, turn: float, stop: float
) -> None:
    rate = effective_area_rate_ha_h(speed, width, run, width_share=1.0, unproductive_h_ha=stop, turn_s=turn)
    standing = stop + turn / 3600 * 10_000 / (run * width)
    assert 1 / hours_per_ha(speed, 10 / width, standing) == pytest.approx(rate)


@pytest.mark.parametrize(
    "wrong",
    [
        {"low_km_h": 0.0},
        {"low_km_h": 5.0, "high_km_h": 5.0},
        {"tolerance_pct": 51.0},
        {"price_per_kg": -1.0},
        {"cost_per_h": math.nan},
        {"cutting_h_ha": 0.0},
        {"standing_h_ha": -0.1},
    ],
    ids=str,
)
def test_what_cannot_be_is_refused(wrong: dict[str, float]) -> None:
    case = {"price_per_kg": 0.2, "cost_per_h": 300.0, "cutting_h_ha": 2.0, "low_km_h": 2.0, "high_km_h": 8.0}
    with pytest.raises(OutOfRange):
        best_speed("power", (1.0, 2.0), **case | wrong)


def test_a_curve_below_zero_is_refused() -> None:
    assert loss_at("quadratic", (1.0, -1.0, 0.0), 5.0) < 0
    with pytest.raises(OutOfRange):
        best(("quadratic", (1.0, -1.0, 0.0)), {"price_per_kg": 1.0, "cost_per_h": 1.0, "cutting_h_ha": 1.0})
    with pytest.raises(UnknownName):
        best(("cubic", (1.0, 1.0)), {"price_per_kg": 1.0, "cost_per_h": 1.0, "cutting_h_ha": 1.0})
