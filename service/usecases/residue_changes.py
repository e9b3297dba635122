"""Every single change of the spreader with what comes of it, in this wind and on this slope.

Inside: scoring a pattern on the field, the offset that is wanted, steps of throw and of blades, what
becomes of a setting after the headland turn, the wind from which on nothing helps. Outside: which change
is advised (`residue_spread`).

Everything is reckoned on the field: the way back is the mirror image of the machine, while wind, slope and
standing crop stay where they are. A fault of the machine therefore wants the same setting both ways, wind
and standing crop want it mirrored, and both together want another one on the way back (`residue_turn`).
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Final

from service.domain.spread_change import Side, mirrored
from service.domain.spread_pattern import SpreadPattern, centre_m, mass_between
from service.domain.types import Interval, Message
from service.usecases.residue_air import LIMIT_WINDS_M_S, Blades, Drift, Material, behind
from service.usecases.residue_trays import Trays, standing_share_pct
from service.usecases.residue_turn import blades_turn, offset_turn
from service.usecases.residue_types import Correction, Outlook, Turn, WindLimit, WindSide

COARSE_STEPS: Final = 10
THROW_STEPS_DOWN: Final = 5
THROW_STEPS_UP: Final = 10
LEAST_THROW: Final = 0.3


@dataclass(frozen=True, slots=True)
class Field:
    """Trays, materials and what the spreader can be set to."""

    trays: Trays
    materials: tuple[Material, ...]
    spacing_m: float
    offset_max_m: float

    @property
    def back_and_forth(self) -> bool:
        """Whether neighbouring passes are driven the other way."""
        return self.trays.question.driving == "back_and_forth"

    @property
    def wind_m_s(self) -> float:
        """The wind that was asked for."""
        return self.trays.question.crosswind_m_s


def outlook(field: Field, passes: Sequence[SpreadPattern]) -> Outlook:
    """Score the passes that follow each other, as they lie on the field."""
    figures, question = field.trays.figures, field.trays.question
    line = field.trays.on_the_line(passes, field.spacing_m).evenness
    trays = field.trays.at_the_trays(passes, field.spacing_m)
    both = (line,) if trays is None else (line, trays.evenness)
    ratios = [one.max_to_min for one in both if one.max_to_min is not None]
    standing, right = [], []
    for pattern in passes:
        mass = mass_between(pattern, -math.inf, math.inf)
        past_left = 100 * mass_between(pattern, -math.inf, -field.trays.half_m) / mass
        past_right = 100 * mass_between(pattern, field.trays.half_m, math.inf) / mass
        standing.append(standing_share_pct(question.standing_crop, past_left, past_right))
        right.append(100 * mass_between(pattern, 0.0, math.inf) / mass)
    past = [one for one in standing if one is not None]
    share = sum(past) / len(past) if past else None
    aside = sum(abs(one - 50) for one in right) / len(right)
    excess = max(0.0, aside - figures.side_good.value)
    if share is not None:
        excess += max(0.0, share - figures.standing_good.value)
    return Outlook(
        cv_pct=max(one.cv_pct for one in both),
        line_cv_pct=line.cv_pct,
        max_to_min=max(ratios) if len(ratios) == len(both) else None,
        standing_pct=share,
        right_pct=right[0],
        aside=excess,
        score=line.cv_pct + excess,
    )


def passes(field: Field, out: Blades, back: Blades, wind_m_s: float) -> tuple[SpreadPattern, ...]:
    """Return the pass and, where it is driven back and forth, the next one, as they lie on the field."""
    first = behind(field.materials, out, wind_m_s, coming_back=False)
    if not field.back_and_forth:
        return (first,)
    return first, behind(field.materials, back, wind_m_s, coming_back=True)


def correction(field: Field, code: str, out: Blades, back: Blades, base: Outlook | None) -> Correction:
    """Reckon one change; `base` is how it looks without."""
    laid = passes(field, out, back, field.wind_m_s)
    seen = outlook(field, laid)
    offset = field.trays.question.lateral_offset_m
    moves, turns = code == "lateral_offset", bool(out.step_deg)
    turn, turn_text = _after_turn(field, code, out, back)
    return Correction(
        code=code,
        change_m=out.offset_m if moves else None,
        offset_m=offset + out.offset_m if moves else None,
        step_deg=out.step_deg if turns else None,
        step_pct=100 * (out.throw - 1) if out.throw != 1 else None,
        return_offset_m=offset + back.offset_m if moves and field.back_and_forth else None,
        turn=turn,
        turn_text=turn_text,
        pattern=laid[0],
        return_pattern=mirrored(laid[1]) if field.back_and_forth else None,
        outlook=seen,
        gain=0.0 if base is None else base.score - seen.score,
    )


def _after_turn(field: Field, code: str, out: Blades, back: Blades) -> tuple[Turn, Message] | tuple[None, None]:
    if not field.back_and_forth or code == "as_it_is":
        return None, None
    question = field.trays.question
    if code == "lateral_offset":
        now = question.lateral_offset_m
        return offset_turn(question, now + out.offset_m, now + back.offset_m)
    return blades_turn(question, out.side, back.side)


def corrections(field: Field, base: Outlook, offset_changes_m: tuple[float, float]) -> tuple[Correction, ...]:
    """Return every single change, the most helpful first."""
    figures = field.trays.figures
    throw = figures.throw_step.value / 100
    out, back = offset_changes_m
    found = [correction(field, "lateral_offset", Blades(out), Blades(back), base)] if out or back else []
    for code, factor in (("throw_further", 1 + throw), ("throw_shorter", 1 - throw)):
        blades = Blades(throw=factor)
        found.append(correction(field, code, blades, blades, base))
    other: dict[Side, Side] = {"left": "right", "right": "left", "both": "both"}
    for side, opposite in other.items():
        for way, step in (("outward", figures.blade_step.value), ("inward", -figures.blade_step.value)):
            blades = Blades(step_deg=step, side=side)
            same = correction(field, f"{side}_{way}", blades, blades, base)
            turned = correction(field, same.code, blades, replace(blades, side=opposite), base)
            found.append(max(same, turned, key=lambda one: round(one.gain, 6)))
    return tuple(sorted(found, key=lambda one: -round(one.gain, 6)))


def throw_wanted_pct(field: Field, offset_changes_m: tuple[float, float]) -> float:
    """Least change of the distance of throw, in steps, that scores as well as any once the offset is set.

    Without the offset a wider throw would only smear what lies beside the cut; and of two throws that trays
    could not tell apart the one nearer to what is set now is wanted.
    """
    figures = field.trays.figures
    out, back = (Blades(change) for change in offset_changes_m)
    scores: dict[int, float] = {}
    for number in range(-THROW_STEPS_DOWN, THROW_STEPS_UP + 1):
        throw = 1 + number * figures.throw_step.value / 100
        if throw > LEAST_THROW:
            laid = passes(field, replace(out, throw=throw), replace(back, throw=throw), field.wind_m_s)
            scores[number] = outlook(field, laid).score
    bound = min(scores.values()) + figures.gain_least.value
    return min((number for number, score in scores.items() if score <= bound), key=abs) * figures.throw_step.value


def offsets(field: Field, wind_m_s: float) -> tuple[float, float]:
    """Change of offset on the way out and on the way back, each in its own direction of travel.

    The part that mends the machine is the same both ways, the part against wind, slope and standing crop
    is opposite.
    """
    own = own_offset(field)
    wanted = -mean_shift_m(field, wind_m_s)
    best = _least(lambda part: (round(_seen(field, own, part, wind_m_s).aside, 1), abs(part - wanted)), field)
    out, back = _within(field, own + best), _within(field, own - best)
    return out, back if field.back_and_forth else out


def own_offset(field: Field) -> float:
    """Change of offset that brings the still-air pattern under the middle of the cut."""
    step = field.trays.figures.offset_step.value
    return _within(field, -round(centre_m(field.trays.whole) / step) * step)


def _within(field: Field, change_m: float) -> float:
    """Keep the offset, counted from neutral, inside its range."""
    now, most = field.trays.question.lateral_offset_m, field.offset_max_m
    return min(max(now + change_m, -most), most) - now + 0.0


def _seen(field: Field, own: float, part: float, wind_m_s: float) -> Outlook:
    out, back = Blades(_within(field, own + part)), Blades(_within(field, own - part))
    return outlook(field, passes(field, out, back, wind_m_s))


def _least(rank: Callable[[float], tuple[float, float]], field: Field) -> float:
    """Part of the offset that ranks first: coarse over the range, then in the steps that can be set."""
    step = field.trays.figures.offset_step.value
    most = math.ceil((field.offset_max_m + abs(field.trays.question.lateral_offset_m)) / step)
    stride = max(1, math.ceil(most / COARSE_STEPS))
    coarse = min(range(-stride * COARSE_STEPS, stride * COARSE_STEPS + 1, stride), key=lambda n: rank(n * step))
    fine = min(range(coarse - stride, coarse + stride + 1), key=lambda n: rank(n * step))
    return fine * step


def wind_limits(field: Field) -> tuple[WindLimit, ...]:
    """Return from which crosswind on no offset within its range keeps the spread as even as it could be."""
    own, figures = own_offset(field), field.trays.figures
    calm = replace(field, materials=tuple(replace(one, slope_deg=0.0) for one in field.materials))
    bound = max(figures.cv_good.value, _seen(calm, own, 0.0, 0.0).score + figures.wind_tolerance.value)
    return _limit(field, own, "left", bound), _limit(field, own, "right", bound)


def _limit(field: Field, own: float, wind_from: WindSide, bound: float) -> WindLimit:
    """The limit where all drifts as far as it may, and where all drifts as little."""
    sign = 1.0 if wind_from == "left" else -1.0
    careful = _reached(_drifting(field, "most"), own, sign, bound)
    latest = _reached(_drifting(field, "least"), own, sign, bound)
    found = [one for one in (careful, latest) if one is not None]
    # a slope that the wind blows up may turn the two round
    return WindLimit(wind_from, min(found, default=None), max(found) if len(found) == 2 else None, LIMIT_WINDS_M_S[-1])


def _drifting(field: Field, drift: Drift) -> Field:
    return replace(field, materials=tuple(one.drifting(drift) for one in field.materials))


def _reached(field: Field, own: float, sign: float, bound: float) -> float | None:
    """First wind at which the best offset leaves it worse than the bound."""
    before = (0.0, -math.inf)
    for strength in LIMIT_WINDS_M_S:
        score = _seen(field, own, -mean_shift_m(field, sign * strength), sign * strength).score
        if score > bound:
            share = 0.0 if strength == 0 else (bound - before[1]) / (score - before[1])
            return before[0] + (strength - before[0]) * share
        before = strength, score
    return None


def mean_shift_m(field: Field, wind_m_s: float) -> float:
    """How far wind and slope move the centre of the whole."""
    blown = behind(field.materials, Blades(), wind_m_s, coming_back=False)
    return centre_m(blown) - centre_m(field.trays.whole)


def shift_of(material: Material, wind_m_s: float) -> Interval:
    """Mean drift of one material: between the fitted stream and lone pieces, with every end that is known."""
    value = material.mean_shift_m(wind_m_s)
    return _around(value, [one[wind_m_s] for one in material.ends_m] if wind_m_s or material.slope_deg else [])


def whole_shift(field: Field, wind_m_s: float) -> Interval:
    """The same of straw and chaff together, by their masses."""
    value = mean_shift_m(field, wind_m_s)
    masses = [mass_between(one.pattern, -math.inf, math.inf) for one in field.materials]
    parts = [shift_of(one, wind_m_s) for one in field.materials]
    ends = [
        sum(mass * end for mass, end in zip(masses, column, strict=True)) / sum(masses)
        for column in ([one.low for one in parts], [one.high for one in parts])
    ]
    return _around(value, ends)


def _around(value: float, ends: list[float]) -> Interval:
    return Interval(value, min(value, *ends) if ends else value, max(value, *ends) if ends else value)
