"""Order by precedence: held against the standard library, and decided by rank alone where that is free."""

import graphlib
from itertools import permutations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.domain.precedence import circle, in_order
from service.errors import Contradiction

NAMES = list("abcdef")
relaxed = settings(deadline=None, max_examples=80)


@st.composite
def tangles(draw: st.DrawFn) -> dict[str, list[str]]:
    """Any precedences, with circles or without."""
    names = draw(st.permutations(NAMES))[: draw(st.integers(0, 6))]
    return {name: draw(st.lists(st.sampled_from([*NAMES, "outside"]), max_size=3)) for name in names}


def sortable(after: dict[str, list[str]]) -> bool:
    try:
        list(graphlib.TopologicalSorter({n: [b for b in bs if b in after] for n, bs in after.items()}).static_order())
    except graphlib.CycleError:
        return False
    return True


@relaxed
@given(tangles())
def test_there_is_an_order_exactly_where_the_standard_library_finds_one(after: dict[str, list[str]]) -> None:
    if sortable(after):
        assert sorted(in_order(after)) == sorted(after)
        assert circle(after) == ()
        return
    with pytest.raises(Contradiction):
        in_order(after)
    found = circle(after)
    assert found
    for place, name in enumerate(found):
        assert found[(place + 1) % len(found)] in after[name]


@relaxed
@given(tangles())
def test_it_is_the_first_by_rank_of_all_orders_that_keep_the_precedences(after: dict[str, list[str]]) -> None:
    if not sortable(after):
        return
    rank = list(after)
    kept = [
        order
        for order in permutations(rank)
        if all(order.index(b) < order.index(n) for n in after for b in after[n] if b in after)
    ]
    assert in_order(after) == min(kept, key=lambda order: [rank.index(name) for name in order])


def test_nothing_has_an_order() -> None:
    assert in_order({}) == ()
