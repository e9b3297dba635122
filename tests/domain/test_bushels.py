"""Bushels and test weight."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.domain.bushels import bushels_per_tonne, metric_test_weight_kg_hl, official_test_weight_kg_hl
from service.errors import OutOfRange
from service.units import convert

POUNDS = st.floats(1, 90)


@given(pounds=POUNDS)
def test_us_test_weight_is_the_unit_table_in_other_words(pounds: float) -> None:
    assert metric_test_weight_kg_hl(pounds) == pytest.approx(convert(pounds, "[lb_av]/[bu_us]", "kg/hL"))


@given(pounds=POUNDS)
def test_an_imperial_bushel_holds_more_so_weighs_less_per_litre(pounds: float) -> None:
    ratio = metric_test_weight_kg_hl(pounds) / metric_test_weight_kg_hl(pounds, "imperial")
    assert ratio == pytest.approx(1.03206, abs=5e-6)  # 36.36872 L over 35.23907 L


@given(pounds=st.floats(40, 70))
def test_official_wheat_lies_above_the_arithmetic_one(pounds: float) -> None:
    wheat, durum = (official_test_weight_kg_hl(pounds, grain) for grain in ("wheat", "durum"))
    assert metric_test_weight_kg_hl(pounds) < durum < wheat < metric_test_weight_kg_hl(pounds) + 2


@given(bushel=st.floats(20, 80))
def test_bushels_of_a_tonne_weigh_a_tonne(bushel: float) -> None:
    assert convert(bushels_per_tonne(bushel) * bushel, "[lb_av]", "t") == pytest.approx(1)


@pytest.mark.parametrize(
    "call",
    [
        lambda: bushels_per_tonne(0),
        lambda: metric_test_weight_kg_hl(-1),
        lambda: metric_test_weight_kg_hl(101),
        lambda: official_test_weight_kg_hl(-1),
        lambda: official_test_weight_kg_hl(101, "durum"),
    ],
)
def test_out_of_range_is_refused(call: object) -> None:
    with pytest.raises(OutOfRange):
        call()  # type: ignore[operator]
