"""The next adjustment: one change of one lever, chosen by expected gain less a share of its doubt.

Inside: which moves there are, and the choice among them. Outside: what a move does
(`advice_model`), what was tried (`advice_history`), words.

Stated optimisation: over every lever and every whole number of steps up to its most in one change,
inside its room, maximise E[gain] - caution x sd[gain], gain = fall of sum_o w_o y_o as a share of
it; advise the best if its expected gain reaches the least worth a change and, where nothing is above
its limit, the fall itself does, else nothing.
"""

import math
from collections.abc import Mapping, Sequence

from service.domain.advice_history import CLOSE_STEPS, Room, room
from service.domain.advice_model import effects, gains
from service.domain.advice_types import Belief, Choice, Gain, Lever, Move, Policy, Position, Trial

_SMALLEST = 0.5  # a shorter way to the end of the room is not worth a change


def choose(
    belief: Belief, levers: Sequence[Lever], trials: Sequence[Trial], policy: Policy, *, calm: bool = False
) -> Choice:
    """Choose the next change.

    Parameters
    ----------
    belief : Belief
        What is believed, with the levers in the same order.
    levers : Sequence[Lever]
        Where they stand and their envelopes, at least one.
    trials : Sequence[Trial]
        What was tried, oldest first.
    policy : Policy
        Caution and the least that is worth a change.
    calm : bool
        Whether everything lies near its limit or below; then a saving must be worth it by itself.

    Returns
    -------
    Choice
        The move, or none; the others in order of merit.

    Raises
    ------
    OutOfRange
        If a lever stands more than 40 steps from the start.

    Notes
    -----
    Before any gain: a last change that still stands is undone if it made it worse, or if putting it
    back is now expected to gain; a lever outside
    its envelope is brought to the nearer end, unless the way there is closed. Ties go to the lever
    that comes first and to the smaller step.

    References
    ----------
    One change at a time, small, in the same field, checked; common practice.

    Examples
    --------
    >>> from service.domain.advice_model import believe
    >>> from service.domain.advice_types import OutcomePrior
    >>> prior = OutcomePrior("cracked", 1.0, 0.5, 0.1, (0.2,), (0.01,), (0.0,), (0.01,))
    >>> choice = choose(believe([prior], 100.0), [Lever("drum", 0.0, -4, 4, 2)], [], Policy())
    >>> choice.best.steps
    -2.0
    """
    rooms = [room(lever, trials) for lever in levers]
    here = tuple(lever.at_steps for lever in levers)
    ways = [(j, steps, "gain") for j, lever in enumerate(levers) for steps in _steps(lever, rooms[j])]
    forced = _undo(belief, levers, trials, policy, calm=calm) or _inwards(levers, rooms)
    if forced is not None:
        ways = [forced, *(way for way in ways if way[0] != forced[0])]
    if not ways:
        return Choice(None, exhausted=True)
    there = [(*here[:j], _rounded(here[j] + steps), *here[j + 1 :]) for j, steps, _ in ways]
    moves = [
        _move(levers[j], steps, reason, found, policy)
        for (j, steps, reason), found in zip(ways, gains(belief, here, there), strict=True)
    ]
    ranked = _best_of_each(moves[1:] if forced else moves)
    if forced is not None:
        return Choice(moves[0], ranked)
    if not worth(ranked[0].gain, policy, calm=calm, first=not trials):
        return Choice(None, ranked)
    return Choice(ranked[0], ranked[1:])


def is_calm(belief: Belief, here: Position, told: Mapping[str, float], policy: Policy) -> bool:
    """Whether everything that has a limit lies near it or below.

    Parameters
    ----------
    belief : Belief
        What is believed.
    here : tuple of float
        Where the levers stand, steps from the start. [1]
    told : Mapping[str, float]
        Amounts as they were told or measured, relative to what is tolerable; the others are those believed. [1]
    policy : Policy
        What counts as near, and which outcomes have no limit.

    Returns
    -------
    bool
        True if so; outcomes without weight do not count.

    Raises
    ------
    OutOfRange
        If a lever stands more than 40 steps from the start.

    References
    ----------
    Definition; what is near is ours.

    Examples
    --------
    >>> from service.domain.advice_model import believe
    >>> from service.domain.advice_types import OutcomePrior
    >>> prior = OutcomePrior("cracked", 1.0, 0.5, 0.1, (0.2,), (0.01,), (0.0,), (0.01,))
    >>> belief = believe([prior], 100.0)
    >>> is_calm(belief, (0.0,), {}, Policy()), is_calm(belief, (-4.0,), {}, Policy())
    (False, True)
    >>> is_calm(belief, (0.0,), {"cracked": 1.0}, Policy())
    True
    """
    found = zip(effects(belief, here, here), belief.weights, strict=True)
    return all(
        told.get(effect.outcome, effect.amount_now) <= policy.near_limit
        for effect, weight in found
        if weight > 0 and effect.outcome not in policy.no_limit
    )


def worth(gain: Gain, policy: Policy, *, calm: bool, first: bool) -> bool:
    """Whether a gain is worth a change.

    Parameters
    ----------
    gain : Gain
        Expected gain.
    policy : Policy
        Least gain and least saving.
    calm : bool
        Whether nothing is wrong; then the saving itself must be worth it as well.
    first : bool
        Whether nothing was tried yet; it takes more to begin than to go on.

    Returns
    -------
    bool
        True if so.

    References
    ----------
    A machine inside its limits is left alone; common practice.

    Examples
    --------
    >>> worth(Gain(0.05, 0.1, 0.1), Policy(least_saving=0.2), calm=True, first=False)
    False
    """
    least = policy.least_first_saving if first else policy.least_saving
    return gain.mean >= policy.least_gain and (not calm or gain.saving >= least)


def _steps(lever: Lever, free: Room) -> list[float]:
    """Moves inside the room, smaller first; the way to its end where a whole step does not fit."""
    found: list[float] = []
    for direction, space in ((-1.0, lever.at_steps - free.low_steps), (1.0, free.high_steps - lever.at_steps)):
        if not free.low_steps - CLOSE_STEPS <= lever.at_steps <= free.high_steps + CLOSE_STEPS:
            continue  # outside its room it may only come back, and that is not a matter of gain
        whole = [float(n) for n in range(1, lever.max_steps + 1) if n <= space + 1e-9]
        found += [direction * n for n in whole]
        if not whole and space >= _SMALLEST:
            found.append(direction * space)
    return sorted(found, key=lambda steps: (abs(steps), steps))


def _undo(
    belief: Belief, levers: Sequence[Lever], trials: Sequence[Trial], policy: Policy, *, calm: bool
) -> tuple[int, float, str] | None:
    """Put back the last change if it still stands and failed, or is now believed to have."""
    last = trials[-1] if trials else None
    place = next((j for j, lever in enumerate(levers) if last and lever.name == last.lever), None)
    if last is None or place is None or last.put_back or last.verdict == "better":
        return None
    lever, here = levers[place], tuple(lever.at_steps for lever in levers)
    inside = lever.low_steps - 1e-9 <= last.from_steps <= lever.high_steps + 1e-9
    if not inside or abs(lever.at_steps - last.to_steps) > CLOSE_STEPS:
        return None
    back = (*here[:place], last.from_steps, *here[place + 1 :])
    if last.verdict != "worse":
        found = gains(belief, here, [back])[0]
        if found.mean < policy.least_undo_gain or not worth(found, policy, calm=calm, first=False):
            return None
    return place, last.from_steps - lever.at_steps, "undo"


def _inwards(levers: Sequence[Lever], rooms: Sequence[Room]) -> tuple[int, float, str] | None:
    """Bring the lever that lies farthest outside its envelope to the nearer end."""
    ways: list[tuple[int, float, str]] = []
    for j, (lever, free) in enumerate(zip(levers, rooms, strict=True)):
        end = min(max(lever.at_steps, lever.low_steps), lever.high_steps)
        if abs(end - lever.at_steps) > CLOSE_STEPS and free.low_steps - 1e-9 <= end <= free.high_steps + 1e-9:
            ways.append((j, end - lever.at_steps, "outside_envelope"))
    return max(ways, key=lambda way: (abs(way[1]), -way[0]), default=None)


def _move(lever: Lever, steps: float, reason: str, found: Gain, policy: Policy) -> Move:
    kind = {"undo": "undo", "outside_envelope": "outside_envelope"}.get(reason, "gain")
    score = found.mean - policy.caution * found.sd
    return Move(lever.name, steps, _rounded(lever.at_steps + steps), kind, score, found)  # type: ignore[arg-type]


def _best_of_each(moves: Sequence[Move]) -> tuple[Move, ...]:
    best: dict[str, Move] = {}
    for move in moves:
        if move.lever not in best or move.score > best[move.lever].score:
            best[move.lever] = move
    return tuple(sorted(best.values(), key=lambda move: -move.score))


def _rounded(steps: float) -> float:
    return 0.0 if math.isclose(steps, 0.0, abs_tol=1e-12) else round(steps, 9)
