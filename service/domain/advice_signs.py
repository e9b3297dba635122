"""Known signs: what the table is sure of holds for a machine until that machine's own history says otherwise.

Inside: the most probable belief whose slopes keep their signs, and whether history outweighs a sign.
Outside: which signs are known (the knowledge table), learning (`advice_model`), the choice (`advice`).

One look at one place tells how much there is of an outcome, hardly how it answers a setting; taken
by itself, learning from it may turn a slope round. A sign that is known is therefore kept: at both
ends of the reach of a change, the slope of the log amount is at least a share of the table's own.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import nnls

from service.domain.advice_model import learn
from service.domain.advice_types import Array, Belief, KnownSign, Lever, Seen, Trial
from service.domain.ranges import within

_SURE_Z = 1.2815515655446004  # normal quantile of 0.90: how sure history must be to outweigh a sign
_KEPT = 1e-12  # slopes that miss their least by less are kept


@dataclass(frozen=True, slots=True)
class Settled:
    """A belief with its known signs kept, and the signs that the machine's own history outweighed.

    Attributes
    ----------
    belief : Belief
        After learning and keeping.
    outweighed : tuple of KnownSign
        Signs that do not hold for this machine.
    """

    belief: Belief
    outweighed: tuple[KnownSign, ...]


def settle(
    prior: Belief,
    now: Seen,
    past: Seen,
    signs: Sequence[KnownSign],
    levers: Sequence[Lever],
    trials: Sequence[Trial],
) -> Settled:
    """Learn with every known sign kept but those that the history of their own lever outweighs.

    Parameters
    ----------
    prior : Belief
        Before anything is seen, with the levers in the same order.
    now : Seen
        What is seen where the levers stand.
    past : Seen
        What was seen before.
    signs : Sequence[KnownSign]
        Signs that are known, each pair of outcome and lever at most once.
    levers : Sequence[Lever]
        Where they stand, and the most steps in one change.
    trials : Sequence[Trial]
        What was tried, oldest first.

    Returns
    -------
    Settled
        The belief to advise from, and which signs do not hold.

    Raises
    ------
    OutOfRange
        If a standard deviation is not above 0, a position is more than 40 steps away, or a sign asks
        for a least slope below 0.

    Notes
    -----
    Signs are kept once before the history comes in, so that only the history can outweigh them: one
    look at one place never does. Nor does a change that does not lead to where the levers stand.

    References
    ----------
    Linear Bayesian regression under inequalities; `keep_signs`, `outweighed`.

    Examples
    --------
    >>> from service.domain.advice_model import believe
    >>> from service.domain.advice_types import LevelSeen, OutcomePrior
    >>> prior = believe([OutcomePrior("cracked", 1.0, 0.0, 0.5, (0.1,), (0.1,), (0.0,), (0.01,))], 100.0)
    >>> sign, drum = KnownSign("cracked", 0, 1, 0.01), Lever("drum", 0.0, -4, 4, 2)
    >>> now, past = (Seen((LevelSeen("cracked", (at,), level, 0.05),)) for at, level in ((0.0, 1.0), (2.0, 0.0)))
    >>> settle(prior, now, past, [sign], [drum], [Trial("drum", 2.0, 0.0, "worse")]).outweighed == (sign,)
    True
    """
    first = keep_signs(learn(prior, now), signs, levers, trials)
    learnt = learn(first, past)
    moved = {trial.lever for trial in trials if trial.connected}
    broken = tuple(sign for sign in signs if levers[sign.lever].name in moved and outweighed(learnt, sign, levers))
    return Settled(keep_signs(learnt, [sign for sign in signs if sign not in broken], levers, trials), broken)


def keep_signs(belief: Belief, signs: Sequence[KnownSign], levers: Sequence[Lever], trials: Sequence[Trial]) -> Belief:
    """Move the means as little as needed for every known sign to hold over the reach of a change.

    Parameters
    ----------
    belief : Belief
        After learning, with the levers in the same order.
    signs : Sequence[KnownSign]
        Signs that are known, each pair of outcome and lever at most once.
    levers : Sequence[Lever]
        Where they stand, and the most steps in one change.
    trials : Sequence[Trial]
        What was tried, oldest first: putting the last change back is a move as well.

    Returns
    -------
    Belief
        The same covariances; means with slope >= the least one in the direction of the sign, at
        both ends of the reach and so, as slopes are linear, everywhere between.

    Raises
    ------
    OutOfRange
        If a sign asks for a least slope below 0.

    Notes
    -----
    The means are the mode of the normal belief cut off where a sign would be broken: the least
    Mahalanobis distance under linear inequalities, solved as non-negative least squares of the
    multipliers. A sign that no change can reach is not looked at.

    References
    ----------
    Lawson and Hanson (1974), Solving Least Squares Problems, ch. 23: least distance programming.

    Examples
    --------
    >>> from service.domain.advice_model import believe
    >>> from service.domain.advice_types import OutcomePrior
    >>> prior = OutcomePrior("cracked", 1.0, 0.0, 0.5, (-0.1,), (0.1,), (0.0,), (0.001,))
    >>> signs, drum = [KnownSign("cracked", 0, 1, 0.05)], [Lever("drum", 0.0, -4, 4, 2)]
    >>> kept = keep_signs(believe([prior], 100.0), signs, drum, [])
    >>> float(kept.mean[0, 1].round(3))
    0.05
    """
    place = {name: index for index, name in enumerate(belief.outcomes)}
    reaches = [_reach(lever, trials) for lever in levers]
    mean = belief.mean.copy()
    for outcome in {place[sign.outcome]: None for sign in signs}:
        own = [sign for sign in signs if place[sign.outcome] == outcome]
        rows, least = _bounds(own, levers, reaches)
        mean[outcome] = _nearest(mean[outcome], belief.covariance[outcome], rows, least)
    return replace(belief, mean=mean)


def outweighed(belief: Belief, sign: KnownSign, levers: Sequence[Lever]) -> bool:
    """Whether a belief is sure enough that a slope runs against its known sign.

    Parameters
    ----------
    belief : Belief
        After learning, signs not kept.
    sign : KnownSign
        The sign.
    levers : Sequence[Lever]
        Where they stand.

    Returns
    -------
    bool
        True if the slope where the lever stands is against the sign with probability 0.9 or more.

    Raises
    ------
    OutOfRange
        If the sign asks for a least slope below 0.

    References
    ----------
    Normal distribution function.

    Examples
    --------
    >>> from service.domain.advice_model import believe
    >>> from service.domain.advice_types import OutcomePrior
    >>> prior = OutcomePrior("cracked", 1.0, 0.0, 0.5, (-0.3,), (0.1,), (0.0,), (0.001,))
    >>> outweighed(believe([prior], 100.0), KnownSign("cracked", 0, 1, 0.05), [Lever("drum", 0.0, -4, 4, 2)])
    True
    """
    outcome = belief.outcomes.index(sign.outcome)
    row = _slope_row(sign, levers, levers[sign.lever].at_steps)
    against = -float(row @ belief.mean[outcome])
    return against >= _SURE_Z * math.sqrt(float(row @ belief.covariance[outcome] @ row))


def _reach(lever: Lever, trials: Sequence[Trial]) -> tuple[float, float]:
    """How far one change may take a lever: its most steps, the way into its envelope, the way back."""
    at = lever.at_steps
    places = [at - lever.max_steps, at + lever.max_steps, min(max(at, lever.low_steps), lever.high_steps)]
    if trials and trials[-1].lever == lever.name:
        places.append(trials[-1].from_steps)
    return min(places), max(places)


def _bounds(
    signs: Sequence[KnownSign], levers: Sequence[Lever], reaches: Sequence[tuple[float, float]]
) -> tuple[Array, Array]:
    """Rows and least values of rows @ mean, both ends of each lever's reach."""
    rows = [_slope_row(sign, levers, end) for sign in signs for end in reaches[sign.lever]]
    least = [sign.least_slope for sign in signs for _ in reaches[sign.lever]]
    return np.array(rows), np.array(least)


def _slope_row(sign: KnownSign, levers: Sequence[Lever], at_steps: float) -> Array:
    """The row that, times the means, is the slope in the direction of the sign."""
    within("least_slope", sign.least_slope, 0, math.inf, "1")
    row = np.zeros(1 + 2 * len(levers))
    row[1 + sign.lever] = sign.direction
    row[1 + len(levers) + sign.lever] = sign.direction * at_steps
    return row


def _nearest(mean: Array, covariance: Array, rows: Array, least: Array) -> Array:
    """The nearest mean, by its covariance, with rows @ mean >= least."""
    missing = least - rows @ mean
    if np.all(missing <= _KEPT):
        return mean
    root = np.linalg.cholesky(covariance)
    most = float(missing.max())
    # mean + root x with x the shortest for which rows root x >= missing; all divided by the most that is missing
    stacked = np.vstack(((rows @ root).T, missing / most))
    target = np.zeros(len(stacked))
    target[-1] = 1.0
    multipliers, _ = nnls(stacked, target)
    residual = target - stacked @ multipliers
    nearest: Array = mean - root @ residual[:-1] * (most / residual[-1])
    return nearest
