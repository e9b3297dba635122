"""Cells learn from each other: a tree of normal beliefs, solved exactly in two passes.

Inside: the belief of what all cells share and of each cell. Outside: the equations
(`refinement_equations`), which contributors count how much (`refinement_contributors`).

What all cells share has the prior; each cell is normal about it; records of a cell are normal about the
cell. Upwards each cell tells what its records say of all; downwards each hears what the others say.
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from service.domain.ranges import above
from service.domain.refinement_types import Array, Layout, LearningModel, Outcome, Places, Spread
from service.errors import OutOfRange


@dataclass(frozen=True, slots=True, eq=False)
class TreePrior:
    """What is believed before any record.

    Attributes
    ----------
    mean : ndarray, shape (outcomes, coefficients)
        Of what all cells share.
    precision : ndarray, shape (coefficients,)
        One over its variances; 0 where nothing is believed.
    cell_variance : ndarray, shape (coefficients,)
        Of a cell about what all share, above 0.
    """

    mean: Array
    precision: Array
    cell_variance: Array


@dataclass(frozen=True, slots=True, eq=False)
class Sides:
    """Left and right sides of normal equations, over the variance of a reading."""

    left: Array
    right: Array


@dataclass(frozen=True, slots=True, eq=False)
class Message:
    """What a cell tells upwards, and what it keeps: covariance and mean apart from what all share."""

    inside: Array
    pulled: Array
    left: Array
    right: Array


@dataclass(frozen=True, slots=True, eq=False)
class Normals:
    """Normal beliefs of coefficients: means, and covariances with one axis more."""

    mean: Array
    covariance: Array


@dataclass(frozen=True, slots=True, eq=False)
class Belief:
    """Beliefs of each cell and outcome, and of what all cells share, without the axis of cells."""

    cells: Normals
    shared: Normals


def tree_prior(layout: Layout, outcomes: tuple[Outcome, ...], model: LearningModel) -> TreePrior:
    """Prior by which the base table is the best: slopes 0, curvatures upward.

    Parameters
    ----------
    layout : Layout
        Which settings and conditions there are.
    outcomes : tuple of Outcome
        With their usual amounts.
    model : LearningModel
        Mean curvature and standard deviations.

    Returns
    -------
    TreePrior
        Means and variances.

    Raises
    ------
    OutOfRange
        If a usual amount or a standard deviation is not above 0.

    References
    ----------
    Gelman, A. et al. (2013). Bayesian data analysis, 3rd ed., CRC Press, ch. 5. Recalled.

    Examples
    --------
    >>> wide, narrow = Spread(1.0, 0.7, 0.2, 0.5, 0.4), Spread(0.3, 0.2, 0.1, 0.15, 0.1)
    >>> model = LearningModel(0.05, 0.5, 0.5, 0.5, wide, narrow, 20.0)
    >>> prior = tree_prior(Layout(("drum",)), (Outcome("loss", 1.0, 1.0, 0.4),), model)
    >>> prior.mean.tolist()
    [[0.0, 0.0, 0.5, 0.0]]
    """
    for outcome in outcomes:
        above("usual_pct", outcome.usual_pct, 0, "%")
    mean = np.zeros((len(outcomes), layout.coefficients))
    mean[:, 0] = np.log([outcome.usual_pct for outcome in outcomes])
    mean[:, layout.curvatures] = model.curvature
    return TreePrior(mean, 1 / _variances(layout, model.all_cells_sd), _variances(layout, model.own_cell_sd))


def pooled(sides: Sides, prior: TreePrior) -> Belief:
    """Belief of every cell after the records of all.

    Parameters
    ----------
    sides : Sides
        Shapes (..., cells, outcomes, coefficients, coefficients) and one axis less; 0 where a cell has
        no records.
    prior : TreePrior
        What is believed before.

    Returns
    -------
    Belief
        Of cells and of what they share; leading axes are kept.

    Raises
    ------
    OutOfRange
        If the shapes do not fit the prior.

    Notes
    -----
    With D = 1 / cell variance and S = (A + D)^-1, a cell tells D - D S D and D S b, and what all share has
    the prior's precision and all that is told. Given what all share, a cell is normal about
    S (b + D shared) with covariance S; so its mean is that of the shared mean, and its covariance
    S + S D (shared covariance) D S. The same as the joint posterior of all cells.

    References
    ----------
    Lindley, D. V., Smith, A. F. M. (1972). Bayes estimates for the linear model. Journal of the Royal
    Statistical Society B 34, 1-41. Recalled.

    Examples
    --------
    >>> sides = Sides(np.ones((2, 1, 1, 1)), np.array([[[1.0]], [[3.0]]]))
    >>> two = pooled(sides, TreePrior(np.zeros((1, 1)), np.zeros(1), np.ones(1)))
    >>> two.cells.mean.ravel().round(9).tolist(), two.shared.mean.tolist()
    ([1.5, 2.5], [[2.0]])
    """
    if sides.left.shape[-3:] != (*prior.mean.shape, prior.mean.shape[1]) or sides.right.shape != sides.left.shape[:-1]:
        raise OutOfRange("sides", str(sides.left.shape), reason="shape")
    told = message(sides, prior)
    whole = shared(Sides(told.left.sum(axis=-4), told.right.sum(axis=-3)), prior)
    follow = told.inside / prior.cell_variance  # how a cell follows what all share
    covariance = told.inside + follow @ whole.covariance[..., None, :, :, :] @ np.swapaxes(follow, -1, -2)
    return Belief(Normals(cell_mean(told, whole.mean[..., None, :, :], prior), covariance), whole)


def message(sides: Sides, prior: TreePrior) -> Message:
    """What the records of a cell say of what all cells share.

    Parameters
    ----------
    sides : Sides
        Of the cell.
    prior : TreePrior
        For the variances of cells.

    Returns
    -------
    Message
        The message.

    Notes
    -----
    As `pooled`; written so that nothing cancels where a cell has very many records.

    References
    ----------
    As `pooled`.

    Examples
    --------
    >>> told = message(Sides(np.ones((1, 1)), np.ones(1)), TreePrior(np.zeros((1, 1)), np.zeros(1), np.ones(1)))
    >>> told.left.tolist(), told.right.tolist()
    ([[0.5]], [0.5])
    """
    own = 1 / prior.cell_variance
    inside = _inverse(sides.left + np.diag(own))
    pull = _times(inside, sides.right)
    return Message(inside, pull, np.diag(own) - own[:, None] * inside * own, own * pull)


def shared(told: Sides, prior: TreePrior) -> Normals:
    """What is believed of what all cells share, after messages.

    Parameters
    ----------
    told : Sides
        Sum of the messages, by outcome.
    prior : TreePrior
        What is believed before.

    Returns
    -------
    Normals
        The belief.

    References
    ----------
    As `pooled`.

    Examples
    --------
    >>> told = Sides(np.ones((1, 1, 1)), np.ones((1, 1)))
    >>> shared(told, TreePrior(np.zeros((1, 1)), np.ones(1), np.ones(1))).mean.tolist()
    [[0.5]]
    """
    covariance = _inverse(told.left + np.diag(prior.precision))
    return Normals(_times(covariance, told.right + prior.precision * prior.mean), covariance)


def cell_mean(told: Message, shared_mean: Array, prior: TreePrior) -> Array:
    """Mean of a cell, from its records and from what all cells share.

    Parameters
    ----------
    told : Message
        Of the cell.
    shared_mean : ndarray, shape (..., coefficients)
        Mean of what all share, this cell among them. [1]
    prior : TreePrior
        For the variances of cells.

    Returns
    -------
    ndarray, shape (..., coefficients)
        The mean. [1]

    References
    ----------
    As `pooled`.

    Examples
    --------
    >>> prior = TreePrior(np.zeros((1, 1)), np.zeros(1), np.ones(1))
    >>> cell_mean(message(Sides(np.ones((1, 1)), np.ones(1)), prior), np.zeros(1), prior).tolist()
    [0.5]
    """
    found: Array = told.pulled + _times(told.inside / prior.cell_variance, shared_mean)
    return found


def summed(values: Array, weights: Array, cell: Places, outcome: Places, shape: tuple[int, int]) -> Array:
    """Weighted sums of rows over the contributors of each cell and outcome.

    Parameters
    ----------
    values : ndarray, shape (rows, n)
        One a row, in the order of cell and outcome. [1]
    weights : ndarray, shape (..., rows)
        Weight of each row. [1]
    cell, outcome : ndarray, shape (rows,)
        Places, rising. [1]
    shape : tuple of int
        Numbers of cells and outcomes.

    Returns
    -------
    ndarray, shape (..., cells, outcomes, n)
        The sums; 0 where there is no row. [1]

    References
    ----------
    Definition.

    Examples
    --------
    >>> values = np.array([[1.0], [2.0], [4.0]])
    >>> summed(values, np.ones(3), np.array([0, 0, 1]), np.array([0, 0, 0]), (2, 1)).tolist()
    [[[3.0]], [[4.0]]]
    """
    found: Array = np.zeros((*weights.shape[:-1], *shape, values.shape[-1]))
    first = np.flatnonzero(np.diff(cell * shape[1] + outcome, prepend=-1))
    for low, high in pairwise([*first.tolist(), len(values)]):
        found[..., cell[low], outcome[low], :] = weights[..., low:high] @ values[low:high]
    return found


def _inverse(matrix: Array) -> Array:
    """Inverses of symmetric matrices, symmetric to the last digit."""
    found = np.linalg.inv(matrix)
    both: Array = (found + np.swapaxes(found, -1, -2)) / 2
    return both


def _times(matrix: Array, vector: Array) -> Array:
    found: Array = (matrix @ vector[..., None])[..., 0]
    return found


def _variances(layout: Layout, spread: Spread) -> Array:
    for name in ("level", "slope", "curvature", "condition", "choice"):
        above(name, getattr(spread, name), 0, "1")
    found = np.empty(layout.coefficients)
    found[0] = spread.level
    found[layout.slopes] = spread.slope
    found[layout.curvatures] = spread.curvature
    found[layout.condition_effects] = spread.condition
    found[layout.choices] = spread.choice
    return found**2
