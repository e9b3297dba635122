"""Which setting is worth a paired test: change it, measure again the same day, send both.

Inside: value of a test for every setting of a cell, and what share of the evidence pairs are. Outside:
what is believed (`refinement_fit`).
"""

import math
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr

from service.domain.ranges import INF, within
from service.domain.refinement_choice import Room, rows, ways
from service.domain.refinement_fit import Fit
from service.domain.refinement_pooling import Normals
from service.domain.refinement_types import Array


@dataclass(frozen=True, slots=True)
class PairedTest:
    """A change of one setting that can be tried, coded, and what knowing its effect is worth.

    `gain` is the expected share of the cost that it saves, `gain_sd` its standard deviation now and
    `gain_sd_after` after the pairs; `value` the expected saving by choosing with that knowledge.
    """

    setting: str
    before: float
    after: float
    value: float
    gain: float
    gain_sd: float
    gain_sd_after: float


def value_of_trying(gain: float, gain_sd: float, gain_sd_after: float) -> float:
    """What it is worth to know more of a gain before choosing.

    Parameters
    ----------
    gain : float
        Expected gain of the change; below 0 it would be left. [1]
    gain_sd : float
        Its standard deviation now, >= 0. [1]
    gain_sd_after : float
        Its standard deviation after the test, 0 <= x <= gain_sd. [1]

    Returns
    -------
    float
        Expected rise of the better of changing and leaving, >= 0. [1]

    Raises
    ------
    OutOfRange
        If a number lies outside its range.

    Notes
    -----
    The mean after the test is normal about the mean now with variance s^2 = sd^2 - sd_after^2; so the
    value is s (pdf(z) + z cdf(z)), z = -|gain| / s.

    References
    ----------
    Frazier, P., Powell, W., Dayanik, S. (2009). The knowledge-gradient policy for correlated normal
    beliefs. INFORMS Journal on Computing 21, 599-613.

    Examples
    --------
    >>> round(value_of_trying(0.0, 1.0, 0.0), 6)
    0.398942
    """
    within("gain", gain, -INF, INF, "1")
    within("gain_sd", gain_sd, 0, INF, "1")
    within("gain_sd_after", gain_sd_after, 0, gain_sd, "1")
    told = math.sqrt(gain_sd**2 - gain_sd_after**2)
    if told == 0:
        return 0.0
    z = -abs(gain) / told
    return max(0.0, told * (math.exp(-z * z / 2) / math.sqrt(2 * math.pi) + z * float(ndtr(z))))


def paired_tests(fit: Fit, belief: Normals, room: Room, largest_move: float, pairs: int) -> list[PairedTest]:
    """Best test of each setting in a cell, the most valuable first.

    Parameters
    ----------
    fit : Fit
        For layout, prices and scatter.
    belief : Normals
        Of the cell, or of all cells.
    room : Room
        Where the settings stand and may go.
    largest_move : float
        Farthest change, coded, > 0. [1]
    pairs : int
        Number of pairs that are asked for, >= 1.

    Returns
    -------
    list of PairedTest
        One for each setting that can move, by falling value.

    Raises
    ------
    OutOfRange
        If the number of pairs lies outside its range.

    Notes
    -----
    A pair tells the change a of the log amount with variance 2 v, v that of one reading; after n pairs its
    variance is 1 / (1 / a' S a + n / 2 v). Gains of the outcomes add with their shares of the cost.

    References
    ----------
    As `value_of_trying`.

    Examples
    --------
    >>> from service.domain.refinement_example import invented_fit
    >>> fit, one = invented_fit(), np.array([0.0])
    >>> room = Room(one, one - 1, one + 1, one + 0.05)
    >>> paired_tests(fit, fit.belief.shared, room, 0.25, 3)[0].setting
    'drum'
    """
    within("pairs", pairs, 1, INF, "1")
    best: list[PairedTest] = []
    for j, setting in enumerate(fit.setup.layout.settings):
        there = [step for step in ways(room, j, largest_move).tolist() if step != room.now[j]]
        tests = [_test(fit, belief, room, j, step, pairs, setting) for step in there]
        if tests:
            best.append(max(tests, key=lambda test: (test.value, -abs(test.after - test.before))))
    return sorted(best, key=lambda test: -test.value)


def same_day_share(fit: Fit) -> Array:
    """Share of the evidence on each setting that comes from changes within one day.

    Parameters
    ----------
    fit : Fit
        What was learnt.

    Returns
    -------
    ndarray, shape (cells, settings)
        0 to 1; 0 where there is no evidence. [1]

    Notes
    -----
    Information on the slope within days over that of all, weighted as in the fit. That between days is
    counted whole here, though part of it goes to the operators' choices.

    References
    ----------
    Definition.

    Examples
    --------
    >>> from service.domain.refinement_example import invented_fit
    >>> same_day_share(invented_fit()).round(2).tolist()
    [[0.86], [0.86]]
    """
    eq, slopes = fit.setup.equations, fit.setup.layout.slopes
    weight = fit.standing.trust[eq.contributor, eq.cell] / fit.setup.noise_variance[eq.outcome]
    shape = (len(eq.cells), len(fit.setup.layout.settings))
    inside, whole = np.zeros(shape), np.zeros(shape)
    np.add.at(inside, eq.cell, weight[:, None] * np.diagonal(eq.within, axis1=1, axis2=2)[:, slopes])
    np.add.at(whole, eq.cell, weight[:, None] * np.diagonal(eq.information, axis1=1, axis2=2)[:, slopes])
    share = np.divide(inside, whole, out=np.zeros(shape), where=whole > 0)
    found: Array = np.clip(share, 0.0, 1.0)
    return found


def _test(fit: Fit, belief: Normals, room: Room, j: int, step: float, pairs: int, setting: str) -> PairedTest:
    there = room.now.copy()
    there[j] = step
    row = rows(np.array([room.now, there]))
    upto = row.shape[1]
    mean, covariance = belief.mean[:, :upto], belief.covariance[:, :upto, :upto]
    cost = np.array([outcome.price for outcome in fit.outcomes]) * np.exp(mean @ row[0])
    change = row[1] - row[0]
    moved = cost / cost.sum() * np.exp(mean @ change)
    spread = np.einsum("i,oij,j->o", change, covariance, change)
    after = 1 / (1 / spread + pairs / (2 * fit.setup.noise_variance))
    gain, now, then = 1 - moved.sum(), math.sqrt((moved**2 * spread).sum()), math.sqrt((moved**2 * after).sum())
    value = value_of_trying(float(gain), now, min(then, now))
    return PairedTest(setting, float(room.now[j]), step, value, float(gain), now, then)
