"""Feedback records coded for adding up.

Inside: settings carried on within a session, coded against the base table; conditions; log amounts. Outside:
which records are read (`store.cell_sums`), their weights and sums (`domain`).

A setting that nobody told in a whole session stood still in it: it is taken to stand where it was suggested, or
at the base table, and says nothing of changes. Where it was told in some records only, those before it are left
out: it may have been changed.
"""

import json
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Any, Final
from uuid import UUID

import numpy as np

from service.domain.refinement_coding import features
from service.domain.refinement_rows import chosen, refusals
from service.domain.refinement_types import Array, Records, RowRule
from service.errors import ServiceError
from service.knowledge.table import KnowledgeTable
from service.store.cell_sums import Told
from service.usecases.refinement_base import CELLS, CONDITIONS, Base, question_of, starts_of
from service.usecases.refinement_method import OUTCOMES
from service.usecases.starting_settings import recommend

_STRAW: Final = {"dry": -1.0, "normal": 0.0, "tough": 1.0, "green": 1.0}
_SPEED: Final = "ground_speed"
Conditions = Callable[[Sequence[UUID]], Mapping[UUID, Mapping[str, Any]]]


@dataclass(frozen=True, slots=True)
class Coded:
    """Records that count, their ids in the same order, and how many do not, by reason."""

    records: Records
    idents: tuple[UUID, ...]
    refused: Mapping[str, int]


def contributor_name(member_id: int) -> str:
    """Return the name of a contributor in sums: a number, so that an erased one is named nowhere."""
    return f"{member_id:012}"


def coded(
    table: KnowledgeTable, base: Base, told: Sequence[Told], conditions: Conditions, rule: RowRule, offset_pct: float
) -> Coded:
    """Code records of one crop and class."""
    ordered = sorted(told, key=lambda row: (row.member_id, row.session_key, row.observed_at, row.id.int))
    starts = _starts(table, base, ordered, conditions)
    settings = np.full((len(ordered), len(base.settings)), np.nan)
    session = np.zeros(len(ordered), dtype=np.int64)
    first = 0
    for number, (_, group) in enumerate(groupby(ordered, key=lambda row: (row.member_id, row.session_key))):
        rows = list(group)
        upto = first + len(rows)
        settings[first:upto] = _of_session(base, rows, starts[first:upto])
        session[first:upto] = number
        first = upto
    known = np.array([_conditions(base, row, one) for row, one in zip(ordered, starts, strict=True)])
    amounts = np.array(
        [[row.machine_loss_pct, row.broken_pct, row.foreign_matter_pct] for row in ordered], dtype=np.float64
    ).reshape(-1, len(OUTCOMES))
    records = _records(base, ordered, session, settings, known.reshape(-1, len(CONDITIONS)), amounts, offset_pct)
    why = np.array(refusals(records, rule), dtype=object)
    names, counts = np.unique(why[why != ""].astype(str), return_counts=True)
    kept = why == ""
    idents = tuple(row.id for row, keep in zip(ordered, kept.tolist(), strict=True) if keep)
    return Coded(chosen(records, kept), idents, dict(zip(names.tolist(), counts.tolist(), strict=True)))


def _records(
    base: Base, rows: Sequence[Told], session: Any, settings: Array, known: Array, amounts: Array, offset_pct: float
) -> Records:
    contributors, contributor = _numbered([contributor_name(row.member_id) for row in rows])
    machines, machine = _numbered([f"{row.machine} / {row.loss_method or '-'}" for row in rows])
    return Records(
        layout=base.layout,
        contributors=contributors,
        machines=machines,
        cells=CELLS,
        outcomes=OUTCOMES,
        contributor=contributor,
        machine=machine,
        cell=np.array([CELLS.index(row.moisture_band) for row in rows], dtype=np.int64),
        session=session,
        season=np.array([row.season for row in rows], dtype=np.int64),
        features=features(base.layout, settings, known),
        log_amounts=np.log(amounts + offset_pct),
    )


def _numbered(names: Sequence[str]) -> tuple[tuple[str, ...], Any]:
    known = {name: place for place, name in enumerate(sorted(set(names)))}
    return tuple(known), np.array([known[name] for name in names], dtype=np.int64)


def _starts(
    table: KnowledgeTable, base: Base, rows: Sequence[Told], conditions: Conditions
) -> list[Mapping[str, Any] | None]:
    """What each record is coded by: kept with it, or worked out where the base table has changed since."""
    kept = [row.base if row.base is not None and row.base.get("coding") == base.coding else None for row in rows]
    asked = conditions([row.id for row, one in zip(rows, kept, strict=True) if one is None])
    answers: dict[str, Mapping[str, Any] | None] = {}
    for place, row in enumerate(rows):
        if kept[place] is None:
            written = json.dumps(asked[row.id], sort_keys=True)
            if written not in answers:
                answers[written] = _answered(table, asked[row.id])
            kept[place] = answers[written]
    return kept


def _answered(table: KnowledgeTable, conditions: Mapping[str, Any]) -> Mapping[str, Any] | None:
    try:
        return starts_of(recommend(table, question_of(conditions)))
    except (ServiceError, TypeError):  # the table of today knows no such crop, machine or moisture any more
        return None


def _of_session(base: Base, rows: Sequence[Told], starts: Sequence[Mapping[str, Any] | None]) -> Array:
    """Coded settings of a session, NaN where one is not known."""
    found = np.full((len(rows), len(base.settings)), np.nan)
    if any(one is None for one in starts):
        return found
    standing: dict[str, float] = {}
    in_force = [standing := standing | row.settings for row in rows]
    names = [one.setting for one in base.settings]
    if not any(name in standing for name in names):
        return found
    shown = rows[0].suggested or {}
    for j, name in enumerate(names):
        for k, (settings, one) in enumerate(zip(in_force, starts, strict=True)):
            place = (one or {})["settings"].get(name)
            if place is None:  # the machine has no such setting
                found[k, j] = 0.0
            elif name in settings or name not in standing:
                value = settings.get(name, shown.get(name, place[0]))
                found[k, j] = (value - place[0]) / ((place[2] - place[1]) / 2)
    return found


def _conditions(base: Base, row: Told, start: Mapping[str, Any] | None) -> tuple[float, float, float]:
    """Moisture about the middle of the cell, straw, and how hard the machine is driven against the advice."""
    moisture = (row.grain_moisture_pct - base.moisture_middles[row.moisture_band]) / base.moisture_scale
    return moisture, _STRAW.get(row.straw_condition, 0.0), _feed(row, start)


def _feed(row: Told, start: Mapping[str, Any] | None) -> float:
    """Logarithm of throughput over that of the advice; by ground speed where throughput was not told."""
    if start is None:
        return 0.0
    pairs = (
        (row.grain_throughput_t_h, start.get("grain_throughput_t_h")),
        (row.settings.get(_SPEED), start["settings"].get(_SPEED, [None])[0]),
    )
    return next((math.log(told / advised) for told, advised in pairs if told and advised), 0.0)
