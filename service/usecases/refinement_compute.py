"""A draft from sums: what is proposed for every row, in settings as they are set.

Inside: from sums, figures and where the table stands to the figures of a draft; nothing of it depends on a clock or
a database, so that the same inputs give the same draft to the last digit. Outside: inputs and keeping (`refinement`).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from service.domain.refinement_choice import Room
from service.domain.refinement_coding import coded_setting, setting_of
from service.domain.refinement_draft import CellDraft, OutcomeEffect, SettingDraft
from service.domain.refinement_fit import Fit, fit, records_by_contributor
from service.domain.refinement_proposal import effects_of, propose
from service.domain.refinement_sums import faded
from service.domain.refinement_types import Array, CellStatistics, Method, Outcome
from service.usecases.local_types import LocalTable
from service.usecases.refinement_base import CELLS, Base

STEP: Final = 0.05  # coded; about the smallest change that can be set and seen
_DECIMALS: Final = 6


@dataclass(frozen=True, slots=True)
class Part:
    """What one crop and class is drafted from."""

    base: Base
    sums: CellStatistics
    season: int


@dataclass(frozen=True, slots=True)
class Drafted:
    """Rows of one crop and class, what is told of the whole, and how each contributor stands."""

    rows: tuple[dict[str, Any], ...]
    overall: dict[str, Any]
    standing: Mapping[int, dict[str, Any]]
    statistics: str


def learnt(part: Part, outcomes: tuple[Outcome, ...], method: Method) -> Fit:
    """Return what the sums of a crop and class say."""
    return fit(faded(part.sums, part.season, method.half_life_seasons), CELLS, outcomes, method)


def drafted(
    part: Part, local: LocalTable | None, outcomes: tuple[Outcome, ...], method: Method, number: int
) -> Drafted:
    """Draft the rows of a crop and class."""
    base, found = part.base, learnt(part, outcomes, method)
    rooms = {cell: room(base, cell, local) for cell in CELLS}
    draft = propose(found, rooms, method, number)
    rows = tuple(_row(base, found, method, place, row, local) for place, row in enumerate(draft.cells))
    names = [one.name for one in outcomes]
    counts = np.count_nonzero(records_by_contributor(found).any(axis=1))
    overall = {
        "crop": base.crop,
        "machine_class": base.machine_class,
        "skill": dict(zip(names, draft.skill, strict=True)),
        "noise_log_sd": dict(zip(names, draft.noise_log_sd, strict=True)),
        "contributors": int(counts),
        "records": _rounded(float(records_by_contributor(found).sum())),
        "set_aside": sum(one.set_aside for one in draft.contributors),
    }
    standing = {
        int(one.contributor): {
            "records": one.records,
            "disagreement": one.disagreement,
            "set_aside": one.set_aside,
        }
        for one in draft.contributors
    }
    return Drafted(rows, overall, standing, draft.statistics)


def room(base: Base, cell: str, local: LocalTable | None) -> Room:
    """Return where the table stands in a cell and where it may go."""
    low, high = (
        np.array([coded_setting(end, one.start, one.low, one.high) for one, end in ends])
        for ends in (
            [(one, one.low) for one in base.settings],
            [(one, one.high) for one in base.settings],
        )
    )
    return Room(np.clip(standing(base, cell, local), low, high), low, high, np.full(len(low), STEP))


def standing(base: Base, cell: str, local: LocalTable | None) -> Array:
    """Return where the table stands, coded: local numbers as a shift of the base table of today."""
    found = np.zeros(len(base.settings))
    if local is not None:
        for j, one in enumerate(base.settings):
            row = local.find(base.crop, base.machine_class, one.setting, cell)
            if row is not None:
                found[j] = (row.start - row.base_start) / one.half
    return found


def stale_settings(base: Base, cell: str, local: LocalTable | None) -> list[str]:
    """Return settings whose base start is no longer the one that the local number was found on."""
    if local is None:
        return []
    pairs = [(one, local.find(base.crop, base.machine_class, one.setting, cell)) for one in base.settings]
    return [one.setting for one, row in pairs if row is not None and abs(row.base_start - one.start) > 10**-_DECIMALS]


def row_id(crop: str, machine_class: str, cell: str) -> str:
    """Return the name of a row."""
    return f"{crop}.{machine_class}.{cell}"


def _row(
    base: Base, found: Fit, method: Method, place: int, draft: CellDraft, local: LocalTable | None
) -> dict[str, Any]:
    evidence = draft.evidence
    contributors, records = evidence.contributors, evidence.records
    if not evidence.own:  # answered by all cells, so it rests on all of their records
        weight = records_by_contributor(found)
        contributors, records = int(np.count_nonzero(weight.any(axis=1))), float(weight.sum())
    return {
        "id": row_id(base.crop, base.machine_class, draft.cell),
        "crop": base.crop,
        "machine_class": base.machine_class,
        "moisture_band": draft.cell,
        "reason": draft.reason,
        "settings": [_setting(base, found, method, place, j, one) for j, one in enumerate(draft.settings)],
        "effects": [_effect(one) for one in draft.effects],
        "gain": draft.gain,
        "gain_low": draft.gain_low,
        "gain_high": draft.gain_high,
        "probability": draft.probability,
        "least_gain_without": draft.least_gain_without,
        "stale": stale_settings(base, draft.cell, local),
        "evidence": {
            "own": evidence.own,
            "contributors": contributors,
            "records": _rounded(records),
            "sessions": evidence.sessions,
            "comparisons": evidence.comparisons,
            "largest_share": evidence.largest_share,
        },
    }


def _setting(base: Base, found: Fit, method: Method, place: int, j: int, draft: SettingDraft) -> dict[str, Any]:
    one = base.settings[j]
    here = np.zeros(len(base.settings))
    there = here.copy()
    there[j] = draft.proposed
    moved = effects_of(found, place, here, there, method.gate) if draft.proposed != 0 else ()

    def in_units(coded: float) -> float:
        return setting_of(coded, one.start, one.low, one.high)

    return {
        "setting": draft.setting,
        "unit": one.unit,
        "base_start": one.start,
        "low": one.low,
        "high": one.high,
        "now": _rounded(in_units(draft.now)),
        "proposed": _rounded(in_units(draft.proposed)),
        "likely": None if draft.likely is None else [_rounded(in_units(end)) for end in draft.likely],
        "reason": draft.reason,
        "probability": draft.probability,
        "same_day_share": draft.same_day_share,
        "choice": draft.choice,
        "effects": [_effect(effect) for effect in moved],
    }


def _effect(one: OutcomeEffect) -> dict[str, Any]:
    return {
        "outcome": one.outcome,
        "factor": one.factor,
        "low": one.factor_low,
        "high": one.factor_high,
        "skill": one.skill,
    }


def _rounded(value: float) -> float:
    return round(value, _DECIMALS)


def all_rows(parts: Sequence[Drafted]) -> list[dict[str, Any]]:
    """Return the rows of every crop and class."""
    return [row for part in parts for row in part.rows]
