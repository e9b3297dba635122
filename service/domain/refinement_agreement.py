"""Whether a contributor agrees with the others: beliefs without him, and how far his records are off.

Inside: one fit for given weights, the same without each contributor, the test of agreement. Outside: the
weights themselves and who is set aside (`refinement_contributors`).
"""

from dataclasses import dataclass

import numpy as np

from service.domain.refinement_equations import Equations
from service.domain.refinement_pooling import (
    Normals,
    Sides,
    TreePrior,
    cell_mean,
    message,
    shared,
    summed,
)
from service.domain.refinement_types import Array, Layout, Places

_RIDGE = 1e-6  # of the mean variance, where a contributor never moved a setting


@dataclass(frozen=True, slots=True, eq=False)
class Setup:
    """What a fit is made from: equations, prior, scatter of readings by outcome, ratio of levels."""

    equations: Equations
    layout: Layout
    prior: TreePrior
    noise_variance: Array
    contributor_ratio: float


@dataclass(frozen=True, slots=True, eq=False)
class LeftOut:
    """Beliefs without a contributor: of the cell and outcome of each row of the equations, and shared.

    `mean` has the shape (rows, coefficients); `shared` is by contributor and outcome.
    """

    mean: Array
    shared: Normals


def sides(setup: Setup, trust: Array) -> Sides:
    """Both sides of the equations of every cell and outcome.

    Parameters
    ----------
    setup : Setup
        Equations and scatter.
    trust : ndarray, shape (..., contributors, cells)
        Weight of each contributor in each cell, >= 0. [1]

    Returns
    -------
    Sides
        Sums over contributors.

    References
    ----------
    Weighted likelihood; definition.

    Examples
    --------
    >>> from service.domain.refinement_equations import equations
    >>> from service.domain.refinement_statistics import no_statistics
    >>> layout = Layout(("drum",))
    >>> nothing = equations(no_statistics(layout), ("dry",), ("loss",), 0.5)
    >>> prior = TreePrior(np.zeros((1, 4)), np.ones(4), np.ones(4))
    >>> setup = Setup(nothing, layout, prior, np.ones(1), 0.5)
    >>> sides(setup, np.ones((0, 1))).right.tolist()
    [[[0.0, 0.0, 0.0, 0.0]]]
    """
    eq = setup.equations
    shape = (len(eq.cells), len(eq.outcomes))
    weight = trust[..., eq.contributor, eq.cell] / setup.noise_variance[eq.outcome]
    count = setup.layout.coefficients
    flat = eq.information.reshape(len(eq.cell), count * count)
    left = summed(flat, weight, eq.cell, eq.outcome, shape)
    right = summed(eq.pull, weight, eq.cell, eq.outcome, shape)
    return Sides(left.reshape(*left.shape[:-1], count, count), right)


def left_out(setup: Setup, trust: Array) -> LeftOut:
    """Beliefs without each contributor in turn, exact.

    Parameters
    ----------
    setup : Setup
        Equations and scatter.
    trust : ndarray, shape (contributors, cells)
        Weight of each contributor in each cell, >= 0. [1]

    Returns
    -------
    LeftOut
        One belief for each row of the equations, without its contributor.

    Notes
    -----
    Only the messages of the cells in which he has records change, so this costs one fit in all.

    References
    ----------
    Stone, M. (1974). Cross-validatory choice and assessment of statistical predictions. Journal of the
    Royal Statistical Society B 36, 111-147.

    Examples
    --------
    >>> from service.domain.refinement_equations import equations
    >>> from service.domain.refinement_statistics import no_statistics
    >>> layout = Layout(("drum",))
    >>> nothing = equations(no_statistics(layout), ("dry",), ("loss",), 0.5)
    >>> prior = TreePrior(np.zeros((1, 4)), np.ones(4), np.ones(4))
    >>> setup = Setup(nothing, layout, prior, np.ones(1), 0.5)
    >>> left_out(setup, np.ones((0, 1))).mean.shape
    (0, 4)
    """
    eq, prior = setup.equations, setup.prior
    every = sides(setup, trust)
    told = message(every, prior)
    weight = trust[eq.contributor, eq.cell] / setup.noise_variance[eq.outcome]
    at = (eq.cell, eq.outcome)
    rest = Sides(every.left[at] - weight[:, None, None] * eq.information, every.right[at] - weight[:, None] * eq.pull)
    without = message(rest, prior)
    count = setup.layout.coefficients
    change = Sides(without.left - told.left[at], without.right - told.right[at])
    people = (len(eq.contributors), len(eq.outcomes))
    left = np.broadcast_to(told.left.sum(axis=0), (*people, count, count)).copy()
    right = np.broadcast_to(told.right.sum(axis=0), (*people, count)).copy()
    np.add.at(left, (eq.contributor, eq.outcome), change.left)
    np.add.at(right, (eq.contributor, eq.outcome), change.right)
    whose = (eq.contributor, eq.outcome)
    whole = shared(Sides(left, right), prior)
    return LeftOut(cell_mean(without, whole.mean[whose], prior), whole)


def disagreement(setup: Setup, mean: Array, spread: Array, slope_sd: float) -> Array:
    """How far each contributor's records are from a belief: chi-square if he agrees with it.

    Parameters
    ----------
    setup : Setup
        Equations and scatter.
    mean : ndarray, shape (..., rows, coefficients)
        Belief for the cell and outcome of each row. [1]
    spread : ndarray, shape (..., contributors or 1, outcomes, coefficients, coefficients)
        Covariance of what all cells share. [1]
    slope_sd : float
        Honest difference of his coefficients from those of all. [1]

    Returns
    -------
    ndarray, shape (..., contributors)
        Sum over outcomes, with one degree of freedom for each setting and one for the level. [1]

    Notes
    -----
    Score of the slopes e = sum (b - A mean) / v, of variance A / v + A (spread + slope_sd^2 I) A / v^2;
    and the level, of variance v (k + 1 / m) + g' spread g.

    References
    ----------
    Rao, C. R. (1948). Large sample tests of statistical hypotheses concerning several parameters.
    Proceedings of the Cambridge Philosophical Society 44, 50-57. Recalled.

    Examples
    --------
    >>> from service.domain.refinement_equations import equations
    >>> from service.domain.refinement_statistics import no_statistics
    >>> layout = Layout(("drum",))
    >>> nothing = equations(no_statistics(layout), ("dry",), ("loss",), 0.5)
    >>> prior = TreePrior(np.zeros((1, 4)), np.ones(4), np.ones(4))
    >>> setup = Setup(nothing, layout, prior, np.ones(1), 0.5)
    >>> disagreement(setup, np.zeros((0, 4)), np.ones((1, 1, 4, 4)), 0.15).shape
    (0,)
    """
    eq, layout, noise = setup.equations, setup.layout, setup.noise_variance
    people = (len(eq.contributors), len(eq.outcomes))
    whose = (eq.contributor, eq.outcome)
    slopes = layout.slopes
    off = (eq.pull - (eq.information @ mean[..., None])[..., 0])[..., slopes]
    score = _gathered(off, whose, people) / noise[:, None]
    own = np.zeros((*people, len(layout.settings), layout.coefficients))
    np.add.at(own, whose, eq.information[:, slopes, :])
    own /= noise[:, None, None]
    honest = np.full(layout.coefficients, slope_sd**2)
    honest[0] = 0.0
    variance = own[..., slopes] + own @ (spread + np.diag(honest)) @ np.swapaxes(own, -1, -2)
    size = np.trace(variance, axis1=-2, axis2=-1) / max(len(layout.settings), 1)
    variance = variance + _RIDGE * np.maximum(1.0, size)[..., None, None] * np.eye(len(layout.settings))
    of_slopes = (score * np.linalg.solve(variance, score[..., None])[..., 0]).sum(axis=-1)
    both: Array = of_slopes + _of_level(setup, mean, spread, whose, people)
    return np.asarray(both.sum(axis=-1))


def _of_level(setup: Setup, mean: Array, spread: Array, whose: tuple[Places, Places], people: tuple[int, int]) -> Array:
    """Chi-square of the levels, by contributor and outcome; 0 where he has no record of the outcome."""
    eq, noise = setup.equations, setup.noise_variance
    weight = np.zeros(people)
    np.add.at(weight, whose, eq.level_weight)
    told = np.maximum(weight, np.finfo(float).tiny)
    features = np.zeros((*people, setup.layout.coefficients))
    np.add.at(features, whose, eq.level_features)
    features /= told[..., None]
    amount = eq.level_amount - (eq.level_features * mean).sum(axis=-1)
    off = _gathered(amount[..., None], whose, people)[..., 0] / told
    far = (features * (spread @ features[..., None])[..., 0]).sum(axis=-1)
    variance = noise * (setup.contributor_ratio + 1 / told) + far
    found: Array = np.where(weight > 0, off**2 / variance, 0.0)
    return found


def _gathered(rows: Array, whose: tuple[Places, Places], people: tuple[int, int]) -> Array:
    """Sums of rows by contributor and outcome; leading axes are kept."""
    found = np.zeros((*people, *rows.shape[:-2], rows.shape[-1]))
    np.add.at(found, whose, np.moveaxis(rows, -2, 0))
    gathered: Array = np.moveaxis(found, (0, 1), (-3, -2))
    return gathered
