"""Responses: quantity, unit, zero at the reference, sign, and one answer for each question."""

import pytest

from service.knowledge.curves import interpolated


def _own(book, **changes):
    """Change the first response of wheat; returns the beginning of its faults."""
    book.wheat["response"][0].update(changes)
    return "crops/wheat.toml: response wheat.threshing_speed.moisture"


def _shared(book, index, **changes):
    book.responses["response"][index].update(changes)
    return f"responses.toml: response {book.responses['response'][index]['id']}"


def test_unknown_quantity_is_a_fault(book):
    place = _own(book, quantity="drum")
    assert book.write().faults() == [f"{place}: quantity: 'drum' is not in the vocabulary"]


def test_absolute_change_is_in_the_unit_of_the_quantity(book):
    place = _own(book, mode="absolute", unit="mm")
    assert book.write().faults() == [f"{place}: unit: threshing_speed is in m/s, not in mm"]


@pytest.mark.parametrize(
    ("factor", "knots", "at", "change"),
    [
        ("grain_moisture", [[-5, -10], [5, 12]], 0, 1),  # half way
        ("grain_moisture", [[1, 2], [5, 12]], 0, 2),  # flat outside the knots
        ("yield_ratio", [[0, 0], [2, 4]], 1, 2),
        ("slope_along", [[-10, 0], [0, -3]], 0, -3),
        ("slope_across", [[0, 0.5], [8, 1]], 0, 0.5),
    ],
)
def test_knots_change_nothing_at_the_reference(book, factor, knots, at, change):
    place = _own(book, factor=factor, knots=knots)
    expected = f"{place}: knots: the change at the reference ({factor} {at}) is {change:g}, not 0"
    assert book.write().faults() == [expected]


@pytest.mark.parametrize(
    ("factor", "level", "levels"),
    [
        ("straw_condition", "normal", {"normal": 1, "tough": 2}),
        ("priority", "balanced", {"balanced": 1}),
        ("stand", "upright", {"upright": 1}),
    ],
)
def test_levels_change_nothing_at_the_reference(book, factor, level, levels):
    place = _own(book, factor=factor, levels=levels)
    del book.wheat["response"][0]["knots"]
    book.wheat["response"] = book.wheat["response"][:1]
    expected = f"{place}: levels: the change at the reference ({factor} {level}) is 1, not 0"
    assert book.write().faults() == [expected]


@pytest.mark.parametrize("factor", ["yield_ratio", "slope_across"])
def test_ratio_and_size_are_never_negative(book, factor):
    place = _own(book, factor=factor, knots=[[-1, 0], [1, 0]])
    assert book.write().faults() == [f"{place}: knots: {factor} is never negative"]


def test_knots_must_rise_where_the_trade_says_so(book):
    place = _own(book, knots=[[-5, 2], [0, 0], [6, 12]])
    text = "threshing_speed must rise with grain_moisture, but goes 2 to 0 from -5 to 0"
    assert book.write().faults() == [f"{place}: knots: {text}"]


def test_knots_must_fall_where_the_trade_says_so(book):
    place = _shared(book, 1, knots=[[0, 0], [3, -5], [5, -4]])
    text = "concave_clearance must fall with grain_moisture, but goes -5 to -4 from 3 to 5"
    assert book.write().faults() == [f"{place}: knots: {text}"]


def test_level_stretches_keep_the_sign(book):
    assert _own(book, knots=[[-5, -3], [-2, -3], [0, 0], [6, 0]])
    assert book.write().load().crops["wheat"].response[0].knots[0] == (-5, -3)


@pytest.mark.parametrize(
    ("levels", "text"),
    [
        ({"dry": 2, "tough": 5}, "threshing_speed must rise with straw_condition, but goes 2 to 0 from dry to normal"),
        (
            {"dry": -2, "tough": -1},
            "threshing_speed must rise with straw_condition, but goes 0 to -1 from normal to tough",
        ),
        ({"tough": 5, "green": -1}, "green (-1) must lie on the side of tough (5)"),
    ],
)
def test_straw_levels_keep_the_order_and_green_the_side_of_tough(book, levels, text):
    book.wheat["response"][1]["levels"] = levels
    place = "crops/wheat.toml: response wheat.threshing_speed.straw: levels"
    assert book.write().faults() == [f"{place}: {text}"]


def test_level_that_is_left_out_changes_nothing(book):
    place = _shared(book, 3, levels={"leaning": 0.1})
    text = "reel_index must rise with stand, but goes 0.1 to 0 from leaning to lodged"
    assert book.write().faults() == [f"{place}: levels: {text}"]


def test_green_straw_may_lie_beyond_tough(book):
    book.wheat["response"][1]["levels"] = {"tough": 5, "green": 9}
    assert book.write().load().crops["wheat"].response[1].levels["green"] == 9


def test_factor_without_a_sign_may_go_both_ways(book):
    _own(book, factor="slope_along", knots=[[-8, -2], [0, 0], [8, -3]])
    assert book.write().load().crops["wheat"].response[0].factor == "slope_along"


def test_crop_file_names_no_groups(book):
    place = _own(book, groups=["cereal"])
    assert book.write().faults() == [f"{place}: groups: a crop file answers for its crop alone"]


def test_two_answers_in_a_crop_file_are_a_fault(book):
    first = book.wheat["response"][0]
    book.wheat["response"].append({**first, "id": "wheat.second", "classes": ["walker", "axial"]})
    text = f"{first['id']} answers for threshing_speed by grain_moisture already (every group, walker)"
    assert book.write().faults() == [f"crops/wheat.toml: response wheat.second: classes: {text}"]


def test_two_answers_for_one_group_are_a_fault(book):
    cereal = book.responses["response"][2]
    book.responses["response"].append({**cereal, "id": "more.clearance", "groups": ["pulse", "cereal"]})
    text = f"{cereal['id']} answers for concave_clearance by grain_moisture already (cereal, walker)"
    assert book.write().faults() == [f"responses.toml: response more.clearance: classes: {text}"]


def test_two_general_answers_are_a_fault(book):
    general = book.responses["response"][0]
    book.responses["response"].append({**general, "id": "all.second", "classes": ["hybrid"]})
    text = f"{general['id']} answers for threshing_speed by grain_moisture already (every group, hybrid)"
    assert book.write().faults() == [f"responses.toml: response all.second: classes: {text}"]


def test_same_question_for_other_classes_is_none(book):
    first = book.wheat["response"][0]
    first["classes"] = ["hybrid"]
    book.wheat["response"].append({**first, "id": "wheat.second", "classes": ["walker"]})
    assert len(book.write().load().crops["wheat"].response) == 3


@pytest.mark.parametrize(("x", "expected"), [(-9, -10), (-5, -10), (-2.5, -5), (0, 0), (3, 6), (6, 12), (20, 12)])
def test_straight_lines_between_knots_and_flat_outside(x, expected):
    assert interpolated([(-5, -10), (0, 0), (6, 12)], x) == expected
