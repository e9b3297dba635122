"""Spread patterns: mass is kept, mirror images agree, evenness obeys its own inequalities."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.domain.spread_change import carried, mirrored, shifted, stretched, together, turned
from service.domain.spread_evenness import uniformity
from service.domain.spread_overlap import layer_after_passes, overlap, overlapped_cv_pct, passes_of
from service.domain.spread_pattern import (
    SpreadPattern,
    centre_m,
    covered,
    layer_at,
    mass_between,
    quantile_m,
    spread_pattern,
)
from service.errors import Contradiction, OutOfRange

FEW = settings(max_examples=40, deadline=None, database=None)
INF = math.inf


@st.composite
def patterns(draw: st.DrawFn) -> SpreadPattern:
    count = draw(st.integers(5, 17))
    step = draw(st.floats(0.3, 1.2))
    layers = draw(st.lists(st.floats(0, 100), min_size=count, max_size=count))
    layers[count // 2] += 1  # not all of them empty
    first = -step * (count - 1) / 2 + draw(st.floats(-1, 1))
    return spread_pattern([first + step * number for number in range(count)], layers, 0.05)


def mass(pattern: SpreadPattern) -> float:
    return mass_between(pattern, -INF, INF)


@FEW
@given(patterns(), st.floats(-3, 3), st.floats(0.5, 2))
def test_shifting_and_stretching_keep_the_mass(pattern: SpreadPattern, offset: float, factor: float) -> None:
    assert mass(shifted(pattern, offset)) == pytest.approx(mass(pattern), rel=1e-9)
    assert mass(stretched(pattern, factor)) == pytest.approx(mass(pattern), rel=1e-9)
    assert centre_m(shifted(pattern, offset)) == pytest.approx(centre_m(pattern) + offset, abs=1e-9)
    assert centre_m(stretched(pattern, factor)) == pytest.approx(centre_m(pattern) * factor, abs=1e-9)


@FEW
@given(patterns(), st.floats(-6, 6), st.sampled_from(["left", "right", "both"]))
def test_turning_keeps_the_mass_and_the_other_side(pattern: SpreadPattern, step: float, side: str) -> None:
    radius = max(abs(pattern.positions_m[0]), abs(pattern.positions_m[-1])) * 1.1
    found = turned(pattern, step, side, radius_m=radius, widest_deg=60, middle_m=0.0)  # type: ignore[arg-type]
    assert mass(found) == pytest.approx(mass(pattern), rel=1e-9)
    other = {"left": 1, "right": -1, "both": 0}[side]
    still = [place for place in pattern.positions_m if place * other > 0]
    assert [place for place in found.positions_m if place * other > 0] == pytest.approx(still)


@FEW
@given(patterns(), st.floats(0, 6))
def test_outward_widens_and_inward_narrows(pattern: SpreadPattern, step: float) -> None:
    def width(one: SpreadPattern) -> float:
        return quantile_m(one, 0.9) - quantile_m(one, 0.1)

    radius = max(abs(pattern.positions_m[0]), abs(pattern.positions_m[-1])) * 1.1
    out, back = (turned(pattern, one, "both", radius_m=radius, widest_deg=60, middle_m=0.0) for one in (step, -step))
    assert width(back) <= width(pattern) + 0.03
    assert width(pattern) <= width(out) + 0.03


@FEW
@given(patterns(), st.floats(-0.3, 0.3))
def test_carrying_keeps_the_mass(pattern: SpreadPattern, bend: float) -> None:
    landings = [place + bend * math.sin(place) for place in pattern.positions_m]
    assert mass(carried(pattern, landings)) == pytest.approx(mass(pattern), rel=1e-9)


@FEW
@given(patterns())
def test_a_mirror_image_is_mirrored_in_every_figure(pattern: SpreadPattern) -> None:
    image = mirrored(pattern)
    assert mirrored(image) == pattern
    assert mass(image) == pytest.approx(mass(pattern))
    assert centre_m(image) == pytest.approx(-centre_m(pattern), abs=1e-9)
    assert mass_between(image, -INF, -1.0) == pytest.approx(mass_between(pattern, 1.0, INF))
    level = max(pattern.layer) / 3
    one, other = covered(pattern, level, -4, 4), covered(image, level, -4, 4)
    assert (one is None) == (other is None)
    if one is not None and other is not None:
        assert other.left_m == pytest.approx(-one.right_m)
        assert other.length_m == pytest.approx(one.length_m)


@FEW
@given(patterns(), st.floats(1.5, 12), st.sampled_from(["back_and_forth", "round_and_round"]))
def test_after_overlap_the_mean_layer_is_the_mass_over_the_spacing(
    pattern: SpreadPattern, spacing: float, driving: str
) -> None:
    passes = passes_of(pattern, driving)  # type: ignore[arg-type]
    found = overlap(passes, spacing, 0.01)
    # a mean of many places instead of an integral
    assert found.evenness.mean == pytest.approx(mass(pattern) / spacing, rel=5e-3)


@FEW
@given(patterns(), st.floats(1.5, 12), st.floats(-5, 5))
def test_a_sideways_shift_changes_nothing_round_and_round(
    pattern: SpreadPattern, spacing: float, offset: float
) -> None:
    one, other = (overlap([each], spacing, 0.02).evenness for each in (pattern, shifted(pattern, offset)))
    assert other.cv_pct == pytest.approx(one.cv_pct, abs=max(0.5, one.cv_pct * 0.03))


@FEW
@given(patterns(), st.floats(2, 12))
def test_the_layer_repeats_with_the_passes(pattern: SpreadPattern, spacing: float) -> None:
    places = [0.3, 1.1]
    image = mirrored(pattern)
    once = layer_after_passes([pattern, image], spacing, places)
    again = layer_after_passes([pattern, image], spacing, [place + 2 * spacing for place in places])
    assert again == pytest.approx(once)
    # driven the other way round the field is its own mirror image
    assert layer_after_passes([image, pattern], spacing, [-place for place in places]) == pytest.approx(once)


@FEW
@given(st.lists(st.floats(0, 1000), min_size=2, max_size=30).filter(lambda x: sum(x) > 1), st.floats(0.1, 50))
def test_evenness_does_not_depend_on_the_unit(layers: list[float], factor: float) -> None:
    one, other = uniformity(layers), uniformity([layer * factor for layer in layers])
    assert other.cv_pct == pytest.approx(one.cv_pct)
    assert other.christiansen_pct == pytest.approx(one.christiansen_pct, abs=1e-9)
    assert 0 <= one.deviation_index < 1
    assert one.christiansen_pct == pytest.approx(100 * (1 - 2 * one.deviation_index), abs=1e-9)


@FEW
@given(patterns(), patterns())
def test_layers_add_up(one: SpreadPattern, other: SpreadPattern) -> None:
    both = together([one, other])
    assert mass(both) == pytest.approx(mass(one) + mass(other))
    places = [-1.3, 0.0, 2.2]
    parts = [layer_at(each, places) for each in (one, other)]
    assert layer_at(both, places) == pytest.approx([a + b for a, b in zip(*parts, strict=True)])


@FEW
@given(patterns(), st.floats(0, 1))
def test_a_quantile_has_its_share_to_the_left(pattern: SpreadPattern, share: float) -> None:
    place = quantile_m(pattern, share)
    assert mass_between(pattern, -INF, place) == pytest.approx(share * mass(pattern), abs=mass(pattern) * 0.01)


def test_a_pattern_ends_where_the_trays_are_empty() -> None:
    assert spread_pattern([-1, 0, 1], [0, 10, 0], 5).positions_m == (-1, 0, 1)
    wide = spread_pattern([-1, 0, 1], [5, 10, 5], 5)
    assert (wide.positions_m[0], wide.positions_m[-1]) == (-2, 2)


@pytest.mark.parametrize(
    "call",
    [
        lambda: uniformity([1.0]),
        lambda: uniformity([0.0, 0.0]),
        lambda: uniformity([1.0, -1.0]),
        lambda: uniformity([1.0, math.nan]),
        lambda: spread_pattern([0.0, 1.0], [0.0, 0.0], 1.0),
        lambda: spread_pattern([0.0, 1.0], [1.0, 1.0], 0.0),
        lambda: spread_pattern([0.0, 61.0], [1.0, 1.0], 1.0),
        lambda: spread_pattern([0.0], [1.0], 1.0),
        lambda: mass_between(SpreadPattern((0.0, 1.0), (1.0, 1.0)), 1.0, 0.0),
        lambda: centre_m(SpreadPattern((0.0, 1.0), (0.0, 0.0))),
        lambda: quantile_m(SpreadPattern((0.0, 1.0), (1.0, 1.0)), 1.1),
        lambda: covered(SpreadPattern((0.0, 1.0), (1.0, 1.0)), 0.0, 0.0, 1.0),
        lambda: covered(SpreadPattern((0.0, 1.0), (1.0, 1.0)), 1.0, 1.0, 1.0),
        lambda: layer_after_passes([], 1.0, [0.0]),
        lambda: layer_after_passes([SpreadPattern((0.0, 1.0), (1.0, 1.0))], 0.0, [0.0]),
        lambda: layer_after_passes([SpreadPattern((0.0, 50.0), (1.0, 1.0))], 0.1, [0.0]),
        lambda: shifted(SpreadPattern((0.0, 1.0), (1.0, 1.0)), 61.0),
        lambda: stretched(SpreadPattern((0.0, 1.0), (1.0, 1.0)), 0.0),
        lambda: turned(
            SpreadPattern((0.0, 1.0, 2.0), (1.0, 1.0, 0.0)), 30.0, "left", radius_m=5, widest_deg=60, middle_m=0
        ),
        lambda: turned(
            SpreadPattern((0.0, 1.0, 2.0), (1.0, 1.0, 0.0)),
            5.0,
            "up",  # type: ignore[arg-type]
            radius_m=5,
            widest_deg=60,
            middle_m=0,
        ),
        lambda: together([]),
        lambda: overlapped_cv_pct([0, 1, 2], [1, 1, 1], -1.0, "round_and_round"),
    ],
)
def test_what_is_out_of_range_is_refused(call: object) -> None:
    with pytest.raises(OutOfRange):
        call()  # type: ignore[operator]


@pytest.mark.parametrize(
    "call",
    [
        lambda: spread_pattern([0.0, 1.0], [1.0], 1.0),
        lambda: spread_pattern([0.0, 0.0], [1.0, 1.0], 1.0),
        lambda: carried(SpreadPattern((0.0, 1.0, 2.0), (1.0, 1.0, 1.0)), [0.0, 1.0]),
        lambda: carried(SpreadPattern((0.0, 1.0, 2.0), (1.0, 1.0, 1.0)), [0.0, 2.0, 1.0]),
    ],
)
def test_what_contradicts_itself_is_refused(call: object) -> None:
    with pytest.raises(Contradiction):
        call()  # type: ignore[operator]
