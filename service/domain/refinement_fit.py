"""What the records of all contributors say of every cell.

Inside: the order of learning: scatter, contributors, belief. Outside: each step (its own module), weights
of single records (`refinement_rows`), what follows for the table (`refinement_proposal`).
"""

from dataclasses import dataclass, replace

import numpy as np

from service.domain.refinement_agreement import Setup, sides
from service.domain.refinement_contributors import Standing, capped_trust, standing
from service.domain.refinement_equations import equations
from service.domain.refinement_pooling import Belief, Normals, pooled, tree_prior
from service.domain.refinement_sums import digest
from service.domain.refinement_types import Array, CellStatistics, Method, Outcome


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """What was learnt, and from whom.

    `statistics` is the digest of the sums; `setup` has the equations and the scatter found; `outcomes` have
    the prices.
    """

    statistics: str
    outcomes: tuple[Outcome, ...]
    setup: Setup
    standing: Standing
    belief: Belief


def fit(statistics: CellStatistics, cells: tuple[str, ...], outcomes: tuple[Outcome, ...], method: Method) -> Fit:
    """Learn from sums over records.

    Parameters
    ----------
    statistics : CellStatistics
        Of one season, or faded to one.
    cells : tuple of str
        All cells of the crop and machine class, with records or without.
    outcomes : tuple of Outcome
        What settings are judged by.
    method : Method
        All figures of the method.

    Returns
    -------
    Fit
        Beliefs of all cells and the standing of all contributors.

    Raises
    ------
    OutOfRange
        If a figure of the method or of an outcome lies outside its range.
    UnknownName
        If a row of the sums belongs to another cell or outcome.

    Notes
    -----
    The scatter of a reading is found from differences within days alone, with the believed scatter worth
    as many degrees of freedom as the method says; and again without those who are set aside, because
    whoever makes readings look wild would keep the others from being believed.

    References
    ----------
    Gelman, A. et al. (2013). Bayesian data analysis, 3rd ed., CRC Press, ch. 2 and 14: scaled inverse
    chi-square. Recalled.

    Examples
    --------
    >>> from service.domain.refinement_example import invented_fit
    >>> invented_fit().belief.cells.mean[0, 0, 1].round(2)  # slope of the log loss; -0.7 in truth
    np.float64(-0.84)
    """
    model = method.model
    names = tuple(outcome.name for outcome in outcomes)
    found = equations(statistics, cells, names, model.contributor_ratio)
    believed = np.array([outcome.noise_log_sd**2 for outcome in outcomes])
    prior = tree_prior(statistics.layout, outcomes, model)
    setup = Setup(found, statistics.layout, prior, believed, model.contributor_ratio)
    trust = capped_trust(setup, method.contributors.largest_share)
    setup = _with_scatter(setup, trust, believed, model.noise_freedom)
    who = standing(setup, method.contributors, method.gate.least_contributors, method.seed)
    if who.set_aside.any():
        setup = _with_scatter(setup, who.trust, believed, model.noise_freedom)
        who = standing(setup, method.contributors, method.gate.least_contributors, method.seed)
    return Fit(digest(statistics), outcomes, setup, who, pooled(sides(setup, who.trust), prior))


@dataclass(frozen=True, slots=True, eq=False)
class Answer:
    """The belief that answers a cell: its own, or what all cells share with the spread of cells about it."""

    belief: Normals
    own: bool


def records_by_contributor(learnt: Fit) -> Array:
    """Weight of the records of each contributor in each cell, of the outcome that has most.

    Parameters
    ----------
    learnt : Fit
        What was learnt.

    Returns
    -------
    ndarray, shape (contributors, cells)
        0 for those who are set aside. [1]

    References
    ----------
    Definition.

    Examples
    --------
    >>> from service.domain.refinement_example import invented_fit
    >>> records_by_contributor(invented_fit())[0].tolist()
    [8.0, 8.0]
    """
    found = learnt.setup.equations
    weight = np.zeros((len(found.contributors), len(found.cells)))
    np.maximum.at(weight, (found.contributor, found.cell), found.weight)
    return np.where(learnt.standing.set_aside[:, None], 0.0, weight)


def answer(learnt: Fit, cell: int, least_contributors: int) -> Answer:
    """Belief that answers a cell.

    Parameters
    ----------
    learnt : Fit
        What was learnt.
    cell : int
        Its place.
    least_contributors : int
        With fewer of its own it is answered by all cells.

    Returns
    -------
    Answer
        The belief.

    References
    ----------
    The number is ours: no row of few growers.

    Examples
    --------
    >>> from service.domain.refinement_example import invented_fit
    >>> answer(invented_fit(), 0, 5).own, answer(invented_fit(), 0, 7).own
    (True, False)
    """
    if np.count_nonzero(records_by_contributor(learnt)[:, cell]) >= least_contributors:
        return Answer(Normals(learnt.belief.cells.mean[cell], learnt.belief.cells.covariance[cell]), own=True)
    whole, apart = learnt.belief.shared, np.diag(learnt.setup.prior.cell_variance)
    return Answer(Normals(whole.mean, whole.covariance + apart), own=False)


def _with_scatter(setup: Setup, trust: Array, believed: Array, freedom: float) -> Setup:
    """The same with the variance of one reading found from deviations within days."""
    found = setup.equations
    mean = pooled(sides(setup, trust), setup.prior).cells.mean
    weight = trust[found.contributor, found.cell]
    features = setup.layout.features
    residual = np.concatenate((-mean[found.cell, found.outcome, :features], np.ones((len(weight), 1))), axis=1)
    rest = ((found.within @ residual[..., None])[..., 0] * residual).sum(axis=1)
    squares, degrees = np.zeros(len(believed)), np.zeros(len(believed))
    np.add.at(squares, found.outcome, weight * rest)
    np.add.at(degrees, found.outcome, weight * found.pair_freedom)
    return replace(setup, noise_variance=(freedom * believed + squares) / (freedom + degrees))
