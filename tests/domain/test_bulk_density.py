"""Bulk density falls with moisture up to the turn of the curve, and is refused beyond it."""

import pytest
from hypothesis import given, seed, settings
from hypothesis import strategies as st

from service.domain.bulk_density import bulk_density_kg_m3, lightest_moisture_pct
from service.errors import OutOfRange

MAIZE = {"a": 1086.3, "b": 2971.0, "c": 4810.0}


@seed(1)
@settings(max_examples=60, deadline=None, database=None)
@given(st.floats(0, 30.8), st.floats(0, 30.8))
def test_wetter_maize_is_lighter(one: float, other: float) -> None:
    drier, wetter = sorted((one, other))
    assert bulk_density_kg_m3(wetter, **MAIZE) <= bulk_density_kg_m3(drier, **MAIZE)


def test_the_turn_is_the_lightest() -> None:
    turn = lightest_moisture_pct(MAIZE["b"], MAIZE["c"])
    lightest = bulk_density_kg_m3(turn, **MAIZE)
    assert all(bulk_density_kg_m3(turn - step, **MAIZE) > lightest for step in (0.1, 1, 5))


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"moisture_pct": -0.1}, "moisture_pct"),
        ({"moisture_pct": 31.0}, "moisture_pct"),
        ({"moisture_pct": float("nan")}, "moisture_pct"),
        ({"a": 0.0}, "a"),
        ({"b": -1.0}, "b"),
        ({"c": float("inf")}, "c"),
        ({"a": 100.0, "b": 2000.0, "c": 0.0}, "bulk_density_kg_m3"),
    ],
)
def test_what_cannot_be_is_refused(change: dict[str, float], field: str) -> None:
    with pytest.raises(OutOfRange) as refused:
        bulk_density_kg_m3(**({"moisture_pct": 15.5} | MAIZE | change))
    assert refused.value.field == field
