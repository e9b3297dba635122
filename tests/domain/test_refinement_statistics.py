"""Sums over records: exact, additive, the same in any order, the same as the plain definition.

Expected values: the definition of each sum, written as loops over records with exact fractions.
"""

import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import closing
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.domain.refinement_coding import coded_setting, features, recoded
from service.domain.refinement_rows import chosen
from service.domain.refinement_statistics import STEP, accumulate, no_statistics
from service.domain.refinement_sums import added, digest, faded, taken_off, without_contributor
from service.domain.refinement_types import CellStatistics, Records
from service.errors import OutOfRange
from tests.domain.refinement_cases import LAYOUT, METHOD, drawn, of_contributor, sums

RATIO = METHOD.model.session_ratio
SEEDS = st.integers(0, 10_000)


def weights(records: Records, seed: int) -> np.ndarray:
    return np.random.default_rng((seed, 9)).uniform(0.02, 1, records.log_amounts.shape)


def same(one: CellStatistics, other: CellStatistics) -> bool:
    return one.keys == other.keys and np.array_equal(one.sums, other.sums)


def by_definition(records: Records, given_weights: np.ndarray) -> dict[tuple[object, ...], list[Fraction]]:
    """The sums as the documentation of CellStatistics has them, without any rounding."""
    groups: dict[tuple[object, ...], dict[int, list[tuple[Fraction, list[Fraction]]]]] = {}
    for row in range(len(records.session)):
        for place, outcome in enumerate(records.outcomes):
            if np.isnan(records.log_amounts[row, place]):
                continue
            key = (
                records.contributors[records.contributor[row]],
                records.machines[records.machine[row]],
                records.cells[records.cell[row]],
                outcome,
                int(records.season[row]),
            )
            weight = Fraction(float(np.floor(given_weights[row, place] * 1024 + 0.5) / 1024))
            z = [Fraction(float(x)) for x in (*records.features[row], records.log_amounts[row, place])]
            groups.setdefault(key, {}).setdefault(int(records.session[row]), []).append((weight, z))
    return {key: _sums_of(sessions.values()) for key, sessions in groups.items()}


def _sums_of(sessions) -> list[Fraction]:
    q, ratio = LAYOUT.entries, Fraction(RATIO)
    low = [(i, j) for i in range(q) for j in range(i + 1)]
    total = [Fraction(0)] * LAYOUT.width
    for session in sessions:
        weight = sum(w for w, _ in session)
        mean = [sum(w * z[i] for w, z in session) / weight for i in range(q)]
        share = weight / (1 + ratio * weight)
        parts = [weight, Fraction(1), weight * (len(session) - 1) / len(session), share]
        parts += [share * mean[i] for i in range(q)]
        parts += [share * mean[i] * mean[j] for i, j in low]
        parts += [sum(w * (z[i] - mean[i]) * (z[j] - mean[j]) for w, z in session) for i, j in low]
        total = [a + b for a, b in zip(total, parts, strict=True)]
    return total


def test_sums_are_those_of_the_definition() -> None:
    records = drawn(1, 60)
    given_weights = weights(records, 1)
    found, expected = accumulate(records, given_weights, RATIO), by_definition(records, given_weights)
    assert {tuple(key) for key in found.keys} == set(expected)
    for key, row in zip(found.keys, found.sums, strict=True):
        assert row == pytest.approx([float(x) for x in expected[tuple(key)]], abs=60 * 4 * STEP)


@settings(max_examples=20, deadline=None)
@given(SEEDS)
def test_order_of_records_does_not_count_to_the_last_digit(seed: int) -> None:
    records = drawn(seed, 80)
    given_weights = weights(records, seed)
    order = np.random.default_rng(seed).permutation(80)
    mixed = accumulate(chosen(records, order), given_weights[order], RATIO)
    assert same(accumulate(records, given_weights, RATIO), mixed)


@settings(max_examples=20, deadline=None)
@given(SEEDS, st.integers(0, 40))
def test_folding_in_parts_is_folding_at_once_and_can_be_undone_exactly(seed: int, first: int) -> None:
    records = drawn(seed, 80)
    given_weights = weights(records, seed)
    early = records.session < first
    parts = [accumulate(chosen(records, part), given_weights[part], RATIO) for part in (early, ~early)]
    whole = accumulate(records, given_weights, RATIO)
    assert same(added(*parts), whole)
    assert same(added(parts[1], parts[0]), whole)
    assert same(taken_off(whole, parts[0]), parts[1])
    assert digest(taken_off(whole, parts[1])) == digest(parts[0])


@settings(max_examples=10, deadline=None)
@given(SEEDS)
def test_erasing_a_contributor_is_never_having_had_him(seed: int) -> None:
    records = drawn(seed, 80)
    name = records.contributors[0]
    rest = of_contributor(records, name, others=True)
    assert same(without_contributor(sums(records), name), sums(rest))
    assert same(taken_off(sums(records), sums(of_contributor(records, name))), sums(rest))


def test_many_records_are_taken_in_blocks_without_a_difference() -> None:
    records = drawn(21, 20_000)
    given_weights = weights(records, 21)
    early = records.session < 3_001
    parts = [accumulate(chosen(records, part), given_weights[part], RATIO) for part in (early, ~early)]
    assert same(added(*parts), accumulate(records, given_weights, RATIO))


def test_nothing_is_nothing() -> None:
    nothing = no_statistics(LAYOUT)
    assert same(added(sums(drawn(3)), nothing), sums(drawn(3)))
    empty = chosen(drawn(3), np.zeros(240, dtype=bool))
    assert same(sums(empty), nothing)


def test_seasons_fade_by_half_in_a_half_life() -> None:
    records = replace(drawn(4), season=np.full(240, 2023))
    now = faded(sums(records), 2026, 3.0)
    assert {key.season for key in now.keys} == {2026}
    assert np.array_equal(now.sums, sums(records).sums / 2)


def test_seasons_add_when_nothing_fades() -> None:
    records = drawn(5)
    together = sums(replace(records, season=np.full(240, 2026)))
    assert same(faded(sums(records), 2026, np.inf), together)


def test_another_base_table_is_the_same_as_coding_anew() -> None:
    records = drawn(6)
    old, new = (800.0, 600.0, 1000.0), (850.0, 700.0, 1100.0)
    halves = [(high - low) / 2 for _, low, high in (old, new)]
    u = records.features[:, LAYOUT.slopes]
    again = u.copy()
    again[:, 0] = [coded_setting(old[0] + x * halves[0], *new) for x in u[:, 0]]
    expected = sums(replace(records, features=features(LAYOUT, again, records.features[:, -1:])))
    scale, shift = halves[0] / halves[1], (old[0] - new[0]) / halves[1]
    found = recoded(sums(records), [scale, 1.0], [shift, 0.0])
    assert found.keys == expected.keys
    assert found.sums == pytest.approx(expected.sums, abs=2e-5)


def test_the_digest_tells_every_change() -> None:
    one = sums(drawn(7))
    other = CellStatistics(one.layout, one.keys, one.sums.copy())
    assert digest(other) == digest(one)
    other.sums[0, -1] = np.nextafter(other.sums[0, -1], np.inf)
    assert digest(other) != digest(one)
    renamed = (one.keys[0]._replace(season=1), *one.keys[1:])
    assert digest(CellStatistics(one.layout, renamed, one.sums)) != digest(one)


def test_sums_that_would_not_be_exact_are_refused() -> None:
    records = drawn(8, 4)
    huge = replace(records, features=records.features * 2.0**14)
    with pytest.raises(OutOfRange):
        sums(huge)


@pytest.mark.parametrize("step", [0.0, 0.3, -1.0, np.inf])
def test_a_step_that_is_no_power_of_two_is_refused(step: float) -> None:
    with pytest.raises(OutOfRange):
        accumulate(drawn(9, 4), np.ones((4, 3)), RATIO, step)


@pytest.mark.parametrize("weight", [0.0, -1.0, np.nan, np.inf])
def test_a_weight_that_is_none_is_refused(weight: float) -> None:
    with pytest.raises(OutOfRange):
        accumulate(drawn(9, 4), np.full((4, 3), weight), RATIO)


def test_a_later_season_cannot_fade() -> None:
    with pytest.raises(OutOfRange):
        faded(sums(drawn(1)), 2020, 3.0)


def test_sums_of_unlike_settings_do_not_add() -> None:
    with pytest.raises(OutOfRange):
        added(sums(drawn(1)), no_statistics(replace(LAYOUT, settings=("drum", "fan"))))


def in_sql(records: Records, given_weights: np.ndarray) -> dict[tuple[object, ...], list[float]]:
    """The sums made by a database from plain columns, after the description in refinement_statistics."""
    q = LAYOUT.entries
    low = [(i, j) for i in range(q) for j in range(i + 1)]
    keys = "contributor, machine, cell, outcome, season"

    def rounded(term: str) -> str:
        return f"floor(({term}) / {STEP!r} + 0.5) * {STEP!r}"

    single = [f"sum({rounded(f'w * z{i}')}) AS s{i}" for i in range(q)]
    double = [f"sum({rounded(f'(w * z{i}) * z{j}')}) AS q{i}_{j}" for i, j in low]
    means = [f"s{i} / weight AS m{i}" for i in range(q)]
    inside = [f"sum(CASE WHEN n > 1 THEN q{i}_{j} - {rounded(f's{i} * m{j}')} ELSE 0 END)" for i, j in low]
    sums_of = ["sum(weight)", "count(*)", f"sum({rounded('weight * (n - 1) / n')})", f"sum({rounded('om')})"]
    sums_of += [f"sum({rounded(f'om * m{i}')})" for i in range(q)]
    sums_of += [f"sum({rounded(f'(om * m{i}) * m{j}')})" for i, j in low]
    query = f"""
        WITH day AS (SELECT {keys}, session, sum(w) AS weight, count(*) AS n, {", ".join(single + double)}
                     FROM record GROUP BY {keys}, session),
        mean AS (SELECT *, weight / (1 + {RATIO!r} * weight) AS om, {", ".join(means)} FROM day)
        SELECT {keys}, {", ".join(sums_of + inside)} FROM mean GROUP BY {keys}"""
    with closing(sqlite3.connect(":memory:")) as database:
        columns = ", ".join(f"z{i} REAL" for i in range(q))
        database.execute(f"CREATE TABLE record ({keys}, session, w REAL, {columns})")
        for key, session, w, z in rows_of(records, given_weights):
            marks = ", ".join("?" * (7 + q))
            database.execute(f"INSERT INTO record VALUES ({marks})", (*key, session, w, *z))
        found = database.execute(query).fetchall()
    return {tuple(row[:5]): list(row[5:]) for row in found}


def rows_of(
    records: Records, given_weights: np.ndarray
) -> Iterator[tuple[tuple[object, ...], int, float, list[float]]]:
    """One row for each record and outcome, in an order of no meaning."""
    order = np.random.default_rng(1).permutation(len(records.session))
    for row in order.tolist():
        for place, outcome in enumerate(records.outcomes):
            if np.isnan(records.log_amounts[row, place]):
                continue
            contributor = records.contributors[records.contributor[row]]
            machine, cell = records.machines[records.machine[row]], records.cells[records.cell[row]]
            weight = float(np.floor(given_weights[row, place] * 1024 + 0.5) / 1024)
            z = [*records.features[row].tolist(), float(records.log_amounts[row, place])]
            key = (contributor, machine, cell, outcome, int(records.season[row]))
            yield key, int(records.session[row]), weight, z


@pytest.mark.parametrize("sizes", [None, range(1, 16), [120]], ids=["two", "1 to 15", "120"])
def test_a_database_makes_the_same_sums_to_the_last_digit(sizes: Sequence[int] | None) -> None:
    records = drawn(20, 120)
    if sizes is not None:
        session = np.repeat(np.arange(len(sizes)), sizes)
        third, half = session % 3, session % 2
        records = replace(records, session=session, contributor=third, machine=half, cell=third, season=2024 + half)
    given_weights = weights(records, 20)
    found = in_sql(records, given_weights)
    expected = accumulate(records, given_weights, RATIO)
    assert set(found) == {tuple(key) for key in expected.keys}
    for key, row in zip(expected.keys, expected.sums, strict=True):
        assert found[tuple(key)] == row.tolist()
