"""Value types of refinement: what is refined, the rules it keeps, sums of records, what was learnt.

Inside: records alone. Outside: coding of settings (`refinement_coding`), sums (`refinement_statistics`),
learning (`refinement_fit`), proposals (`refinement_proposal`). Settings are coded: 0 is the start of the
base table, 1 is half the width of its envelope. A cell is a part of one crop and machine class that has
a table row of its own, as a region and moisture bin.
"""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Places = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Layout:
    """Which settings are refined and which conditions are told apart; their order is that of features.

    A record has the features 1, settings, their squares, conditions, and then the logarithm of an
    amount. Coefficients are one for each feature, and for each setting one more: what operators'
    choices add to the slope that is seen between days.
    """

    settings: tuple[str, ...]
    conditions: tuple[str, ...] = ()

    @property
    def features(self) -> int:
        """Number of features, the logarithm of the amount not among them."""
        return 1 + 2 * len(self.settings) + len(self.conditions)

    @property
    def entries(self) -> int:
        """Features and the logarithm of the amount, which is last."""
        return self.features + 1

    @property
    def coefficients(self) -> int:
        """Number of coefficients of one outcome."""
        return self.features + len(self.settings)

    @property
    def slopes(self) -> slice:
        """Places of the settings, among features and among coefficients."""
        return slice(1, 1 + len(self.settings))

    @property
    def curvatures(self) -> slice:
        """Places of the squared settings."""
        return slice(1 + len(self.settings), 1 + 2 * len(self.settings))

    @property
    def condition_effects(self) -> slice:
        """Places of the conditions."""
        return slice(1 + 2 * len(self.settings), self.features)

    @property
    def choices(self) -> slice:
        """Places of the operators' choices, among coefficients alone."""
        return slice(self.features, self.coefficients)

    @property
    def triangle(self) -> int:
        """Number of different products of two entries."""
        return self.entries * (self.entries + 1) // 2

    @property
    def width(self) -> int:
        """Number of sums in a row of statistics."""
        return 4 + self.entries + 2 * self.triangle


@dataclass(frozen=True, slots=True)
class Outcome:
    """What settings are judged by: cost of one percent, its usual amount, scatter of one reading."""

    name: str
    price: float
    usual_pct: float
    noise_log_sd: float


@dataclass(frozen=True, slots=True)
class Spread:
    """Standard deviations of the kinds of coefficient, on the scale of log amounts and coded settings."""

    level: float
    slope: float
    curvature: float
    condition: float
    choice: float


@dataclass(frozen=True, slots=True)
class LearningModel:
    """What is believed before any record.

    Attributes
    ----------
    log_offset_pct : float
        Added to an amount before its logarithm, so that zero counts.
    session_ratio, contributor_ratio : float
        Variance between days of one contributor, and between contributors, over that of one reading.
    curvature : float
        Mean curvature of every log amount; with slopes of mean 0 the base table is the best.
    all_cells_sd, own_cell_sd : Spread
        Of what all cells share about its mean, and of a cell about what all share.
    noise_freedom : float
        Degrees of freedom that the believed scatter of readings is worth.
    """

    log_offset_pct: float
    session_ratio: float
    contributor_ratio: float
    curvature: float
    all_cells_sd: Spread
    own_cell_sd: Spread
    noise_freedom: float


@dataclass(frozen=True, slots=True)
class RowRule:
    """How far one record is believed.

    `freedom` is that of Student's t; a record whose squared standardised residual is above
    `stray_square` has `stray_weight`. Settings farther than `coded_limit` from the start are refused.
    """

    freedom: float
    stray_square: float
    stray_weight: float
    coded_limit: float


@dataclass(frozen=True, slots=True)
class ContributorRule:
    """How far one contributor is believed.

    Attributes
    ----------
    largest_share : float
        Of the weight of a cell that one contributor may have.
    slope_sd : float
        Honest difference of one contributor's slopes from all.
    freedom : float
        Of Student's t over contributors.
    set_aside_level : float
        Probability with which an honest contributor is kept.
    most_set_aside : float
        Share of the contributors that may be set aside; above it nothing is proposed.
    least_records : float
        Weight of records below which a contributor is not tested.
    starts, rounds : int
        Random halves that a consensus is sought from, and rounds each.
    """

    largest_share: float
    slope_sd: float
    freedom: float
    set_aside_level: float
    most_set_aside: float
    least_records: float
    starts: int
    rounds: int


@dataclass(frozen=True, slots=True)
class Gate:
    """What a proposal must have.

    Attributes
    ----------
    least_contributors : int
        In all cells together; a cell with fewer of its own is answered by all cells.
    least_records : float
        Weight of records.
    early_probability, mature_probability : float
        Of being better, below and from `mature_records`.
    mature_records : float
        Weight of records from which the weaker probability is enough.
    caution : float
        Standard deviations of the change of cost that are added to its mean.
    least_gain : float
        Share of the cost.
    largest_move : float
        Of one setting in one revision, coded.
    draws : int
        Number of draws of the belief.
    interval_factor : float
        Widening of published intervals.
    """

    least_contributors: int
    least_records: float
    early_probability: float
    mature_probability: float
    mature_records: float
    caution: float
    least_gain: float
    largest_move: float
    draws: int
    interval_factor: float


@dataclass(frozen=True, slots=True)
class Method:
    """All figures of the method."""

    model: LearningModel
    rows: RowRule
    contributors: ContributorRule
    gate: Gate
    half_life_seasons: float
    seed: int


class StatisticKey(NamedTuple):
    """What a row of statistics belongs to; rows are kept in the order of their keys.

    A change of measuring method counts as another machine: levels are compared within one alone.
    """

    contributor: str
    machine: str
    cell: str
    outcome: str
    season: int


@dataclass(frozen=True, slots=True, eq=False)
class CellStatistics:
    """Sums over records, all that learning needs; they add, so new records are folded in.

    A session is what one contributor and machine did in one field on one day. In session s let w be the
    weights of its records, z their entries (features and log amount), W = sum w, z_s = sum w z / W,
    om = W / (1 + k W) with the session ratio k. A row of `sums` holds, summed over sessions:

    ===================  ==========================================================
    place                sum of
    ===================  ==========================================================
    0                    W: weight of records
    1                    1: sessions
    2                    W (n - 1) / n: freedom within days, n records in the session
    3                    om: weight of session means
    4 to 3 + q           om z_s: q = `layout.entries`
    then q (q + 1) / 2   om z_s z_s^T: between days, lower triangle by rows
    then q (q + 1) / 2   sum w (z - z_s)(z - z_s)^T: the same day, lower triangle by rows
    ===================  ==========================================================

    Every summand is a multiple of a power of two (`refinement_statistics.STEP`), so that sums are exact
    in double precision: the same to the last digit in any order, by any program, and taken off again
    without a trace.

    Attributes
    ----------
    layout : Layout
        What the entries mean.
    keys : tuple of StatisticKey
        What each row belongs to, rising.
    sums : ndarray, shape (rows, layout.width)
        The sums.
    """

    layout: Layout
    keys: tuple[StatisticKey, ...]
    sums: Array

    @property
    def weight(self) -> Array:
        """Weight of records, one a row."""
        return self.sums[:, 0]

    @property
    def sessions(self) -> Array:
        """Sessions, one a row."""
        return self.sums[:, 1]

    @property
    def pair_freedom(self) -> Array:
        """Degrees of freedom within sessions, one a row."""
        return self.sums[:, 2]

    @property
    def session_weight(self) -> Array:
        """Weight of session means, one a row."""
        return self.sums[:, 3]

    @property
    def session_sum(self) -> Array:
        """Weighted sum of session means, shape (rows, entries)."""
        return self.sums[:, 4 : 4 + self.layout.entries]

    @property
    def between(self) -> Array:
        """Products of session means, shape (rows, entries, entries)."""
        return self._square(4 + self.layout.entries)

    @property
    def within(self) -> Array:
        """Products of deviations from the session's mean, shape (rows, entries, entries)."""
        return self._square(4 + self.layout.entries + self.layout.triangle)

    def _square(self, first: int) -> Array:
        packed = self.sums[:, first : first + self.layout.triangle]
        whole = np.zeros((len(packed), self.layout.entries, self.layout.entries))
        row, column = np.tril_indices(self.layout.entries)
        whole[:, row, column] = packed
        whole[:, column, row] = packed
        return whole


@dataclass(frozen=True, slots=True, eq=False)
class Records:
    """Coded records, one a row, by their places in lists of names.

    `log_amounts` has one column for each outcome, NaN where it was not reported.
    """

    layout: Layout
    contributors: tuple[str, ...]
    machines: tuple[str, ...]
    cells: tuple[str, ...]
    outcomes: tuple[str, ...]
    contributor: Places
    machine: Places
    cell: Places
    session: Places
    season: Places
    features: Array
    log_amounts: Array
