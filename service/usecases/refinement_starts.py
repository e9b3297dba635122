"""What each record is coded by: start and envelope of the base table for its conditions.

Inside: documents of records as numbers, starts kept with a record or worked out anew. Outside: coding
(`refinement_records`), the table itself (`starting_settings`). Documents are alike in most records, so each
different text is read once.
"""

import json
from collections.abc import Callable, Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, TypeVar

import numpy as np
from numpy.typing import NDArray

from service.domain.refinement_types import Array, Places
from service.errors import ServiceError
from service.knowledge.table import KnowledgeTable
from service.store.told_records import Told
from service.usecases.refinement_base import Base, question_of, starts_of
from service.usecases.starting_settings import recommend

_SPEED: Final = "ground_speed"
_NONE: Final = (np.nan, np.nan, np.nan)
T = TypeVar("T", bound=Hashable)
Conditions = Callable[[Sequence[str]], Mapping[str, Mapping[str, Any]]]
Start = Mapping[str, Any] | None


@dataclass(frozen=True, slots=True, eq=False)
class Starts:
    """One row a record.

    Attributes
    ----------
    known : ndarray of bool, shape (records,)
        Whether there is an answer at all.
    has : ndarray of bool, shape (records, settings)
        Whether the machine has the setting.
    start, half : ndarray, shape (records, settings)
        Start and half of the envelope, NaN where there is none.
    speed, throughput : ndarray, shape (records,)
        Ground speed and throughput of the advice, NaN where it has none.
    """

    known: NDArray[np.bool_]
    has: NDArray[np.bool_]
    start: Array
    half: Array
    speed: Array
    throughput: Array


def distinct(values: Iterable[T]) -> tuple[list[T], Places]:
    """Different values as they come, and the place of each value among them."""
    known: dict[T, int] = {}
    which = np.array([known.setdefault(one, len(known)) for one in values], dtype=np.int64)
    return list(known), which


def documents(texts: NDArray[np.object_]) -> Sequence[Mapping[str, Any] | None]:
    """Return what texts say, None where there is none."""
    # one text for all: reading it takes a third of the time of one at a time
    found: list[Mapping[str, Any] | None] = json.loads(f"[{','.join('null' if one is None else one for one in texts)}]")
    return found


def numbers(told: Sequence[Mapping[str, Any] | None], name: str) -> Array:
    """Return a number of each document, NaN where it has none."""
    return np.array([None if one is None else one.get(name) for one in told], dtype=np.float64)


def starts_of_records(table: KnowledgeTable, base: Base, rows: Told, conditions: Conditions) -> Starts:
    """What each record is coded by: kept with it, or worked out where the base table has changed since."""
    texts, which = distinct(rows.base.tolist())
    kept: list[Start] = [
        one if one is not None and one.get("coding") == base.coding else None
        for one in documents(np.array(texts, dtype=object))
    ]
    old = np.flatnonzero(np.array([one is None for one in kept], dtype=bool)[which])
    asked = conditions(rows.ident[old].tolist())
    answers: dict[str, int] = {}
    for place in old.tolist():
        question = asked[rows.ident[place]]
        written = json.dumps(question, sort_keys=True)
        if written not in answers:
            answers[written] = len(kept)
            kept.append(_answered(table, question))
        which[place] = answers[written]
    return _starts(base, kept, which)


def _answered(table: KnowledgeTable, conditions: Mapping[str, Any]) -> Start:
    try:
        return starts_of(recommend(table, question_of(conditions)))
    except (ServiceError, TypeError):  # the table of today knows no such crop, machine or moisture any more
        return None


def _starts(base: Base, kept: Sequence[Start], which: Places) -> Starts:
    settings = [{} if one is None else one["settings"] for one in kept]
    envelopes = np.array(
        [[one.get(setting.setting, _NONE) for setting in base.settings] for one in settings], dtype=np.float64
    ).reshape(len(kept), len(base.settings), 3)
    speed = np.array([one.get(_SPEED, _NONE)[0] for one in settings], dtype=np.float64)
    start, half = envelopes[:, :, 0], (envelopes[:, :, 2] - envelopes[:, :, 1]) / 2
    return Starts(
        known=np.array([one is not None for one in kept], dtype=bool)[which],
        has=~np.isnan(start)[which],
        start=start[which],
        half=half[which],
        speed=speed[which],
        throughput=numbers(kept, "grain_throughput_t_h")[which],
    )
