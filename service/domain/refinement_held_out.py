"""What was learnt, held against contributors it was not learnt from.

Inside: skill of the settings in records of a contributor left out, and what a move gains without each.
Outside: the beliefs (`refinement_agreement`), what follows for a proposal (`refinement_proposal`).
"""

from dataclasses import dataclass

import numpy as np

from service.domain.refinement_agreement import LeftOut, left_out
from service.domain.refinement_choice import mean_cost
from service.domain.refinement_fit import Fit
from service.domain.refinement_types import Array


@dataclass(frozen=True, slots=True, eq=False)
class HeldOut:
    """Beliefs without each contributor, and how well they tell his records.

    Attributes
    ----------
    without : LeftOut
        The beliefs.
    skill : ndarray, shape (cells, outcomes)
        Share of the scatter that the settings explain in records they were not learnt from; below 0 they
        mislead, NaN where there is no record.
    overall : ndarray, shape (outcomes,)
        The same over all cells.
    """

    without: LeftOut
    skill: Array
    overall: Array


def held_out(fit: Fit) -> HeldOut:
    """Tell the records of each contributor from those of the others.

    Parameters
    ----------
    fit : Fit
        What was learnt.

    Returns
    -------
    HeldOut
        Beliefs without each, and their skill.

    Notes
    -----
    1 - Q(mean) / Q(mean with the settings left out), Q the sum of squares of the records about a mean, their
    levels taken out: yy - 2 b' m + m' A m. From sums alone.

    References
    ----------
    Stone, M. (1974). Cross-validatory choice and assessment of statistical predictions. Journal of the
    Royal Statistical Society B 36, 111-147.

    Examples
    --------
    >>> from service.domain.refinement_example import invented_fit
    >>> held_out(invented_fit()).overall.round(2).tolist()
    [0.47]
    """
    eq, layout = fit.setup.equations, fit.setup.layout
    without = left_out(fit.setup, fit.standing.trust)
    plain = without.mean.copy()
    for part in (layout.slopes, layout.curvatures, layout.choices):
        plain[:, part] = 0.0
    kept = np.where(fit.standing.set_aside[eq.contributor], 0.0, 1.0)
    shape = (len(eq.cells), len(eq.outcomes))
    rest, all_of_it = np.zeros(shape), np.zeros(shape)
    np.add.at(rest, (eq.cell, eq.outcome), kept * _squares(fit, without.mean))
    np.add.at(all_of_it, (eq.cell, eq.outcome), kept * _squares(fit, plain))
    return HeldOut(without, _skill(rest, all_of_it), _skill(rest.sum(axis=0), all_of_it.sum(axis=0)))


def gains_without(fit: Fit, found: HeldOut, cell: int, here: Array, there: Array, *, own: bool) -> Array:
    """Gain of a move as it is expected without each contributor.

    Parameters
    ----------
    fit : Fit
        What was learnt.
    found : HeldOut
        Beliefs without each.
    cell : int
        Place of the cell.
    here, there : ndarray, shape (settings,)
        Where the settings stand and would stand, coded. [1]
    own : bool
        Whether the cell is answered by itself, and not by all cells.

    Returns
    -------
    ndarray, shape (contributors,)
        Share of the cost, for those who have a say in the cell; NaN for the others. [1]

    References
    ----------
    As `held_out`.

    Examples
    --------
    >>> from service.domain.refinement_example import invented_fit
    >>> fit = invented_fit()
    >>> gains = gains_without(fit, held_out(fit), 0, np.array([0.0]), np.array([0.25]), own=True)
    >>> round(float(gains.min()), 2)
    0.15
    """
    eq = fit.setup.equations
    prices = np.array([outcome.price for outcome in fit.outcomes])
    mean = np.repeat(fit.belief.cells.mean[None, cell], len(eq.contributors), axis=0)
    said = ~fit.standing.set_aside
    if own:
        rows = np.flatnonzero(eq.cell == cell)
        mean[eq.contributor[rows], eq.outcome[rows]] = found.without.mean[rows]
        said &= np.isin(np.arange(len(said)), eq.contributor[rows])
    else:
        mean = found.without.shared.mean
    gains = np.array([1 - mean_cost(prices, one, there) / mean_cost(prices, one, here) for one in mean])
    return np.where(said, gains, np.nan)


def _squares(fit: Fit, mean: Array) -> Array:
    eq = fit.setup.equations
    turned: Array = (eq.information @ mean[..., None])[..., 0]
    found: Array = eq.square + ((turned - 2 * eq.pull) * mean).sum(axis=1)
    return found


def _skill(rest: Array, whole: Array) -> Array:
    share: Array = np.full(rest.shape, np.nan)
    np.divide(rest, whole, out=share, where=whole > 0)
    return np.asarray(1.0 - share, dtype=np.float64)
