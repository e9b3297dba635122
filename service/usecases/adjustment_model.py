"""From the influence table to plain numbers: what is believed before anything is seen, what a sign means.

Inside: priors of every outcome for the levers of a machine, signs that are known, second signs as slopes. Outside: the
learning and the choice (`domain`), units and words.
"""

import math
from collections.abc import Sequence

from service.domain.advice_types import KnownSign, OutcomePrior, Policy, Position, SlopeSeen
from service.knowledge.influence import InfluenceTable
from service.knowledge.influence_schema import Effect, Outcome, Pull, TellTale

SPEED, TIME = "ground_speed", "time_per_area"
_EXACT = 1e-4  # what arithmetic says is not learnt
_SPARED_SD = 0.05  # a sign that clears a setting says so more surely than one that accuses it
_SIGN = {"up": -1.0, "down": 1.0, "spare": 0.0}  # slope of the outcome when moving this way helps


def policy(influence: InfluenceTable) -> Policy:
    """Return how to choose, with the table's least savings."""
    method = influence.file.method
    return Policy(
        least_saving=method.least_saving.value,
        least_first_saving=method.least_first_saving.value,
        no_limit=(TIME,),
    )


def outcome_priors(
    influence: InfluenceTable, levers: Sequence[str], machine_class: str, group: str, priority: str, speed_step: float
) -> tuple[OutcomePrior, ...]:
    """Return the prior of every outcome of the crop group, the levers in the order given.

    `speed_step` is one step of ground speed as a share of the ground speed at the table's start.
    """
    weights = influence.weights(priority)
    return tuple(
        _prior(influence, outcome, weights[outcome.id], levers, machine_class, group, speed_step)
        for outcome in influence.outcomes
        if not outcome.groups or group in outcome.groups
    )


def sign_slopes(
    influence: InfluenceTable,
    tell_tales: Sequence[TellTale],
    levers: Sequence[str],
    here: Position,
) -> tuple[SlopeSeen, ...]:
    """Return what second signs say about the answer of their outcomes to the levers here."""
    method, place = influence.file.method, {name: index for index, name in enumerate(levers)}
    found = []
    for tell in tell_tales:
        for pull in tell.pulls:
            if pull.setting in place:
                slope = _SIGN[pull.direction] * pull.share * method.tell_tale_slope.value
                spread = _SPARED_SD if pull.direction == "spare" else method.tell_tale_slope_sd.value
                found.append(SlopeSeen(tell.symptom, here, place[pull.setting], slope, spread))
    return tuple(found)


def known_signs(
    influence: InfluenceTable,
    outcomes: Sequence[str],
    levers: Sequence[str],
    machine_class: str,
    group: str,
    tell_tales: Sequence[TellTale],
) -> tuple[KnownSign, ...]:
    """Return the signs that the table knows; where a second sign clears a setting, its effect may be nothing."""
    share = influence.file.method.kept_share.value
    spared = {(tell.symptom, pull.setting) for tell in tell_tales for pull in tell.pulls if pull.direction == "spare"}
    found = []
    for outcome in outcomes:
        for place, lever in enumerate(levers):
            effect = influence.effect(lever, outcome, machine_class, group)
            if effect is not None and effect.sign != 0:
                least = 0.0 if (outcome, lever) in spared else share * abs(effect.slope)
                found.append(KnownSign(outcome, place, effect.sign, least))
    return tuple(found)


def pulls_of(tell_tales: Sequence[TellTale], setting: str) -> list[tuple[TellTale, Pull]]:
    """Return the second signs that speak of a setting."""
    return [(tell, pull) for tell in tell_tales for pull in tell.pulls if pull.setting == setting]


def _prior(
    influence: InfluenceTable,
    outcome: Outcome,
    weight: float,
    levers: Sequence[str],
    machine_class: str,
    group: str,
    speed_step: float,
) -> OutcomePrior:
    if outcome.id == TIME:
        cells = [_time_cell(lever, speed_step) for lever in levers]
    else:
        cells = [_cell(influence, influence.effect(lever, outcome.id, machine_class, group)) for lever in levers]
    slope, slope_sd, curvature, curvature_sd = (tuple(part) for part in zip(*cells, strict=True))
    return OutcomePrior(
        outcome.id, weight, math.log(outcome.usual), outcome.usual_log_sd, slope, slope_sd, curvature, curvature_sd
    )


def _cell(influence: InfluenceTable, effect: Effect | None) -> tuple[float, float, float, float]:
    if effect is None:
        none = influence.file.unrelated
        return 0.0, none.slope_sd, none.curvature, none.curvature_sd
    return effect.slope, effect.slope_sd, effect.curvature, effect.curvature_sd


def _time_cell(lever: str, speed_step: float) -> tuple[float, float, float, float]:
    """Time per area goes as one over speed: log y = -log(1 + s u), to second order in u."""
    if lever != SPEED:
        return 0.0, _EXACT, 0.0, _EXACT
    return -speed_step, _EXACT, speed_step**2, _EXACT
