"""New records into sums: each once, weighed by what was believed when it came.

Inside: the order of the work and what is written. Outside: statements (`store`), coding
(`refinement_records`), sums and beliefs (`domain`).

A session is folded when it is a day old. Records that come later are added to their session: it is taken off and
added whole. Sums are exact, so nothing is left behind. A record's weight is kept; when one of its contributor's
season is taken back, the season is made anew from the records that are left and their weights, and has the same
bits as if it had never been there; other records keep the weights that they got while it was believed. When a
contributor is erased, all is folded anew, so that nothing rests on what he told.
"""

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Final
from uuid import UUID

import numpy as np
from numpy.typing import NDArray

from service.domain.refinement_fit import Fit, fit
from service.domain.refinement_rows import chosen, row_weights
from service.domain.refinement_statistics import WEIGHT_STEP, accumulate, collected, no_statistics
from service.domain.refinement_sums import added, faded, taken_off
from service.domain.refinement_types import Array, CellStatistics, Layout, Method, Outcome, StatisticKey
from service.errors import NotCovered, Stale, UnknownName
from service.knowledge.table import KnowledgeTable
from service.store import Session, Store, told_records
from service.store import cell_sums as rows
from service.store.cell_sums import Belief, SumsKey
from service.store.tables_local import FoldState
from service.store.told_records import Objects, Told
from service.usecases.feedback import season_of
from service.usecases.refinement_base import CELLS, Base, base_of, refinement_file
from service.usecases.refinement_method import (
    OUTCOMES,
    method_digest,
    refinement_method,
    refinement_outcomes,
    usual_prices,
)
from service.usecases.refinement_records import Coded, coded
from service.usecases.refinement_starts import distinct

CLOSED_AFTER: Final = timedelta(days=1)
MOST_AT_ONCE: Final = 20_000
_FIRST: Final = 64  # records are weighed by those before them, so the first ones come in small lots
_GROWTH: Final = 0.25  # of the records that a belief rests on may come before it is learnt anew
_TRIES: Final = 20  # people seldom take records back, and never for long without a pause
_WHOLE: Final = round(1 / WEIGHT_STEP)


@dataclass(slots=True)
class FoldReport:
    """What was folded."""

    records: int = 0
    refused: Counter[str] = field(default_factory=Counter)
    seasons_rebuilt: int = 0
    touched: set[tuple[str, str]] = field(default_factory=set)
    waiting: int = 0


@dataclass(slots=True)
class Folding:
    """One run over the records of an organisation."""

    store: Store
    table: KnowledgeTable
    organisation_id: int
    season: int
    now: datetime
    method: Method
    outcomes: tuple[Outcome, ...]
    report: FoldReport = field(default_factory=FoldReport)
    beliefs: dict[tuple[str, str], tuple[Fit, CellStatistics, int, float]] = field(default_factory=dict)

    def run(self, most_at_once: int) -> FoldReport:
        """Make anew what has to be, then fold lot after lot."""
        size = _FIRST
        while True:
            count = self._undisturbed(size)
            self.report.records += count
            if count == 0:
                return self.report
            size = min(2 * size, most_at_once)

    def _undisturbed(self, size: int) -> int:
        """Fold a lot in one transaction in which nothing was taken back; returns how many records it has."""
        refused = Counter(self.report.refused)
        for _ in range(_TRIES):
            try:
                with self.store.writing() as session:
                    rows.long_work(session)
                    state = rows.fold_state(session, self.organisation_id, self.now)
                    self._make_anew(session, state.folded_upto)
                    count = self._fold_lot(session, state, size)
                    self._check_undisturbed(session)
                    return count
            except Stale:
                # what was learnt in the transaction went with it
                self.beliefs.clear()
                self.report.refused = Counter(refused)
        raise Stale

    def _check_undisturbed(self, session: Session) -> None:
        if rows.to_rebuild(session, self.organisation_id):
            raise Stale

    def _fold_lot(self, session: Session, state: FoldState, size: int) -> int:
        before = UUID(int=int((self.now - CLOSED_AFTER).timestamp() * 1000) << 80)
        upto = told_records.last_of_next(session, self.organisation_id, state.folded_upto, before, size)
        if upto is None:
            self.report.waiting = told_records.records_waiting(session, self.organisation_id, state.folded_upto)
            return 0
        new = told_records.arrived(session, self.organisation_id, state.folded_upto, upto)
        earlier = told_records.earlier_of_same_sessions(session, self.organisation_id, state.folded_upto, upto)
        late, nothing = by_row(earlier), earlier.chosen(np.zeros(0, dtype=np.int64))
        for (crop, machine_class), told in by_row(new).items():
            base = self._base(crop, machine_class)
            if base is None:
                self.report.refused["not_covered"] += len(told)
            else:
                self._fold_part(session, base, told, late.get((crop, machine_class), nothing))
        state.folded_upto, state.folded_at = upto, self.now
        return len(new)

    def _base(self, crop: str, machine_class: str) -> Base | None:
        """What is refined, None where the table of today has nothing for it."""
        try:
            return base_of(self.table, crop, machine_class)
        except (NotCovered, UnknownName):
            return None

    def _fold_part(self, session: Session, base: Base, new: Told, earlier: Told) -> None:
        """Fold records of one crop and class."""
        place = (base.crop, base.machine_class)
        ratio = self.method.model.session_ratio
        if place not in rows.codings(session, self.organisation_id):
            rows.set_coding(session, self.organisation_id, *place, base.coding)
        members = np.unique(new.member_id).tolist()
        before = read_sums(base.layout, rows.sums(session, self.organisation_id, *place, members))
        told = earlier.followed_by(new)
        whole = self._code(session, base, told)
        self.report.refused.update(whole.refused)
        weights = self._weigh(session, base, whole, told.ident[whole.places], whole.places >= len(earlier))
        more = accumulate(whole.records, weights, ratio)
        after, changed = added(before, more), set(more.keys)
        if len(earlier):
            part = self._code(session, base, earlier)
            old = accumulate(part.records, self._kept_weights(session, earlier.ident[part.places]), ratio)
            after, changed = taken_off(after, old), changed | set(old.keys)
        self._write(session, base, after, changed)
        self.report.touched.add(place)

    def _code(self, session: Session, base: Base, told: Told) -> Coded:
        model = self.method.model
        return coded(
            self.table,
            base,
            told,
            lambda idents: told_records.conditions_of(session, idents),
            self.method.rows,
            model.log_offset_pct,
        )

    def _weigh(self, session: Session, base: Base, told: Coded, idents: Objects, fresh: NDArray[np.bool_]) -> Array:
        """Weights of all: those of earlier records as they were, those of new ones by what is believed."""
        weights = np.ones((len(idents), len(OUTCOMES)))
        if not fresh.all():
            weights[~fresh] = self._kept_weights(session, idents[~fresh])
        if not fresh.any():
            return weights
        learnt, believed, number = self._belief(session, base, int(fresh.sum()))
        ratio = self.method.model.session_ratio
        found = row_weights(chosen(told.records, fresh), learnt, believed, self.method.rows, ratio)
        whole = np.floor(found * _WHOLE + 0.5).astype(np.int64)
        weights[fresh] = whole / _WHOLE
        below = (whole < _WHOLE).any(axis=1)
        told_records.keep_weights(session, number, idents[fresh][below].tolist(), whole[below])
        return weights

    def _kept_weights(self, session: Session, idents: Objects) -> Array:
        """Weights that records were folded with, 1 where none is kept."""
        found, whole = told_records.weights_of(session, idents.tolist()), (_WHOLE,) * len(OUTCOMES)
        kept = np.array([found.get(one, whole) for one in idents], dtype=np.float64)
        return kept.reshape(-1, len(OUTCOMES)) / _WHOLE

    def _belief(self, session: Session, base: Base, more: int) -> tuple[Fit, CellStatistics, int]:
        """What is believed now, learnt anew when the records have grown by a quarter."""
        place = (base.crop, base.machine_class)
        held = self.beliefs.get(place)
        if held is None or held[3] <= 0:
            learnt, believed, number = self._learn(session, base)
            rests_on = float(believed.weight.sum()) / len(OUTCOMES)
            held = (learnt, believed, number, rests_on * _GROWTH)
        self.beliefs[place] = (*held[:3], held[3] - more)
        return held[:3]

    def _learn(self, session: Session, base: Base) -> tuple[Fit, CellStatistics, int]:
        place = (base.crop, base.machine_class)
        found = read_sums(base.layout, rows.sums(session, self.organisation_id, *place))
        believed = faded(found, season_now(found, self.season), self.method.half_life_seasons)
        learnt = fit(believed, CELLS, self.outcomes, self.method)
        cells = learnt.belief.cells
        belief = Belief(
            *place,
            statistics=learnt.statistics,
            method=method_digest(self.method, self.outcomes),
            mean=packed(cells.mean),
            covariance=packed(cells.covariance),
            noise_variance=packed(learnt.setup.noise_variance),
        )
        return learnt, believed, rows.keep_belief(session, self.organisation_id, belief, self.now)

    def _write(self, session: Session, base: Base, after: CellStatistics, changed: set[StatisticKey]) -> None:
        there = {key: row for key, row in zip(after.keys, after.sums, strict=True) if key in changed}
        rows.put_sums(session, self.organisation_id, {sums_key(base, key): packed(row) for key, row in there.items()})
        gone = [sums_key(base, key) for key in sorted(changed - set(there))]
        rows.drop_sums(session, self.organisation_id, gone)

    def _make_anew(self, session: Session, upto: UUID | None) -> None:
        """Make seasons anew that a record was taken back from, and all that was coded by another base table."""
        queued = rows.to_rebuild(session, self.organisation_id)
        if upto is None:
            rows.clear(session, self.organisation_id)
            rows.rebuilt(session, [one.id for one in queued])
            return
        seasons = {(one.member_id, one.season) for one in queued}
        for (crop, machine_class), coding in rows.codings(session, self.organisation_id).items():
            base = self._base(crop, machine_class)
            if base is not None and base.coding != coding:
                seasons.update(rows.seasons_of(session, self.organisation_id, crop, machine_class))
                rows.set_coding(session, self.organisation_id, crop, machine_class, base.coding)
        for member_id, season in sorted(seasons):
            self._rebuild(session, member_id, season, upto)
        rows.rebuilt(session, [one.id for one in queued])
        self.report.seasons_rebuilt += len(seasons)

    def _rebuild(self, session: Session, member_id: int, season: int, upto: UUID) -> None:
        rows.drop_season(session, self.organisation_id, member_id, season)
        told = told_records.of_season(session, self.organisation_id, member_id, season, upto)
        for (crop, machine_class), part in by_row(told).items():
            base = self._base(crop, machine_class)
            if base is None:
                continue
            whole = self._code(session, base, part)
            weights = self._kept_weights(session, part.ident[whole.places])
            found = accumulate(whole.records, weights, self.method.model.session_ratio)
            self._write(session, base, found, set(found.keys))
            self.report.touched.add((crop, machine_class))


def fold(
    store: Store,
    table: KnowledgeTable,
    organisation_id: int,
    season_starts_month: int,
    now: datetime,
    *,
    most_at_once: int = MOST_AT_ONCE,
) -> FoldReport:
    """Fold the records of an organisation that are a day old, in transactions of their own.

    Raises
    ------
    NotCovered
        If the table has no figures of refinement.
    """
    figures = refinement_file(table).figures
    outcomes = refinement_outcomes(figures, usual_prices(figures))
    season = season_of(now, season_starts_month)
    folding = Folding(store, table, organisation_id, season, now, refinement_method(figures), outcomes)
    return folding.run(most_at_once)


def by_row(told: Told) -> Mapping[tuple[str, str], Told]:
    """Return records by crop and machine class."""
    places, which = distinct(zip(told.crop.tolist(), told.machine_class.tolist(), strict=True))
    if len(places) == 1:
        return {places[0]: told}
    return {place: told.chosen(np.flatnonzero(which == number)) for number, place in enumerate(places)}


def season_now(found: CellStatistics, season: int) -> int:
    """Return the season that sums are read in: this one, or that of a clock that runs ahead."""
    return max([season, *(key.season for key in found.keys)])


def read_sums(layout: Layout, found: Mapping[SumsKey, bytes]) -> CellStatistics:
    """Return kept sums as sums."""
    if not found:
        return no_statistics(layout)
    return collected(
        layout,
        [
            (StatisticKey(f"{member:012}", machine, cell, outcome, season), np.frombuffer(one, dtype="<f8"))
            for (_, _, member, machine, cell, outcome, season), one in found.items()
        ],
    )


def sums_key(base: Base, key: StatisticKey) -> SumsKey:
    """Return where a row of sums is kept."""
    return (base.crop, base.machine_class, int(key.contributor), key.machine, key.cell, key.outcome, key.season)


def packed(values: Array) -> bytes:
    """Return doubles as bytes."""
    return np.ascontiguousarray(values, dtype="<f8").tobytes()
