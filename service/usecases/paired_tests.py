"""Which setting is worth a paired test: measure, change it, measure again the same day, send both.

Inside: the tests of a crop and class, the most valuable first. Outside: what is believed (`refinement_compute`), the
value of knowing more (`domain.refinement_pairs`). What few growers reported is not told from: with fewer than five
contributors the base table's own doubts rank the tests.
"""

from dataclasses import dataclass
from datetime import datetime

import numpy as np

from service.domain.refinement_coding import setting_of
from service.domain.refinement_fit import answer, records_by_contributor
from service.domain.refinement_pairs import paired_tests
from service.domain.refinement_statistics import no_statistics
from service.domain.types import Quantity
from service.errors import ScopeMissing
from service.knowledge.table import KnowledgeTable
from service.store import Session, cell_sums
from service.usecases.access import Caller
from service.usecases.feedback import season_of
from service.usecases.local_documents import contributors_band
from service.usecases.local_tables import active
from service.usecases.refinement_base import CELLS, base_of, refinement_file
from service.usecases.refinement_compute import Part, learnt, room
from service.usecases.refinement_fold import read_sums, season_now
from service.usecases.refinement_method import refinement_method, refinement_outcomes, usual_prices


@dataclass(frozen=True, slots=True)
class PairAdvised:
    """A change of one setting that is worth trying; `value_pct` is what knowing its effect is worth, of the cost."""

    setting: str
    before: Quantity
    after: Quantity
    value_pct: float
    gain_pct: float
    gain_sd_pct: float


@dataclass(frozen=True, slots=True)
class CellPairs:
    """Tests of a moisture band, the most valuable first."""

    moisture_band: str
    tests: tuple[PairAdvised, ...]


@dataclass(frozen=True, slots=True)
class PairsAdvised:
    """Tests of a crop and class, and about how many contributors they are found from."""

    crop: str
    machine_class: str
    pairs: int
    contributors_band: str | None
    cells: tuple[CellPairs, ...]


def advise_tests(
    session: Session, table: KnowledgeTable, caller: Caller, crop_name: str, class_name: str, now: datetime
) -> PairsAdvised:
    """Rank the paired tests of a crop and machine class.

    Raises
    ------
    ScopeMissing
        If the key is neither one to read nor one to contribute.
    UnknownName, NotCovered
        If the table has no settings for them.
    """
    if not caller.scopes & {"read", "contribute"}:
        raise ScopeMissing("read")
    crop, entry = table.crop(crop_name), table.machine_class(class_name)
    table.covers(crop, "starting_settings", entry.id)
    base, figures = base_of(table, crop.id, entry.id), refinement_file(table).figures
    method = refinement_method(figures)
    outcomes = refinement_outcomes(figures, usual_prices(figures))
    kept = read_sums(base.layout, cell_sums.sums(session, caller.organisation_id, base.crop, base.machine_class))
    season = season_now(kept, season_of(now, caller.season_starts_month))
    found = learnt(Part(base, kept, season), outcomes, method)
    band = contributors_band(int(np.count_nonzero(records_by_contributor(found).any(axis=1))))
    if band is None:
        found = learnt(Part(base, no_statistics(base.layout), season), outcomes, method)
    local, pairs = active(session, caller.organisation_id), int(figures.pairs_asked.value)
    units = {one.setting: one for one in base.settings}
    cells = []
    for place, cell in enumerate(CELLS):
        belief = answer(found, place, method.gate.least_contributors).belief
        told = paired_tests(found, belief, room(base, cell, local), method.gate.largest_move, pairs)
        tests = []
        for test in told:
            one = units[test.setting]
            before, after = (
                Quantity(setting_of(u, one.start, one.low, one.high), one.unit) for u in (test.before, test.after)
            )
            tests.append(
                PairAdvised(test.setting, before, after, 100 * test.value, 100 * test.gain, 100 * test.gain_sd)
            )
        cells.append(CellPairs(cell, tuple(tests)))
    return PairsAdvised(base.crop, base.machine_class, pairs, band, tuple(cells))
