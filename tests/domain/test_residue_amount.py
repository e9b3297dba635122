"""Amounts of residue: parts add up, dry matter and mass as it is are each other's inverse, ends of range."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.domain.residue_amount import (
    dry_matter_t,
    ground_cover_pct,
    mass_as_is_t,
    residue_by_ratio,
    residue_by_yield_t_ha,
    strip_load_t_ha,
)
from service.errors import OutOfRange

FEW = settings(max_examples=50, deadline=None, database=None)


@FEW
@given(st.floats(0, 20), st.floats(0, 5), st.floats(0, 2), st.floats(0, 100))
def test_what_goes_through_and_what_stays_add_up(grain: float, straw: float, chaff: float, intake: float) -> None:
    parts = residue_by_ratio(grain, straw, chaff, intake)
    assert parts.through_machine_t_ha + parts.stubble_t_ha == pytest.approx(parts.total_t_ha)
    assert parts.through_machine_t_ha >= parts.chaff_t_ha


@FEW
@given(st.floats(0, 1e5), st.floats(0, 95))
def test_there_and_back(mass: float, moisture: float) -> None:
    assert mass_as_is_t(dry_matter_t(mass, moisture), moisture) == pytest.approx(mass)


@FEW
@given(st.floats(0, 50), st.floats(0, 50), st.floats(0.1, 10))
def test_more_covers_more_but_never_all(one: float, other: float, cover: float) -> None:
    low, high = sorted((ground_cover_pct(one, cover), ground_cover_pct(other, cover)))
    assert 0 <= low <= high <= 100
    # pieces that fall on bare ground alone cover: two layers leave bare what both leave bare
    both = ground_cover_pct(one + other, cover)
    assert (1 - both / 100) == pytest.approx((1 - low / 100) * (1 - high / 100), abs=1e-9)


@FEW
@given(st.floats(0, 20), st.floats(2, 20), st.floats(0.05, 1))
def test_the_strip_carries_what_the_cut_left(through: float, cut: float, share: float) -> None:
    assert strip_load_t_ha(through, cut, cut * share) * share == pytest.approx(through)


@pytest.mark.parametrize(
    "call",
    [
        lambda: dry_matter_t(-1, 10),
        lambda: dry_matter_t(1, 96),
        lambda: mass_as_is_t(1, 96),
        lambda: residue_by_yield_t_ha(-1, 1, 0),
        lambda: residue_by_yield_t_ha(1, 11, 0),
        lambda: residue_by_yield_t_ha(1, 1, -0.1),
        lambda: residue_by_ratio(1, 21, 0, 50),
        lambda: residue_by_ratio(1, 1, 6, 50),
        lambda: residue_by_ratio(1, 1, 0, 101),
        lambda: strip_load_t_ha(1, 9, 10),
        lambda: strip_load_t_ha(1, 9, 0),
        lambda: ground_cover_pct(-1, 5),
        lambda: ground_cover_pct(1, 51),
    ],
)
def test_what_is_out_of_range_is_refused(call: object) -> None:
    with pytest.raises(OutOfRange):
        call()  # type: ignore[operator]
