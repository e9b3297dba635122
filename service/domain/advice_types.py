"""Value types of advice: what is believed, what was seen, what may be moved.

Inside: records alone. Outside: learning (`advice_model`), history (`advice_history`), the choice
(`advice`). Positions are in steps from the table's start, one number a lever, up positive.
"""

from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Position = tuple[float, ...]
Verdict = Literal["better", "same", "worse"]
Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class OutcomePrior:
    """What is believed of one outcome before anything is seen.

    Attributes
    ----------
    outcome : str
        Its name.
    weight : float
        Cost of one unit of its amount.
    log_level, log_level_sd : float
        Logarithm of the amount at the table's start, and its standard deviation.
    slope, slope_sd : tuple of float
        Change of the log amount for one step up of each lever, at the start.
    curvature, curvature_sd : tuple of float
        Change of the slope for one step up of each lever.
    """

    outcome: str
    weight: float
    log_level: float
    log_level_sd: float
    slope: Position
    slope_sd: Position
    curvature: Position
    curvature_sd: Position


@dataclass(frozen=True, slots=True)
class LevelSeen:
    """The log amount of an outcome seen at a position."""

    outcome: str
    position: Position
    log_amount: float
    log_sd: float


@dataclass(frozen=True, slots=True)
class SlopeSeen:
    """A second sign: how the log amount of an outcome answers one lever at a position."""

    outcome: str
    position: Position
    lever: int
    slope: float
    slope_sd: float


@dataclass(frozen=True, slots=True)
class ChangeSeen:
    """A change of the whole cost between two positions, as a log ratio."""

    before: Position
    after: Position
    log_ratio: float
    log_sd: float


@dataclass(frozen=True, slots=True)
class KnownSign:
    """A sign that is known: the log amount of an outcome goes this way by at least so much per step up.

    Attributes
    ----------
    outcome : str
        Its name.
    lever : int
        Place of the lever.
    direction : int
        1 if more of the lever is more of the outcome, -1 if it is less.
    least_slope : float
        Least size of the slope, >= 0.
    """

    outcome: str
    lever: int
    direction: Literal[-1, 1]
    least_slope: float


@dataclass(frozen=True, slots=True)
class Seen:
    """Everything that was seen."""

    levels: tuple[LevelSeen, ...] = ()
    slopes: tuple[SlopeSeen, ...] = ()
    changes: tuple[ChangeSeen, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Belief:
    """Independent normal beliefs, one per outcome, of level, slopes and curvatures, in this order.

    Attributes
    ----------
    outcomes : tuple of str
        Names.
    weights : ndarray, shape (outcomes,)
        Costs of one unit.
    mean : ndarray, shape (outcomes, 1 + 2 levers)
        Means.
    covariance : ndarray, shape (outcomes, 1 + 2 levers, 1 + 2 levers)
        Covariances.
    """

    outcomes: tuple[str, ...]
    weights: Array
    mean: Array
    covariance: Array


@dataclass(frozen=True, slots=True)
class Effect:
    """What a move does to one outcome: amount now, factor on it with its 80 % interval."""

    outcome: str
    amount_now: float
    factor: float
    factor_low: float
    factor_high: float
    cost_change: float  # of the weighted cost, as a share of the whole cost now


@dataclass(frozen=True, slots=True)
class Gain:
    """Expected fall of the weighted cost, as a share of the cost now, its standard deviation, and the fall itself."""

    mean: float
    sd: float
    saving: float


@dataclass(frozen=True, slots=True)
class Lever:
    """A setting that may move: where it stands, its envelope and the most steps in one change."""

    name: str
    at_steps: float
    low_steps: float
    high_steps: float
    max_steps: int


@dataclass(frozen=True, slots=True)
class Trial:
    """A change that was tried; `put_back`: the lever stands where it stood before; `connected`: it leads to now."""

    lever: str
    from_steps: float
    to_steps: float
    verdict: Verdict
    put_back: bool = False
    connected: bool = True


@dataclass(frozen=True, slots=True)
class Policy:
    """How to choose: share of the standard deviation taken off a gain, and the least that is worth an act."""

    caution: float = 0.1
    least_gain: float = 0.002  # of a change, as a share of the cost now
    least_undo_gain: float = 0.005  # of putting the last change back
    least_saving: float = 0.0  # of a change, as cost, where every amount is near its limit or below
    least_first_saving: float = 0.0  # the same where nothing was tried yet
    near_limit: float = 1.1  # amounts up to here are near their limit
    no_limit: tuple[str, ...] = ()  # outcomes that have none


@dataclass(frozen=True, slots=True)
class Move:
    """One change of one lever, and what it is expected to gain."""

    lever: str
    steps: float
    to_steps: float
    reason: Literal["gain", "undo", "outside_envelope"]
    score: float
    gain: Gain


@dataclass(frozen=True, slots=True)
class Choice:
    """The advice: the move to make, or none, and the others in order of merit, best of each lever.

    Attributes
    ----------
    best : Move, optional
        None when the settings are best left alone.
    others : tuple of Move
        Best move of each other lever, by falling score; also those not worth a change.
    exhausted : bool
        Whether no lever may move at all.
    """

    best: Move | None
    others: tuple[Move, ...] = field(default=())
    exhausted: bool = False
