"""What was learnt, held against contributors it was not learnt from.

Inside: skill of the settings in records of a contributor left out, and what a move is worth without each.
Outside: the beliefs (`refinement_agreement`), what follows for a proposal (`refinement_proposal`).
"""

from dataclasses import dataclass

import numpy as np

from service.domain.refinement_agreement import LeftOut, left_out
from service.domain.refinement_choice import CostDraws, costs
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


@dataclass(frozen=True, slots=True, eq=False)
class WithoutEach:
    """Gain of a move and probability that it is better, without each contributor.

    One number a contributor, NaN for those who have no say in the cell.
    """

    gain: Array
    probability: Array


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


def without_each(
    fit: Fit, found: HeldOut, cell: int, draws: CostDraws, here: Array, there: Array, *, own: bool
) -> WithoutEach:
    """What is expected of a move when each contributor in turn is left out.

    Parameters
    ----------
    fit : Fit
        What was learnt.
    found : HeldOut
        Beliefs without each.
    cell : int
        Place of the cell.
    draws : CostDraws
        Of the belief that answers the cell.
    here, there : ndarray, shape (settings,)
        Where the settings stand and would stand, coded. [1]
    own : bool
        Whether the cell is answered by itself, and not by all cells.

    Returns
    -------
    WithoutEach
        Gain and probability without each.

    Notes
    -----
    The draws are moved to the mean without him; their spread is left, which would be a little larger.

    References
    ----------
    As `held_out`.

    Examples
    --------
    >>> from service.domain.refinement_choice import cost_draws
    >>> from service.domain.refinement_example import OUTCOMES, invented_fit
    >>> fit = invented_fit()
    >>> draws = cost_draws(fit.belief.shared, fit.setup.layout, OUTCOMES, 400, 1, "all")
    >>> found = without_each(fit, held_out(fit), 0, draws, np.array([0.0]), np.array([0.25]), own=False)
    >>> round(float(found.gain.min()), 1), float(found.probability.min())
    (0.2, 1.0)
    """
    eq = fit.setup.equations
    middle = fit.belief.cells.mean[cell] if own else fit.belief.shared.mean
    means, said = found.without.shared.mean, ~fit.standing.set_aside
    if own:
        rows = np.flatnonzero(eq.cell == cell)
        means = np.repeat(middle[None], len(eq.contributors), axis=0)
        means[eq.contributor[rows], eq.outcome[rows]] = found.without.mean[rows]
        said &= np.isin(np.arange(len(said)), eq.contributor[rows])
    upto = draws.coefficients.shape[1]
    gain, probability = np.full(len(said), np.nan), np.full(len(said), np.nan)
    for one in np.flatnonzero(said):
        moved = (means[one] - middle)[:, :upto, None]
        before, after = costs(CostDraws(draws.prices, draws.coefficients + moved), np.array([here, there]))
        gain[one] = (before - after).mean() / before.mean()
        probability[one] = np.mean(after < before)
    return WithoutEach(gain, probability)


def _squares(fit: Fit, mean: Array) -> Array:
    eq = fit.setup.equations
    turned: Array = (eq.information @ mean[..., None])[..., 0]
    found: Array = eq.square + ((turned - 2 * eq.pull) * mean).sum(axis=1)
    return found


def _skill(rest: Array, whole: Array) -> Array:
    share: Array = np.full(rest.shape, np.nan)
    np.divide(rest, whole, out=share, where=whole > 0)
    return np.asarray(1.0 - share, dtype=np.float64)
