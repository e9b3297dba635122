"""What one more step does: a normal belief of every outcome's answer, learnt from what was seen.

Inside: the belief before anything is seen, learning from levels, second signs and changes, the
forecast of a move. Outside: the figures (the knowledge table), what was tried (`advice_history`),
the choice (`advice`).

The log amount of outcome o at position u (steps from the table's start, one per lever) is
    log y_o(u) = a_o + sum_j (b_oj u_j + c_oj u_j^2 / 2),
normal in a, b, c and independent between outcomes; the cost is sum_o w_o y_o(u).
"""

import math
from collections.abc import Sequence

import numpy as np

from service.domain.advice_types import (
    Array,
    Belief,
    ChangeSeen,
    Effect,
    Gain,
    OutcomePrior,
    Position,
    Seen,
)
from service.domain.ranges import above
from service.errors import OutOfRange

_Z80 = 1.2815515655446004  # normal quantile of 0.90: the ends of an 80 % interval
_FAR = 40.0  # steps; beyond this no log amount is believed


def believe(priors: Sequence[OutcomePrior], start_sd_steps: float) -> Belief:
    """Belief before anything is seen, with the table's start taken for nearly the best position.

    Parameters
    ----------
    priors : Sequence[OutcomePrior]
        One per outcome, all with as many levers, at least one of each.
    start_sd_steps : float
        How far the best position usually lies from the start, > 0. [1]

    Returns
    -------
    Belief
        Means and covariances.

    Raises
    ------
    OutOfRange
        If there is no outcome, the lengths differ, or a standard deviation is not above 0.

    Notes
    -----
    At the start the cost has slope g_j = sum_o w_o y_o b_oj, y_o = exp(a_o). That the start is best
    to within s steps is learnt as g_j = 0 with standard deviation s k_j, where
    k_j = sum_o w_o y_o (b_oj^2 + c_oj) is the curvature of the cost. Covariances between outcomes
    that this brings are dropped.

    References
    ----------
    Linear Bayesian regression; assumed-density filtering for the shared observation.

    Examples
    --------
    >>> up = OutcomePrior("cracked", 1.0, -0.7, 0.5, (0.2,), (0.1,), (0.0,), (0.02,))
    >>> down = OutcomePrior("unthreshed", 1.0, -0.7, 0.5, (-0.3,), (0.1,), (0.0,), (0.02,))
    >>> float(believe([up, down], 1.0).mean[:, 1].sum().round(3))
    -0.046
    """
    above("start_sd_steps", start_sd_steps, 0, "1")
    levers = len(priors[0].slope) if priors else 0
    if levers == 0 or any(len(part) != levers for prior in priors for part in _parts(prior)):
        raise OutOfRange("priors", levers, 1, None, "1", reason="lengths")
    mean = np.array([[prior.log_level, *prior.slope, *prior.curvature] for prior in priors])
    spread = np.array([[prior.log_level_sd, *prior.slope_sd, *prior.curvature_sd] for prior in priors])
    for value in spread.ravel():
        above("standard deviation", float(value), 0, "1")
    covariance = np.einsum("oi,ij->oij", spread**2, np.eye(1 + 2 * levers))
    weights = np.array([prior.weight for prior in priors])
    belief = Belief(tuple(prior.outcome for prior in priors), weights, mean, covariance)
    for lever in range(levers):
        belief = _start_is_best(belief, lever, levers, start_sd_steps)
    return belief


def learn(belief: Belief, seen: Seen) -> Belief:
    """Belief after what was seen.

    Parameters
    ----------
    belief : Belief
        Before.
    seen : Seen
        Levels and second signs belong to one outcome each; changes to the cost as a whole.

    Returns
    -------
    Belief
        After.

    Raises
    ------
    OutOfRange
        If a standard deviation is not above 0, or a position is more than 40 steps away.

    Notes
    -----
    Levels and second signs are linear in a, b, c and enter exactly. The log ratio of the cost is
    taken as linear about the present means and enters after them, in the order given; covariances
    between outcomes that this brings are dropped.

    References
    ----------
    Linear Bayesian regression; assumed-density filtering for the changes.

    Examples
    --------
    >>> prior = OutcomePrior("cracked", 1.0, 0.0, 1.0, (0.2,), (0.1,), (0.0,), (0.02,))
    >>> from service.domain.advice_types import LevelSeen
    >>> seen = Seen(levels=(LevelSeen("cracked", (0.0,), 1.0, 1.0),))
    >>> round(float(learn(believe([prior], 100.0), seen).mean[0, 0]), 3)
    0.5
    """
    index = {name: place for place, name in enumerate(belief.outcomes)}
    precision: Array = np.linalg.inv(belief.covariance).astype(np.float64)
    pull: Array = np.einsum("oij,oj->oi", precision, belief.mean)
    if seen.levels or seen.slopes:
        outcomes = np.array(
            [index[name] for name in (*(x.outcome for x in seen.levels), *(x.outcome for x in seen.slopes))]
        )
        rows, values, spreads = _regression(seen)
        for outcome in np.unique(outcomes):
            own = outcomes == outcome
            scaled = rows[own] / spreads[own, None]
            precision[outcome] += scaled.T @ scaled
            pull[outcome] += scaled.T @ (values[own] / spreads[own])
    covariance = np.linalg.inv(precision)
    mean = np.einsum("oij,oj->oi", covariance, pull)
    learnt = Belief(belief.outcomes, belief.weights, mean, (covariance + covariance.transpose(0, 2, 1)) / 2)
    for change in seen.changes:
        above("log_sd", change.log_sd, 0, "1")
        learnt = _change(learnt, change)
    return learnt


def gains(belief: Belief, here: Position, there: Sequence[Position]) -> list[Gain]:
    """Return how much moving from one position to each of others is expected to gain.

    Parameters
    ----------
    belief : Belief
        What is believed.
    here : tuple of float
        Where the levers stand, steps from the start, at most 40 either way. [1]
    there : Sequence[Position]
        Where they would stand.

    Returns
    -------
    list of Gain
        One per position, in their order; shares of the cost now. [1]

    Raises
    ------
    OutOfRange
        If a position is more than 40 steps away.

    Notes
    -----
    Amounts are lognormal: E y = exp(m + v / 2). The standard deviation keeps that the amounts before
    and after share their uncertainty.

    References
    ----------
    Moments of the lognormal distribution.

    Examples
    --------
    >>> prior = OutcomePrior("cracked", 1.0, 0.0, 0.1, (0.2,), (0.001,), (0.0,), (0.001,))
    >>> round(gains(believe([prior], 100.0), (0.0,), [(-1.0,)])[0].mean, 3)
    0.181
    """
    log_mean, variance, shared = _moments(belief, here, there)
    cost = belief.weights * np.exp(log_mean + variance / 2)
    whole = float(cost[0].sum())
    mean = (whole - cost.sum(axis=1)) / whole
    own = (cost**2 * np.expm1(variance)).sum(axis=1)
    both = (cost[0] * cost * np.expm1(shared)).sum(axis=1)
    sd = np.sqrt(np.maximum(own[0] + own - 2 * both, 0)) / whole
    return [Gain(float(m), float(s), float(m) * whole) for m, s in zip(mean[1:], sd[1:], strict=True)]


def effects(belief: Belief, here: Position, there: Position) -> list[Effect]:
    """Return what moving from one position to another does to every outcome.

    Parameters
    ----------
    belief : Belief
        What is believed.
    here, there : tuple of float
        Where the levers stand and would stand, steps from the start, at most 40 either way. [1]

    Returns
    -------
    list of Effect
        One per outcome, in their order; amounts, factors and shares have no unit. [1]

    Raises
    ------
    OutOfRange
        If a position is more than 40 steps away.

    Notes
    -----
    Factors are medians with 80 % intervals, amounts are means; a cost change is the weighted amount
    now times factor - 1, so that its sign is that of the factor. What `gains` takes off beyond these is doubt:
    the mean of a lognormal amount grows with its spread.

    References
    ----------
    Moments and quantiles of the lognormal distribution.

    Examples
    --------
    >>> prior = OutcomePrior("cracked", 1.0, 0.0, 0.1, (0.2,), (0.001,), (0.0,), (0.001,))
    >>> round(effects(believe([prior], 100.0), (0.0,), (-1.0,))[0].factor, 3)
    0.819
    """
    log_mean, variance, shared = _moments(belief, here, [there])
    amount = np.exp(log_mean + variance / 2)
    cost = belief.weights * amount
    ratio = log_mean[1] - log_mean[0]
    sd = np.sqrt(np.maximum(variance[1] + variance[0] - 2 * shared[1], 0))
    return [
        Effect(
            name,
            float(amount[0, o]),
            math.exp(ratio[o]),
            math.exp(ratio[o] - _Z80 * sd[o]),
            math.exp(ratio[o] + _Z80 * sd[o]),
            float(cost[0, o] * math.expm1(ratio[o]) / cost[0].sum()),
        )
        for o, name in enumerate(belief.outcomes)
    ]


def _moments(belief: Belief, here: Position, there: Sequence[Position]) -> tuple[Array, Array, Array]:
    """Mean and variance of log amounts at here and there, and their covariance with those here."""
    rows = _features([here, *there])
    log_mean: Array = rows @ belief.mean.T
    turned = rows @ belief.covariance  # outcomes x positions x features
    variance: Array = (turned * rows).sum(axis=2).T
    shared: Array = (turned @ rows[0]).T
    return log_mean, variance, shared


def _parts(prior: OutcomePrior) -> tuple[Position, ...]:
    return prior.slope, prior.slope_sd, prior.curvature, prior.curvature_sd


def _features(positions: Sequence[Position]) -> Array:
    """One row 1, u, u^2 / 2 for each position."""
    u = np.array(positions)
    if not np.all(np.abs(u) <= _FAR):
        raise OutOfRange("position", float(u.ravel()[np.argmax(np.abs(u))]), -_FAR, _FAR, "1")
    return np.hstack((np.ones((len(u), 1)), u, u * u / 2))


def _regression(seen: Seen) -> tuple[Array, Array, Array]:
    """Rows, values and standard deviations of levels and second signs, in this order."""
    for spread in (*(level.log_sd for level in seen.levels), *(sign.slope_sd for sign in seen.slopes)):
        above("standard deviation", spread, 0, "1")
    rows = _features([*(level.position for level in seen.levels), *(sign.position for sign in seen.slopes)])
    levers = (rows.shape[1] - 1) // 2
    for row, sign in zip(rows[len(seen.levels) :], seen.slopes, strict=True):
        row[:] = 0.0
        row[1 + sign.lever] = 1.0  # d log y / d u_j = b_j + c_j u_j
        row[1 + levers + sign.lever] = sign.position[sign.lever]
    values = [*(level.log_amount for level in seen.levels), *(sign.slope for sign in seen.slopes)]
    spreads = [*(level.log_sd for level in seen.levels), *(sign.slope_sd for sign in seen.slopes)]
    return rows, np.array(values), np.array(spreads)


def _start_is_best(belief: Belief, lever: int, levers: int, start_sd_steps: float) -> Belief:
    level = belief.weights * np.exp(belief.mean[:, 0])
    slope, curvature = belief.mean[:, 1 + lever], belief.mean[:, 1 + levers + lever]
    stiffness = float((level * (slope**2 + curvature)).sum())
    row = np.zeros_like(belief.mean)
    row[:, 1 + lever] = level
    spread = max(start_sd_steps * stiffness, 1e-6)
    return _filter(belief, row, 0.0, spread)


def _change(belief: Belief, change: ChangeSeen) -> Belief:
    before, after = _features([change.before, change.after])
    cost = belief.weights * np.exp(np.vstack((before, after)) @ belief.mean.T)
    share = cost / cost.sum(axis=1, keepdims=True)
    # gradient of log(cost after / cost before) in each outcome's mean
    row = np.outer(share[1], after) - np.outer(share[0], before)
    totals = cost.sum(axis=1)
    expected = math.log(totals[1] / totals[0])
    return _filter(belief, row, change.log_ratio - expected + float((row * belief.mean).sum()), change.log_sd)


def _filter(belief: Belief, row: Array, value: float, spread: float) -> Belief:
    """Learn sum_o row_o . theta_o = value +- spread, keeping the outcomes independent."""
    against = np.einsum("oij,oj->oi", belief.covariance, row)
    total = float((row * against).sum()) + spread**2
    missing = value - float((row * belief.mean).sum())
    mean = belief.mean + against * (missing / total)
    covariance = belief.covariance - np.einsum("oi,oj->oij", against, against) / total
    return Belief(belief.outcomes, belief.weights, mean, covariance)
