"""Kept sums against a slow way to them: record by record in plain numbers, added as exact fractions.

Expected values: the description at the head of `refinement_statistics`, in which every operation is one rounding of
a double, and the rules of coding in `refinement_records`, applied to one record after another.
"""

import math
from collections import defaultdict
from collections.abc import Iterator, Mapping
from datetime import timedelta
from fractions import Fraction
from itertools import groupby
from typing import Any
from uuid import UUID

import numpy as np
from sqlalchemy import func, select

from service.cli.invented_coop import CROP, MACHINE_CLASS
from service.domain.refinement_statistics import STEP
from service.knowledge.load import load_table
from service.store import Session, Store, cell_sums
from service.store.feedback import new_id
from service.store.tables import Feedback
from service.store.tables_local import RecordWeight
from service.usecases.refinement_base import Base, base_of, question_of, refinement_file, starts_of
from service.usecases.refinement_fold import fold
from service.usecases.refinement_method import OUTCOMES, refinement_method
from service.usecases.starting_settings import recommend
from tests.coop import GROWN

TABLE = load_table()
METHOD = refinement_method(refinement_file(TABLE).figures)
STRAW = {"dry": -1.0, "normal": 0.0, "tough": 1.0, "green": 1.0}
Key = tuple[str, str, int, str, str, str, int]
Weighed = tuple[float, list[float]]


def rounded(value: float) -> float:
    return math.floor(value / STEP + 0.5) * STEP


def log(value: float) -> float:
    return float(np.log(np.array([value]))[0])


def start_of(base: Base, row: Feedback) -> Mapping[str, Any]:
    if row.base is not None and row.base["coding"] == base.coding:
        return row.base
    return starts_of(recommend(TABLE, question_of(row.conditions)))


def coded_session(base: Base, rows: list[Feedback]) -> Iterator[tuple[Feedback, list[float]]]:
    """Records of a session that count, with their features."""
    ever = {name for row in rows for name in row.settings}
    shown, standing = rows[0].suggested or {}, dict[str, float]()
    for row in rows:
        start, standing = start_of(base, row), standing | row.settings
        coded: list[float] = []
        for name in (one.setting for one in base.settings):
            if name in ever and name not in standing:
                break
            at, low, high = start["settings"][name]
            coded.append((standing.get(name, shown.get(name, at)) - at) / ((high - low) / 2))
        if len(coded) < len(base.settings) or max(map(abs, coded)) > METHOD.rows.coded_limit:
            continue
        feed = 0.0
        if row.grain_throughput_t_h:
            feed = math.log(row.grain_throughput_t_h / start["grain_throughput_t_h"])
        elif "ground_speed" in row.settings:
            feed = math.log(row.settings["ground_speed"] / start["settings"]["ground_speed"][0])
        moisture = (row.grain_moisture_pct - base.moisture_middles[row.moisture_band]) / base.moisture_scale
        yield row, [1.0, *coded, *(u * u for u in coded), moisture, STRAW[row.straw_condition], feed]


def summands(session: list[Weighed]) -> list[float]:
    """What one session adds to the sums of one outcome."""
    entries = range(len(session[0][1]))
    low = [(i, j) for i in entries for j in range(i + 1)]
    single = [sum(rounded(w * z[i]) for w, z in session) for i in entries]
    weight, count = sum(w for w, _ in session), len(session)
    mean = [one / weight for one in single]
    share = weight / (1 + METHOD.model.session_ratio * weight)
    inside = [
        sum(rounded((w * z[i]) * z[j]) for w, z in session) - rounded(single[i] * mean[j]) if count > 1 else 0.0
        for i, j in low
    ]
    return [
        weight,
        1.0,
        rounded(weight * (count - 1) / count),
        rounded(share),
        *(rounded(share * mean[i]) for i in entries),
        *(rounded((share * mean[i]) * mean[j]) for i, j in low),
        *inside,
    ]


def slow_sums(session: Session) -> dict[Key, list[Fraction]]:
    base, offset = base_of(TABLE, CROP, MACHINE_CLASS), METHOD.model.log_offset_pct
    weights: dict[UUID, tuple[int, ...]] = {
        one.feedback_id: (one.loss, one.broken, one.foreign_matter) for one in session.scalars(select(RecordWeight))
    }
    rows = sorted(
        session.scalars(select(Feedback)), key=lambda row: (row.member_id, row.session_key, row.observed_at, row.id.int)
    )
    found: dict[Key, list[Fraction]] = {}
    for _, group in groupby(rows, key=lambda row: (row.member_id, row.session_key)):
        parts: dict[Key, list[Weighed]] = defaultdict(list)
        for row, features in coded_session(base, list(group)):
            amounts = (row.machine_loss_pct, row.broken_pct, row.foreign_matter_pct)
            each = weights.get(row.id, (1024, 1024, 1024))
            machine = f"{row.machine} / {row.loss_method or '-'}"
            for outcome, amount, weight in zip(OUTCOMES, amounts, each, strict=True):
                if amount is not None:
                    key = (row.crop, row.machine_class, row.member_id, machine, row.moisture_band, outcome, row.season)
                    parts[key].append((weight / 1024, [*features, log(amount + offset)]))
        for key, told in parts.items():
            more = [Fraction(one) for one in summands(told)]
            found[key] = [a + b for a, b in zip(found.get(key, [Fraction(0)] * len(more)), more, strict=True)]
    return found


def like(row: Feedback, **changed: Any) -> Feedback:
    kept = {column.name: getattr(row, column.name) for column in Feedback.__table__.columns}
    return Feedback(**{**kept, "id": new_id(GROWN), **changed})


def add_odd_records(store: Store) -> int:
    """Late ones, and ones of new sessions that leave out settings and outcomes or carry no starts; how many."""
    with store.writing() as session:
        some = session.scalars(select(Feedback).order_by(Feedback.id).limit(30)).all()
        later, name = timedelta(minutes=5), "threshing_speed"
        added = [like(row, observed_at=row.observed_at + later, settings={}) for row in some[:6]]
        for row in some[6:]:
            less = {one: value for one, value in row.settings.items() if one != name}
            own: dict[str, Any] = {"session_key": f"odd {row.id}"}
            added += [
                like(row, **own, settings=less, suggested={name: row.settings[name] + 0.5}, broken_pct=None),
                like(row, **own, observed_at=row.observed_at + later, settings={"cleaning_air_speed": 5.5}, base=None),
                like(row, **own, observed_at=row.observed_at + 2 * later, settings={}, grain_throughput_t_h=20.25),
            ]
            own = {"session_key": f"odder {row.id}", "straw_condition": "dry", "loss_method": None}
            added += [
                like(row, **own, settings=less),
                like(row, **own, observed_at=row.observed_at + later, settings={name: row.settings[name]}),
            ]
        session.add_all(added)
    return len(added)


def test_sums_are_those_of_the_slow_way_to_the_last_digit(grown_store: Store) -> None:
    """Lots are small, so they part sessions."""
    count = add_odd_records(grown_store)
    report = fold(grown_store, TABLE, 1, 1, GROWN + timedelta(days=2), most_at_once=64)
    assert report.records == count
    assert report.refused["incomplete"] >= 24  # one in a session that lots part is told of again
    with grown_store.reading() as session:
        assert session.scalar(select(func.count()).select_from(RecordWeight))
        expected = slow_sums(session)
        kept = cell_sums.sums(session, 1, CROP, MACHINE_CLASS)
        assert set(kept) == set(expected)
        for key, packed in kept.items():
            assert [Fraction(one) for one in np.frombuffer(packed, dtype="<f8").tolist()] == expected[key]
