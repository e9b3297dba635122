"""Feedback records coded for adding up, whole columns at a time.

Inside: settings carried on within a session, coded against the base table; conditions; log amounts. Outside:
which records are read (`store.told_records`), what each is coded by (`refinement_starts`), weights and sums
(`domain`).

A setting that nobody told in a whole session stood still in it: it is taken to stand where it was suggested, or
at the base table, and says nothing of changes. Where it was told in some records only, those before it are left
out: it may have been changed.
"""

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from service.domain.refinement_coding import features
from service.domain.refinement_rows import chosen, refusals
from service.domain.refinement_statistics import starts
from service.domain.refinement_types import Array, Places, Records, RowRule
from service.knowledge.table import KnowledgeTable
from service.store.told_records import Told
from service.usecases.refinement_base import CELLS, CONDITIONS, Base
from service.usecases.refinement_method import OUTCOMES
from service.usecases.refinement_starts import Conditions, Starts, distinct, documents, numbers, starts_of_records

_STRAW: Final = {"dry": -1.0, "normal": 0.0, "tough": 1.0, "green": 1.0}
_SPEED: Final = "ground_speed"
Settings = Sequence[Mapping[str, Any] | None]


@dataclass(frozen=True, slots=True)
class Coded:
    """Records that count, their places among those told, and how many do not, by reason."""

    records: Records
    places: Places
    refused: Mapping[str, int]


def contributor_name(member_id: int) -> str:
    """Return the name of a contributor in sums: a number, so that an erased one is named nowhere."""
    return f"{member_id:012}"


def coded(
    table: KnowledgeTable, base: Base, told: Told, conditions: Conditions, rule: RowRule, offset_pct: float
) -> Coded:
    """Code records of one crop and class."""
    keys, key = _numbered(told.session_key.tolist())
    session = np.unique(told.member_id * len(keys) + key, return_inverse=True)[1]
    order = np.lexsort((told.observed_s, session))  # of those observed at once the one that arrived first comes first
    rows, session = told.chosen(order), session[order]
    own = documents(rows.settings)
    begun = starts_of_records(table, base, rows, conditions)
    settings = _settings(base, rows, own, session, begun)
    records = _records(base, rows, session, settings, _conditions(base, rows, own, begun), offset_pct)
    why = refusals(records, rule)
    refused = Counter(why)
    del refused[""]
    kept = np.array([not one for one in why], dtype=bool)
    return Coded(chosen(records, kept), order[kept], refused)


def _records(base: Base, rows: Told, session: Places, settings: Array, known: Array, offset_pct: float) -> Records:
    members, contributor = np.unique(rows.member_id, return_inverse=True)
    pairs = zip(rows.machine.tolist(), rows.loss_method.tolist(), strict=True)
    names, machine = _numbered([f"{name} / {method or '-'}" for name, method in pairs])
    return Records(
        layout=base.layout,
        contributors=tuple(contributor_name(member) for member in members.tolist()),
        machines=tuple(names),
        cells=CELLS,
        outcomes=OUTCOMES,
        contributor=contributor,
        machine=machine,
        cell=_cells(rows),
        session=session,
        season=rows.season,
        features=features(base.layout, settings, known),
        log_amounts=np.log(rows.amounts_pct + offset_pct),
    )


def _cells(rows: Told) -> Places:
    place = {cell: number for number, cell in enumerate(CELLS)}
    return np.array([place[band] for band in rows.moisture_band.tolist()], dtype=np.int64)


def _numbered(values: Sequence[Any]) -> tuple[list[Any], Places]:
    """Distinct values in order, and the place of each value among them."""
    found, which = distinct(values)
    rank = sorted(range(len(found)), key=found.__getitem__)
    place = np.empty(len(found), dtype=np.int64)
    place[rank] = np.arange(len(found))
    return [found[k] for k in rank], place[which]


def _settings(base: Base, rows: Told, own: Settings, session: Places, begun: Starts) -> Array:
    """Coded settings, NaN where one is not known."""
    names = [one.setting for one in base.settings]
    first = starts(session[:, None])
    last = np.append(first, len(rows))[1:] - 1
    value, standing = _carried_on(np.column_stack([numbers(own, name) for name in names]), first[session])
    told = standing[last]  # by the end of the session
    suggested = documents(rows.suggested[first])
    shown = np.column_stack([numbers(suggested, name) for name in names])[session]
    value = np.where(standing, value, np.where(np.isnan(shown), begun.start, shown))
    found = np.where(standing | ~told[session], (value - begun.start) / begun.half, np.nan)
    found[~begun.has] = 0.0  # the machine has no such setting
    known = np.logical_and.reduceat(begun.known, first) if len(first) else begun.known
    found[~(known & told.any(axis=1))[session]] = np.nan
    return found


def _carried_on(own: Array, first: Places) -> tuple[Array, NDArray[np.bool_]]:
    """Each setting as told last in its session up to a record, and whether it was told at all."""
    place = np.where(np.isnan(own), -1, np.arange(len(own))[:, None])
    np.maximum.accumulate(place, axis=0, out=place)
    return np.take_along_axis(own, np.maximum(place, 0), axis=0), place >= first[:, None]


def _conditions(base: Base, rows: Told, own: Settings, begun: Starts) -> Array:
    """Moisture about the middle of the cell, straw, and how hard the machine is driven against the advice."""
    middle = np.array([base.moisture_middles[cell] for cell in CELLS])[_cells(rows)]
    moisture = (rows.grain_moisture_pct - middle) / base.moisture_scale
    straw = [_STRAW.get(one, 0.0) for one in rows.straw_condition.tolist()]
    found = np.column_stack((moisture, straw, _feed(rows, own, begun)))
    return found.reshape(-1, len(CONDITIONS))


def _feed(rows: Told, own: Settings, begun: Starts) -> list[float]:
    """Logarithm of throughput over that of the advice; by ground speed where throughput was not told."""
    ratio = np.ones(len(rows))
    pairs = (
        (numbers(own, _SPEED), begun.speed),
        (rows.grain_throughput_t_h, begun.throughput),
    )
    for told, advised in pairs:  # the later one counts
        both = (np.nan_to_num(told) != 0) & (np.nan_to_num(advised) != 0)
        ratio[both] = told[both] / advised[both]
    # one by one: the last digit of whole columns of logarithms depends on the processor
    return [math.log(one) for one in ratio.tolist()]
