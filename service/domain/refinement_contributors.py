"""How much each contributor counts: a cap, agreement with the others, a consensus to begin from.

Inside: the largest share, the test of agreement, who is set aside. Outside: the equations
(`refinement_equations`), solving them (`refinement_pooling`).

A greedy test is blind where several contributors tell the same untruth, because the fit without one of
them still holds the others. So a consensus of the contributors that agree best is sought first, from
many random halves, and only then is everyone tested against a fit without him.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import chdtri

from service.domain.ranges import above, within
from service.domain.refinement_agreement import Setup, disagreement, left_out, sides
from service.domain.refinement_chance import shuffled
from service.domain.refinement_pooling import Sides, cell_mean, message, shared
from service.domain.refinement_types import Array, ContributorRule, Places

Chosen = NDArray[np.bool_]

_TURNS: Final = 100
_SETTLED: Final = 1e-9  # of a factor


@dataclass(frozen=True, slots=True, eq=False)
class Standing:
    """How the contributors stand.

    Attributes
    ----------
    trust : ndarray, shape (contributors, cells)
        Weight of each in each cell; 0 where he is set aside.
    disagreement : ndarray, shape (contributors,)
        Chi-square against a fit without him.
    set_aside : ndarray, shape (contributors,)
        Who contradicts the others too much to be believed.
    disputed : bool
        Whether more contradict than may be set aside: then nobody can tell who is right.
    """

    trust: Array
    disagreement: Array
    set_aside: Chosen
    disputed: bool


def caps(weights: Array, largest_share: float) -> Array:
    """Factors on weights, so that no one has more than a share of them all.

    Parameters
    ----------
    weights : ndarray, shape (contributors,)
        Weight of each, >= 0. [1]
    largest_share : float
        Largest share, 0 < x <= 1; with fewer contributors than it takes, equal shares. [1]

    Returns
    -------
    ndarray, shape (contributors,)
        Factors of at most 1. [1]

    Raises
    ------
    OutOfRange
        If the share lies outside its range.

    Notes
    -----
    The largest total T with min(n_g, s T) summing to T: where the j largest are cut, T is the rest over
    1 - j s.

    References
    ----------
    Federal Committee on Statistical Methodology, Statistical Policy Working Paper 22: dominance rules.
    The share is ours.

    Examples
    --------
    >>> caps(np.array([60.0, 20.0, 20.0, 20.0, 20.0]), 0.25).round(6).tolist()
    [0.444444, 1.0, 1.0, 1.0, 1.0]
    """
    above("largest_share", largest_share, 0, "1")
    within("largest_share", largest_share, 0, 1, "1")
    given = np.asarray(weights, dtype=np.float64)
    some = int((given > 0).sum())
    factors = np.ones(len(given))
    if not some:
        return factors
    share = max(largest_share, 1 / some)
    falling = np.sort(given)[::-1]
    for cut in range(some):
        rest = 1 - cut * share
        if rest <= 1e-12:
            break
        limit = share * float(falling[cut:].sum()) / rest
        if falling[cut] <= limit * (1 + 1e-12):
            np.minimum(1.0, limit / np.where(given > 0, given, np.inf), out=factors, where=given > 0)
            return factors
    limit = float(falling[some - 1])  # equal shares: the smallest of all
    np.minimum(1.0, limit / np.where(given > 0, given, np.inf), out=factors, where=given > 0)
    return factors


def capped_trust(setup: Setup, largest_share: float) -> Array:
    """Weights so that no contributor has more than a share of all records, nor of those of one cell.

    Parameters
    ----------
    setup : Setup
        Equations with the weight of records.
    largest_share : float
        Largest share, 0 < x <= 1. [1]

    Returns
    -------
    ndarray, shape (contributors, cells)
        Factors of at most 1. [1]

    Raises
    ------
    OutOfRange
        If the share lies outside its range.

    Notes
    -----
    By cell and over all in turn, until both hold. A cell with so few contributors that equal shares are
    as large is left as it is: it is not answered by its own records.

    References
    ----------
    As `caps`.

    Examples
    --------
    >>> from service.domain.refinement_example import invented_fit
    >>> float(capped_trust(invented_fit().setup, 0.2).min())
    1.0
    """
    eq = setup.equations
    weight = np.zeros((len(eq.contributors), len(eq.cells)))
    np.add.at(weight, (eq.contributor, eq.cell), eq.weight)
    shared_by = np.count_nonzero(weight, axis=0)
    trust = np.ones_like(weight)
    for _ in range(_TURNS):
        before = trust.copy()
        for cell in np.flatnonzero(shared_by * largest_share > 1):
            trust[:, cell] *= caps(trust[:, cell] * weight[:, cell], largest_share)
        trust *= caps((trust * weight).sum(axis=1), largest_share)[:, None]
        if (before - trust).max(initial=0.0) < _SETTLED:
            break
    return trust


def standing(setup: Setup, rule: ContributorRule, least_contributors: int, seed: int) -> Standing:
    """Weight of every contributor, and who is set aside.

    Parameters
    ----------
    setup : Setup
        Equations, prior and scatter.
    rule : ContributorRule
        Cap, test and consensus.
    least_contributors : int
        How many a table needs; a consensus is sought among twice as many.
    seed : int
        For the random halves.

    Returns
    -------
    Standing
        The weights, and how they came about.

    Raises
    ------
    OutOfRange
        If a figure of the rule lies outside its range.

    Notes
    -----
    Those set aside after the consensus are tested against a fit without them and taken back, one at a
    time; then the one who disagrees most is set aside, one at a time. Who stays has the weight of
    Student's t for his disagreement.

    References
    ----------
    Rousseeuw, P. J., Van Driessen, K. (2006). Computing LTS regression for large data sets. Data Mining
    and Knowledge Discovery 12, 29-45. Recalled; over contributors instead of rows.

    Examples
    --------
    >>> from service.domain.refinement_example import METHOD, invented_fit
    >>> standing(invented_fit().setup, METHOD.contributors, 5, 1).set_aside.any()
    np.False_
    """
    eq = setup.equations
    cap = capped_trust(setup, rule.largest_share)
    records = np.zeros(len(eq.contributors))
    np.add.at(records, eq.contributor, eq.weight)
    active = np.flatnonzero(records >= rule.least_records)
    freedom = len(eq.outcomes) * (len(setup.layout.settings) + 1)
    limit = float(chdtri(freedom, 1 - rule.set_aside_level))
    most = int(rule.most_set_aside * len(active))
    aside = np.zeros(len(eq.contributors), dtype=bool)
    if most and len(active) >= 2 * least_contributors:
        aside = _outside_consensus(setup, cap, active, rule, seed, limit)
    found, aside = _polished(setup, cap, active, rule, aside, limit, max(1, most))
    disputed = bool((found[active] > limit)[~aside[active]].any())
    weight = np.minimum(1.0, (rule.freedom + freedom) / (rule.freedom + found))
    return Standing(np.where(aside, 0.0, weight)[:, None] * cap, found, aside, disputed)


def _outside_consensus(
    setup: Setup, cap: Array, active: Places, rule: ContributorRule, seed: int, limit: float
) -> Chosen:
    """Who contradicts the contributors that agree best, sought from random halves."""
    size = len(active) - int(rule.most_set_aside * len(active))
    chosen = np.zeros((rule.starts, len(cap)), dtype=bool)
    for start in range(rule.starts):
        order = shuffled(seed, f"half {start}", len(active))
        chosen[start, active[order[: max(len(active) // 2, 1)]]] = True
    eq = setup.equations
    for _ in range(rule.rounds):
        told = message(sides(setup, chosen[..., None] * cap), setup.prior)
        whole = shared(Sides(told.left.sum(axis=1), told.right.sum(axis=1)), setup.prior)
        mean = cell_mean(told, whole.mean[:, None], setup.prior)[:, eq.cell, eq.outcome]
        off = disagreement(setup, mean, whole.covariance[:, None], rule.slope_sd)
        nearest = active[np.argsort(off[:, active], axis=1, kind="stable")[:, :size]]
        chosen = np.zeros_like(chosen)
        np.put_along_axis(chosen, nearest, values=True, axis=1)
    best = int(np.argmin(np.where(chosen, off, 0.0).sum(axis=1)))
    tested = np.isin(np.arange(len(cap)), active)
    outside: Chosen = tested & ~chosen[best] & (off[best] > limit)
    return outside


def _polished(
    setup: Setup, cap: Array, active: Places, rule: ContributorRule, aside: Chosen, limit: float, most: int
) -> tuple[Array, Chosen]:
    """Test everyone against a fit without him until nothing changes."""
    aside = aside.copy()
    tested = np.isin(np.arange(len(cap)), active)
    off = np.zeros(len(cap))
    for _ in range(2 * most + 2):
        without = left_out(setup, np.where(aside, 0.0, 1.0)[:, None] * cap)
        off = np.where(tested, disagreement(setup, without.mean, without.shared.covariance, rule.slope_sd), 0.0)
        back = np.where(aside & (off <= limit), off, np.inf)
        worst = np.where(aside, -np.inf, off)
        if np.isfinite(back).any():
            aside[np.argmin(back)] = False
        elif worst.max(initial=-np.inf) > limit and aside.sum() < most:
            aside[np.argmax(worst)] = True
        else:
            break
    return off, aside
