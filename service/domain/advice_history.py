"""What was tried: where the levers stood, how it went, and how far each may still go.

Inside: walking back from the present settings, the verdict on a change, the range that failures and
reversals leave. Outside: learning amounts from it (`advice_model`), the choice (`advice`).
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from service.domain.advice_types import Lever, Position, Trial, Verdict
from service.domain.ranges import above
from service.errors import UnknownName

CLOSE_STEPS = 0.05  # two positions of a lever nearer than this are the same
WORSE_LOG, BETTER_LOG = 0.10, -0.05  # a rise counts sooner than it must, a fall only when plain


@dataclass(frozen=True, slots=True)
class Step:
    """Positions of all levers before and after a change, and whether it was put back.

    Attributes
    ----------
    before, after : tuple of float
        Steps from the start.
    put_back : bool
        Whether the lever stood where it had stood when the next thing happened.
    consistent : bool
        Whether the change leads to what came after it.
    """

    before: Position
    after: Position
    put_back: bool
    consistent: bool


@dataclass(frozen=True, slots=True)
class Room:
    """How far a lever may go, in steps from the start."""

    low_steps: float
    high_steps: float


def replay(levers: Sequence[Lever], changes: Sequence[tuple[str, float, float]]) -> tuple[Step, ...]:
    """Walk back from where the levers stand through the changes that were made.

    Parameters
    ----------
    levers : Sequence[Lever]
        Where they stand now.
    changes : Sequence[tuple[str, float, float]]
        Lever, position before and after, oldest first; steps from the start. [1]

    Returns
    -------
    tuple of Step
        One per change, oldest first.

    Raises
    ------
    UnknownName
        If a change names a lever that is not there.

    Notes
    -----
    A lever found where a change left it was kept there; found where the change began, it was put
    back; found elsewhere, something is missing, and the step is marked.

    References
    ----------
    None; bookkeeping.

    Examples
    --------
    >>> replay([Lever("drum", 1.0, -4, 4, 2)], [("drum", 0.0, 2.0), ("drum", 2.0, 1.0)])[0].before
    (0.0,)
    """
    place = {lever.name: index for index, lever in enumerate(levers)}
    now = [lever.at_steps for lever in levers]
    steps: list[Step] = []
    for name, start, end in reversed(changes):
        if name not in place:
            raise UnknownName("history", name, sorted(place))
        j = place[name]
        kept, back = abs(now[j] - end) <= CLOSE_STEPS, abs(now[j] - start) <= CLOSE_STEPS
        before, after = [*now], [*now]
        before[j], after[j] = start, end
        steps.append(Step(tuple(before), tuple(after), back and not kept, kept or back))
        now = before
    return tuple(reversed(steps))


def verdict(before: Mapping[str, float], after: Mapping[str, float], weights: Mapping[str, float]) -> Verdict:
    """Say whether a change made the weighted amounts better, worse or left them the same.

    Parameters
    ----------
    before, after : Mapping[str, float]
        Amount of each outcome, relative to what is tolerable, >= 0; those in both count. [1]
    weights : Mapping[str, float]
        Cost of one unit of each. [1]

    Returns
    -------
    str
        `worse` if the cost rose by more than a tenth, `better` if it fell by a twentieth, else `same`.

    Raises
    ------
    OutOfRange
        If nothing that counts is in both.

    Notes
    -----
    The limits are about one standard deviation of a difference between two measurements.

    References
    ----------
    Common practice; the limits are ours.

    Examples
    --------
    >>> verdict({"cracked": 1.0}, {"cracked": 0.8}, {"cracked": 1.0})
    'better'
    """
    both = [name for name in before if name in after]
    cost_before = sum(weights.get(name, 0.0) * before[name] for name in both)
    cost_after = sum(weights.get(name, 0.0) * after[name] for name in both)
    above("before", cost_before, 0, "1")
    if cost_after <= 0:
        return "better"
    ratio = math.log(cost_after / cost_before)
    return "worse" if ratio > WORSE_LOG else "better" if ratio < BETTER_LOG else "same"


def room(lever: Lever, trials: Sequence[Trial]) -> Room:
    """How far a lever may go after what was tried.

    Parameters
    ----------
    lever : Lever
        Where it stands and its envelope.
    trials : Sequence[Trial]
        All changes tried, oldest first; those of other levers are ignored.

    Returns
    -------
    Room
        Ends, inside the envelope. Where the lever stands may lie outside.

    Notes
    -----
    Beyond the place where a change that failed began, its direction is closed; that of a change put
    back for another reason is closed one step before where it went. Once a lever was reversed, the
    direction it came from is closed where it stands now, so that nothing moves back and forth.

    References
    ----------
    One change at a time and no repeating of what failed; common practice.

    Examples
    --------
    >>> room(Lever("drum", 0.0, -4, 4, 2), [Trial("drum", 0.0, 1.0, "worse", put_back=True)])
    Room(low_steps=-4, high_steps=0.0)
    """
    low, high = lever.low_steps, lever.high_steps
    last, reversed_once = 0.0, False
    for trial in trials:
        if trial.lever != lever.name or trial.to_steps == trial.from_steps:
            continue
        direction = math.copysign(1.0, trial.to_steps - trial.from_steps)
        if trial.verdict == "worse":
            low, high = (low, min(high, trial.from_steps)) if direction > 0 else (max(low, trial.from_steps), high)
        elif trial.put_back:
            short = max(abs(trial.to_steps - trial.from_steps) - 1, 0.0)
            end = trial.from_steps + direction * short
            low, high = (low, min(high, end)) if direction > 0 else (max(low, end), high)
        if not trial.put_back:
            reversed_once = reversed_once or direction == -last
            last = direction
    if reversed_once:
        low, high = (max(low, lever.at_steps), high) if last > 0 else (low, min(high, lever.at_steps))
    return Room(low, high)
