"""A judged spread as an answer in the reader's units and language."""

import math

from service.api.answers import Amount, Estimate
from service.api.answers_residue import (
    EvennessOut,
    MaterialOut,
    OutlookOut,
    ResidueFlightOut,
    ResidueSpreadAnswer,
    SpreadAirOut,
    SpreadCorrectionOut,
    SpreadPlaceOut,
    SpreadVerdictOut,
    SwathOverlapOut,
    WindLimitOut,
)
from service.api.reader import Reader
from service.api.showing import Showing
from service.domain.spread_evenness import Uniformity
from service.domain.types import Interval, Message, Quantity
from service.usecases.residue_trays import relative
from service.usecases.residue_turn import place_of
from service.usecases.residue_types import (
    Air,
    Correction,
    Described,
    Flight,
    Outlook,
    OverlapAt,
    Spread,
    Verdict,
    WindLimit,
)

STEPS_PER_CUT = 36
FINEST_M = 0.25
WIDEST_CUTS = 1.5
KM_H = 3.6


def present_spread(answer: Spread, reader: Reader) -> ResidueSpreadAnswer:
    """Return the whole answer."""
    show, question = Showing(reader), answer.question
    places = places_of(answer)
    return ResidueSpreadAnswer(
        knowledge=show.knowledge(),
        crop=show.named(answer.crop, answer.crop_names),
        decision=show.note(answer.decision),
        driving=question.driving,
        cut_width=show.amount(question.cut_width_m, "m"),
        spacing=show.amount(answer.spacing_m, "m"),
        materials=[_material(show, one, question.cut_width_m) for one in answer.materials],
        verdicts=[_verdict(show, one) for one in answer.verdicts],
        overlaps=[_overlap(show, one) for one in answer.overlaps],
        air=_air(show, answer.air),
        now=_outlook(show, answer.as_it_is.outlook),
        best=answer.best,
        corrections=[_correction(show, answer, one, places) for one in answer.corrections],
        throw_wanted=show.amount(answer.throw_wanted_pct, "%"),
        offset_range=show.amount(answer.offset_max_m, "m"),
        places=_places(show, answer, places),
        warnings=show.notes(answer.warnings),
        cautions=show.notes(answer.cautions),
        evidence=[show.evidence_part(one) for one in answer.proofs],
        sources=show.references(),
    )


def places_of(answer: Spread) -> tuple[float, ...]:
    """Return places across the travel, even steps to both sides, wide enough for every pattern that matters."""
    cut = answer.question.cut_width_m
    step = max(FINEST_M, cut / STEPS_PER_CUT)
    patterns = [answer.measured, answer.as_it_is.pattern]
    patterns += [one.pattern for one in answer.corrections if one.code == answer.best]
    reach = max(abs(end) for one in patterns for end in (one.positions_m[0], one.positions_m[-1]))
    count = math.ceil(min(max(reach, cut / 2), WIDEST_CUTS * cut) / step)
    return tuple(number * step for number in range(-count, count + 1))


def _evenness(show: Showing, one: Uniformity) -> EvennessOut:
    return EvennessOut(
        variation=show.amount(one.cv_pct, "%"),
        christiansen=show.amount(one.christiansen_pct, "%"),
        max_to_min=None if one.max_to_min is None else show.amount(one.max_to_min, "1"),
        deviation_index=show.amount(one.deviation_index, "1"),
    )


def _optional(show: Showing, value: float | None, unit: str) -> Amount | None:
    return None if value is None else show.amount(value, unit)


def _material(show: Showing, one: Described, cut_width_m: float) -> MaterialOut:
    return MaterialOut(
        code=one.code,
        name=show.text(f"material.{one.code}"),
        share=show.amount(one.share_pct, "%"),
        evenness=_evenness(show, one.evenness),
        left=show.amount(one.left_pct, "%"),
        right=show.amount(one.right_pct, "%"),
        centre=show.amount(one.centre_m, "m"),
        width=show.amount(one.width_m, "m"),
        width_share=show.amount(100 * one.width_m / cut_width_m, "%"),
        coverage=show.amount(one.coverage_pct, "%"),
        past_left=show.amount(one.past_left_pct, "%"),
        past_right=show.amount(one.past_right_pct, "%"),
        standing_crop=_optional(show, one.standing_pct, "%"),
        gap_left=show.amount(one.gap_left_m, "m"),
        gap_right=show.amount(one.gap_right_m, "m"),
        layer=_optional(show, one.layer_t_ha, "t/har"),
    )


def _verdict(show: Showing, one: Verdict) -> SpreadVerdictOut:
    # a ratio without a value stands for a place that got nothing
    code = f"verdict.residue.{one.code}.{'none' if one.value is None else one.level}"
    facts = {"limit": Quantity(one.limit, one.unit)}
    if one.value is not None:
        facts["value"] = Quantity(round(one.value, 1 if one.unit == "%" else 2), one.unit)
    return SpreadVerdictOut(
        code=one.code,
        level=one.level,
        text=show.note(Message(code, facts)).text,
        value=_optional(show, one.value, one.unit),
        good=show.amount(one.limit, one.unit),
        evidence=show.evidence_part(one.proof),
    )


def _overlap(show: Showing, one: OverlapAt) -> SwathOverlapOut:
    return SwathOverlapOut(
        code=one.driving,
        name=show.text(f"driving.{one.driving}"),
        spacing=show.amount(one.spacing_m, "m"),
        evenness=_evenness(show, one.overlap.evenness),
        at_trays=one.at_trays,
        variation_between=show.amount(one.line_cv_pct, "%"),
        level=one.level,
    )


def _outlook(show: Showing, one: Outlook) -> OutlookOut:
    return OutlookOut(
        variation=show.amount(one.cv_pct, "%"),
        variation_between=show.amount(one.line_cv_pct, "%"),
        standing_crop=_optional(show, one.standing_pct, "%"),
        right=show.amount(one.right_pct, "%"),
        score=show.amount(one.score, "%"),
    )


def correction_text(one: Correction) -> Message:
    """Return what to do for one change."""
    if one.change_m is not None and one.offset_m is not None:
        facts: dict[str, object] = {"change": Quantity(abs(one.change_m), "m"), "place": place_of(one.offset_m)}
        side = "left" if one.change_m < 0 else "right"
        if one.change_m:
            return Message(f"correction.offset_{side}", facts)
        return Message("correction.offset_return", {**facts, "back": place_of(one.return_offset_m or 0.0)})
    if one.step_pct is not None:
        return Message(f"correction.{one.code}", {"step": Quantity(abs(one.step_pct), "%")})
    return Message(f"correction.{one.code}", {"step": Quantity(abs(one.step_deg or 0.0), "deg")})


def _correction(show: Showing, answer: Spread, one: Correction, places: tuple[float, ...]) -> SpreadCorrectionOut:
    step = None
    if one.step_pct is not None:
        step = show.amount(one.step_pct, "%")
    elif one.step_deg is not None:
        step = show.amount(one.step_deg, "deg")
    return SpreadCorrectionOut(
        code=one.code,
        text=show.note(correction_text(one)).text,
        change=_optional(show, one.change_m, "m"),
        offset=_optional(show, one.offset_m, "m"),
        step=step,
        gain=show.amount(one.gain, "%"),
        outlook=_outlook(show, one.outlook),
        after_turn=one.turn,
        after_turn_text=None if one.turn_text is None else show.note(one.turn_text).text,
        return_offset=_optional(show, one.return_offset_m, "m"),
        pattern=_rounded(relative(one.pattern, answer.even_layer_g, places)),
        return_pattern=None
        if one.return_pattern is None
        else _rounded(relative(one.return_pattern, answer.even_layer_g, places)),
    )


def _rounded(layers: tuple[float, ...]) -> list[float]:
    return [round(one, 3) + 0.0 for one in layers]


def _places(show: Showing, answer: Spread, places: tuple[float, ...]) -> list[SpreadPlaceOut]:
    measured = relative(answer.measured, answer.even_layer_g, places)
    now = relative(answer.as_it_is.pattern, answer.even_layer_g, places)
    return [
        SpreadPlaceOut(position=show.amount(place, "m"), measured=show.amount(one, "1"), now=show.amount(other, "1"))
        for place, one, other in zip(places, measured, now, strict=True)
    ]


def _air(show: Showing, air: Air) -> SpreadAirOut:
    return SpreadAirOut(
        crosswind=show.amount(air.crosswind_m_s * KM_H, "km/h"),
        slope_across=show.amount(air.slope_across_deg, "deg"),
        shift=_estimate(show, air.shift_m, "m"),
        throw_more=air.throw_more,
        offset_change=show.amount(air.offset_wanted_m, "m"),
        limits=[_limit(show, one) for one in air.limits],
        flights=[_flight(show, one) for one in air.flights],
    )


def _limit(show: Showing, one: WindLimit) -> WindLimitOut:
    low, high = (None if end is None else end * KM_H for end in (one.careful_m_s, one.latest_m_s))
    return WindLimitOut(
        wind_from=one.wind_from,
        wind=None if low is None else show.estimate(low, low, high, "km/h"),
        looked_up_to=show.amount(one.looked_up_to_m_s * KM_H, "km/h"),
    )


def _flight(show: Showing, one: Flight) -> ResidueFlightOut:
    found = one.calibrated
    return ResidueFlightOut(
        code=one.code,
        name=show.text(f"material.{one.code}"),
        lone_fall_speed=show.amount(one.lone_fall_speed_m_s, "m/s"),
        fall_speed=show.amount(found.stream.fall_speed_m_s, "m/s"),
        discharge_speed=show.amount(found.stream.discharge_speed_m_s, "m/s"),
        told_discharge_speed=_optional(show, one.told_m_s, "m/s"),
        lone_reach=show.amount(found.lone_reach_m, "m"),
        reach=show.amount(found.reach_m, "m"),
        adapted=found.adapted,
        shift=_estimate(show, one.shift_m, "m"),
        evidence=show.evidence_part(one.proof),
    )


def _estimate(show: Showing, interval: Interval, unit: str) -> Estimate:
    return show.estimate(interval.value, interval.low, interval.high, unit)
