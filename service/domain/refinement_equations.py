"""Normal equations of contributors, the level of each taken out.

Inside: from sums to equations, one set for each contributor, cell and outcome. Outside: the sums
(`refinement_statistics`), solving for all contributors together (`refinement_pooling`).

Log amounts of one contributor and machine in one cell are features times coefficients, plus a level of
its own, plus a level of the day, plus noise. Levels of contributors are never compared: their own level
is integrated out. Records of the same day show the slopes b, records of different days b + d, where d is
what operators' choices add: they open up or slow down in a hard crop.
"""

from dataclasses import dataclass

import numpy as np

from service.domain.ranges import INF, within
from service.domain.refinement_statistics import starts
from service.domain.refinement_types import Array, CellStatistics, Places
from service.errors import UnknownName


@dataclass(frozen=True, slots=True, eq=False)
class Equations:
    """One row for each contributor, cell and outcome that has records, by cell, outcome, contributor.

    Attributes
    ----------
    contributors, cells, outcomes : tuple of str
        Names.
    contributor, cell, outcome : ndarray, shape (rows,)
        Places among the names.
    information : ndarray, shape (rows, coefficients, coefficients)
        Left side, in units of the variance of one reading.
    pull : ndarray, shape (rows, coefficients)
        Right side.
    square : ndarray, shape (rows,)
        Sum of squares of the log amounts, levels taken out.
    level_weight, level_amount : ndarray, shape (rows,)
        Weight of session means, and the weighted sum of their log amounts.
    level_features : ndarray, shape (rows, coefficients)
        The weighted sum of their features.
    weight, sessions, pair_freedom : ndarray, shape (rows,)
        Weight of records, sessions, degrees of freedom within sessions.
    within : ndarray, shape (rows, entries, entries)
        Products of deviations within sessions.
    """

    contributors: tuple[str, ...]
    cells: tuple[str, ...]
    outcomes: tuple[str, ...]
    contributor: Places
    cell: Places
    outcome: Places
    information: Array
    pull: Array
    square: Array
    level_weight: Array
    level_amount: Array
    level_features: Array
    weight: Array
    sessions: Array
    pair_freedom: Array
    within: Array


def equations(
    statistics: CellStatistics, cells: tuple[str, ...], outcomes: tuple[str, ...], contributor_ratio: float
) -> Equations:
    """Normal equations of every contributor in every cell.

    Parameters
    ----------
    statistics : CellStatistics
        Sums of one season, or faded to one.
    cells, outcomes : tuple of str
        What is to be learnt; every row of the sums must belong to one of each.
    contributor_ratio : float
        Variance between contributors over that of one reading, >= 0. [1]

    Returns
    -------
    Equations
        Left and right sides.

    Raises
    ------
    OutOfRange
        If the ratio is negative.
    UnknownName
        If a row belongs to another cell or outcome.

    Notes
    -----
    With m = sum om and s = sum om z, B = sum om z z^T - k / (1 + k m) s s^T is the information between
    days and T = V + B that of all, V the products of the same day. The equations have T for features,
    and B where a choice is concerned. This is generalised least squares of the nested random-intercept
    model, exact, and a sum over machines.

    References
    ----------
    Mundlak, Y. (1978). On the pooling of time series and cross section data. Econometrica 46, 69-85.
    Bell, A., Fairbrother, M., Jones, K. (2019). Fixed and random effects models: making an informed
    choice. Quality and Quantity 53, 1051-1074.

    Examples
    --------
    >>> from service.domain.refinement_statistics import no_statistics
    >>> from service.domain.refinement_types import Layout
    >>> equations(no_statistics(Layout(("drum",))), ("dry",), ("loss",), 0.5).pull.shape
    (0, 4)
    """
    within("contributor_ratio", contributor_ratio, 0, INF, "1")
    keys = statistics.keys
    for key in keys:
        for field, name, known in (("cell", key.cell, cells), ("outcome", key.outcome, outcomes)):
            if name not in known:
                raise UnknownName(field, name, known)
    contributors = tuple(sorted({key.contributor for key in keys}))
    places = [{name: place for place, name in enumerate(names)} for names in (cells, outcomes, contributors)]
    named = [(key.cell, key.outcome, key.contributor) for key in keys]
    found = [[part[name] for part, name in zip(places, names, strict=True)] for names in named]
    owner = np.array(found, dtype=np.int64).reshape(len(keys), 3)
    order = np.lexsort(owner.T[::-1])
    owner = owner[order]
    first = starts(owner)
    parts = _parts(statistics, contributor_ratio)
    cell, outcome, contributor = owner[first].T
    summed = (np.add.reduceat(part[order], first, axis=0) if len(first) else part for part in parts)
    return Equations(contributors, cells, outcomes, contributor, cell, outcome, *summed)


def _parts(statistics: CellStatistics, contributor_ratio: float) -> tuple[Array, ...]:
    """Information, pull and the rest, one row for each row of the sums."""
    layout, last = statistics.layout, statistics.layout.features
    weight, total = statistics.session_weight, statistics.session_sum
    shrink = contributor_ratio / (1 + contributor_ratio * weight)
    same_day = statistics.within
    between = statistics.between - shrink[:, None, None] * total[:, :, None] * total[:, None, :]
    both = same_day + between
    count = layout.coefficients
    information = np.zeros((len(weight), count, count))
    information[:, :last, :last] = both[:, :last, :last]
    information[:, :last, last:] = between[:, :last, layout.slopes]
    information[:, last:, :last] = between[:, layout.slopes, :last]
    information[:, last:, last:] = between[:, layout.slopes, layout.slopes]
    pull = np.hstack((both[:, :last, last], between[:, layout.slopes, last]))
    level_features = np.hstack((total[:, :last], total[:, layout.slopes]))
    square = both[:, last, last]
    facts = (weight, total[:, last], level_features, statistics.weight, statistics.sessions, statistics.pair_freedom)
    return information, pull, square, *facts, same_day
