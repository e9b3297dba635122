"""A draft of a local table: for each row a move, or why it is left alone. Nothing is published here.

Inside: which belief answers a row, what it must have, what is told of it. Outside: the search
(`refinement_choice`), records of the draft (`refinement_draft`), who accepts and publishes.

Figures are rounded to six decimals, so that the last bits of another processor do not show: the same
sums, method, rooms and number give the same draft.
"""

import math
from collections.abc import Mapping
from dataclasses import replace
from typing import Final

import numpy as np

from service.domain.ranges import within
from service.domain.refinement_choice import Choice, CostDraws, Room, choose, cost_draws, least_at, rows
from service.domain.refinement_draft import (
    CellDraft,
    CellReason,
    ContributorStanding,
    Draft,
    Evidence,
    OutcomeEffect,
    SettingDraft,
    SettingReason,
)
from service.domain.refinement_fit import Answer, Fit, answer, records_by_contributor
from service.domain.refinement_held_out import HeldOut, held_out, without_each
from service.domain.refinement_pairs import same_day_share
from service.domain.refinement_types import Array, Gate, Method
from service.errors import OutOfRange, UnknownName

_Z80: Final = 1.2815515655446004  # normal quantile of 0.90: the ends of an 80 % interval
_DECIMALS: Final = 6
_SAME: Final = 1e-9  # coded


def propose(fit: Fit, rooms: Mapping[str, Room], method: Method, number: int) -> Draft:
    """Draft a local table.

    Parameters
    ----------
    fit : Fit
        What was learnt.
    rooms : mapping of str to Room
        For each cell where the local table stands and the envelope of the base table.
    method : Method
        All figures of the method.
    number : int
        Of the draft, >= 0; another number draws anew.

    Returns
    -------
    Draft
        One row for each cell.

    Raises
    ------
    OutOfRange
        If a local value lies outside its envelope, or a number outside its range.
    UnknownName
        If a cell has no room.

    Notes
    -----
    A row is proposed if there are enough contributors and records, the contributors do not contradict each
    other beyond repair, the move is likely enough to be better and saves enough, and is likely to be better
    whichever contributor is left out. A cell with too few contributors of its own is answered by what all
    cells share.

    References
    ----------
    Ours; see the reasons beside each figure of the method.

    Examples
    --------
    >>> from service.domain.refinement_example import METHOD, invented_fit
    >>> one = np.array([0.0])
    >>> rooms = {cell: Room(one, one - 1, one + 1, one + 0.05) for cell in ("damp", "dry")}
    >>> draft = propose(invented_fit(), rooms, METHOD, 1)
    >>> [(row.cell, row.reason, row.settings[0].proposed) for row in draft.cells]
    [('damp', 'proposed', 0.25), ('dry', 'proposed', 0.25)]
    """
    for cell in fit.setup.equations.cells:
        if cell not in rooms:
            raise UnknownName("cell", cell, list(rooms))
        _check_room(rooms[cell], len(fit.setup.layout.settings))
    found, pairs = held_out(fit), same_day_share(fit)
    whole = _whole_table(fit, method.gate)
    cells = [
        _row(fit, found, pairs[place], place, rooms[cell], method, number)
        if whole is None
        else _left(fit, pairs[place], place, rooms[cell], method.gate, whole)
        for place, cell in enumerate(fit.setup.equations.cells)
    ]
    noise = [round(math.sqrt(variance), _DECIMALS) for variance in fit.setup.noise_variance.tolist()]
    skill = [_number(value) for value in found.overall.tolist()]
    return Draft(fit.statistics, number, tuple(cells), _contributors(fit), tuple(skill), tuple(noise))


def _whole_table(fit: Fit, gate: Gate) -> CellReason | None:
    """What the records lack for any row at all."""
    records = records_by_contributor(fit)
    if np.count_nonzero(records.any(axis=1)) < gate.least_contributors:
        return "too_few_contributors"
    if records.sum() < gate.least_records:
        return "too_few_records"
    return "contributors_disagree" if fit.standing.disputed else None


def _row(fit: Fit, found: HeldOut, pairs: Array, place: int, room: Room, method: Method, number: int) -> CellDraft:
    """A row that the records may answer."""
    gate, cell = method.gate, fit.setup.equations.cells[place]
    early = records_by_contributor(fit).sum() < gate.mature_records
    asked = gate.early_probability if early else gate.mature_probability
    asked_without = gate.early_probability_without if early else gate.mature_probability_without
    who = answer(fit, place, gate.least_contributors)
    draws = cost_draws(who.belief, fit.setup.layout, fit.outcomes, gate.draws, method.seed + number, cell)
    move = choose(draws, room, gate, asked)
    moves = bool(np.any(move.best != room.now))
    gain_without, sure_without = None, None
    if moves:
        each = without_each(fit, found, place, draws, room.now, move.best, own=who.own)
        gain_without, sure_without = _least(each.gain), _least(each.probability)
    reason = _reason(move, room, gate, asked, sure_without, asked_without)
    return CellDraft(
        cell,
        reason,
        tuple(
            _setting(fit, who, draws, move, room, gate, pairs, j, proposed=reason == "proposed")
            for j in range(len(room.now))
        ),
        _effects(fit, found, who, room.now, move.best, gate, place) if moves else (),
        round(move.gain, _DECIMALS),
        round(move.gain_low, _DECIMALS),
        round(move.gain_high, _DECIMALS),
        round(move.probability, _DECIMALS),
        gain_without,
        sure_without,
        _evidence(fit, place, own=who.own),
    )


def _reason(
    move: Choice, room: Room, gate: Gate, asked: float, sure_without: float | None, asked_without: float
) -> CellReason:
    """The first thing that the move of a row lacks."""
    if not np.any(move.wanted != room.now):
        return "nothing_better"
    if not np.any(move.best != room.now) or move.probability < asked:
        return "not_sure"
    if move.gain < gate.least_gain:
        return "gain_too_small"
    return "rests_on_one_contributor" if sure_without is None or sure_without < asked_without else "proposed"


def _least(values: Array) -> float | None:
    told = values[np.isfinite(values)]
    return _number(float(told.min())) if len(told) else None


def _left(fit: Fit, pairs: Array, place: int, room: Room, gate: Gate, reason: CellReason) -> CellDraft:
    """A row without a word of what few growers reported."""
    stay = [
        SettingDraft(name, now, now, "row_left", 1.0, round(share, _DECIMALS), 0.0, None)
        for name, now, share in zip(fit.setup.layout.settings, room.now.tolist(), pairs.tolist(), strict=True)
    ]
    evidence = _evidence(fit, place, own=answer(fit, place, gate.least_contributors).own)
    return CellDraft(
        fit.setup.equations.cells[place], reason, tuple(stay), (), 0.0, 0.0, 0.0, 0.5, None, None, evidence
    )


def _setting(
    fit: Fit,
    who: Answer,
    draws: CostDraws,
    move: Choice,
    room: Room,
    gate: Gate,
    pairs: Array,
    j: int,
    *,
    proposed: bool,
) -> SettingDraft:
    now, best, wanted = float(room.now[j]), float(move.best[j]), float(move.wanted[j])
    reason: SettingReason = "moved"
    if not proposed:
        best, reason = now, "row_left"
    elif best == now:
        reason = "stays" if wanted == now else "not_sure"
    elif not room.low[j] + _SAME < best < room.high[j] - _SAME:
        reason = "envelope_end"
    elif abs(best - now) + room.step[j] > gate.largest_move + _SAME:
        reason = "largest_move"
    cost = np.array([one.price for one in fit.outcomes]) * np.exp(who.belief.mean[:, 0])
    choice = float((cost / cost.sum()) @ who.belief.mean[:, fit.setup.layout.choices.start + j])
    probability, share = float(move.own_probability[j]), float(pairs[j])
    probability, share, choice = (round(value, _DECIMALS) for value in (probability, share, choice))
    low, high = least_at(draws, room, move.wanted, j, gate.interval_factor)
    likely = (round(low, _DECIMALS), round(high, _DECIMALS))
    return SettingDraft(fit.setup.layout.settings[j], now, best, reason, probability, share, choice, likely)


def _effects(
    fit: Fit, found: HeldOut, who: Answer, now: Array, best: Array, gate: Gate, place: int
) -> tuple[OutcomeEffect, ...]:
    """Effects with held-out skill."""
    skill = [_number(value) for value in found.skill[place].tolist()]
    plain = _plain_effects(fit, who, now, best, gate)
    return tuple(replace(one, skill=told) for one, told in zip(plain, skill, strict=True))


def effects_of(fit: Fit, cell: int, here: Array, there: Array, gate: Gate) -> tuple[OutcomeEffect, ...]:
    """What a move does to each outcome of a cell.

    Parameters
    ----------
    fit : Fit
        What was learnt.
    cell : int
        Place of the cell.
    here, there : ndarray, shape (settings,)
        Where the settings stand and would stand, coded. [1]
    gate : Gate
        For the widening of intervals, and from how many contributors a cell answers for itself.

    Returns
    -------
    tuple of OutcomeEffect
        Factor on every outcome with an 80 % interval, without skill.

    Notes
    -----
    The logarithm of the factor is normal: a' m and a' S a, a the change of settings and their squares.

    References
    ----------
    Definition.

    Examples
    --------
    >>> from service.domain.refinement_example import METHOD, invented_fit
    >>> effects_of(invented_fit(), 0, np.array([0.0]), np.array([0.25]), METHOD.gate)[0].factor
    0.834886
    """
    return _plain_effects(fit, answer(fit, cell, gate.least_contributors), here, there, gate)


def _plain_effects(fit: Fit, who: Answer, here: Array, there: Array, gate: Gate) -> tuple[OutcomeEffect, ...]:
    """Factor on every outcome, log-normal."""
    before, after = rows(np.array([here, there]))
    change = after - before
    mean = who.belief.mean[:, : len(change)] @ change
    block = who.belief.covariance[:, : len(change), : len(change)]
    spread = _Z80 * gate.interval_factor * np.sqrt(np.einsum("i,oij,j->o", change, block, change))
    ends = np.exp(np.column_stack((mean, mean - spread, mean + spread))).round(_DECIMALS).tolist()
    return tuple(
        OutcomeEffect(outcome.name, middle, low, high, None)
        for outcome, (middle, low, high) in zip(fit.outcomes, ends, strict=True)
    )


def _evidence(fit: Fit, place: int, *, own: bool) -> Evidence:
    eq = fit.setup.equations
    records = records_by_contributor(fit)[:, place]
    here = (eq.cell == place) & ~fit.standing.set_aside[eq.contributor]
    counted, sessions, comparisons = (np.zeros(len(eq.contributors)) for _ in range(3))
    np.add.at(counted, eq.contributor[here], eq.weight[here] * fit.standing.trust[eq.contributor[here], place])
    np.maximum.at(sessions, eq.contributor[here], eq.sessions[here])
    np.maximum.at(comparisons, eq.contributor[here], eq.pair_freedom[here])
    share = float(counted.max(initial=0.0) / counted.sum()) if counted.sum() > 0 else 0.0
    return Evidence(
        own,
        int(np.count_nonzero(records)),
        round(float(records.sum()), _DECIMALS),
        round(float(sessions.sum()), _DECIMALS),
        round(float(comparisons.sum()), _DECIMALS),
        round(share, _DECIMALS),
    )


def _contributors(fit: Fit) -> tuple[ContributorStanding, ...]:
    eq, standing = fit.setup.equations, fit.standing
    weight = np.zeros((len(eq.contributors), len(eq.cells)))
    np.maximum.at(weight, (eq.contributor, eq.cell), eq.weight)
    return tuple(
        ContributorStanding(name, round(float(records), _DECIMALS), round(float(off), _DECIMALS), bool(aside))
        for name, records, off, aside in zip(
            eq.contributors, weight.sum(axis=1), standing.disagreement, standing.set_aside, strict=True
        )
    )


def _check_room(room: Room, settings: int) -> None:
    for part in (room.now, room.low, room.high, room.step):
        if part.shape != (settings,):
            raise OutOfRange("rooms", len(part), settings, settings, "1", reason="shape")
    for now, low, high in zip(room.now.tolist(), room.low.tolist(), room.high.tolist(), strict=True):
        within("now", now, low - _SAME, high + _SAME, "1")


def _number(value: float) -> float | None:
    return round(value, _DECIMALS) if math.isfinite(value) else None
