"""How straw and chaff lie behind the machine, what to change about it, and what wind and slope do.

Inside: putting the parts together, verdicts. Outside: trays (`residue_trays`), wind (`residue_air`), changes
(`residue_changes`), which one is advised (`residue_decision`), warnings (`residue_words`).
"""

from typing import Final, Literal

from service.domain.spread_overlap import Driving, passes_of
from service.errors import KnowledgeFault, OutOfRange
from service.knowledge.schema import Figure
from service.knowledge.table import KnowledgeTable
from service.usecases.conditions import SLOPE_LIMIT_DEG
from service.usecases.provenance import proof
from service.usecases.residue_air import Blades, Material, materials_of
from service.usecases.residue_changes import (
    Field,
    correction,
    corrections,
    offsets,
    own_offset,
    shift_of,
    throw_wanted_pct,
    whole_shift,
    wind_limits,
)
from service.usecases.residue_decision import best_of, decision
from service.usecases.residue_trays import Trays, described, trays_of
from service.usecases.residue_types import (
    Air,
    Correction,
    Described,
    Flight,
    Level,
    OverlapAt,
    Spread,
    SpreadQuestion,
    Verdict,
)
from service.usecases.residue_words import cautions, warnings
from service.usecases.settings_types import Proof

DRIVINGS: Final[tuple[Driving, ...]] = ("back_and_forth", "round_and_round")


def judge_spread(table: KnowledgeTable, question: SpreadQuestion) -> Spread:
    """Answer how even the residue lies, and which one change makes it better.

    Raises
    ------
    UnknownName
        If crop or revision is not known.
    Contradiction, InvalidInput, OutOfRange
        If trays, masses, offset or spacing exclude each other or miss something.
    """
    table.check_revision(question.revision)
    _refuse_steep(question.slope_across_deg)
    crop, residue = table.crop(question.crop), table.residue
    if residue is None:
        raise KnowledgeFault(["residue.toml: the file is missing"])
    figures = residue.figures
    trays = trays_of(question, crop, figures)
    spacings = question.swath_spacings_m or (question.cut_width_m,)
    field = Field(trays, materials_of(trays), spacings[0], _offset_max(trays))
    base = correction(field, "as_it_is", Blades(), Blades(), None)
    changes = offsets(field, field.wind_m_s)
    found = corrections(field, base.outlook, changes)
    overlaps = tuple(_overlap(trays, driving, spacing) for spacing in spacings for driving in DRIVINGS)
    materials = _described(trays)
    air = _air(field, changes)
    best = best_of(field, base, found)
    return Spread(
        crop=crop.id,
        crop_names=crop.names,
        question=question,
        spacing_m=spacings[0],
        even_layer_g=trays.even_layer,
        decision=decision(field, base, best, air),
        materials=materials,
        overlaps=overlaps,
        verdicts=_verdicts(field, base, materials[0]),
        air=air,
        measured=trays.whole,
        as_it_is=base,
        corrections=found,
        best=None if best is None else best.code,
        throw_wanted_pct=throw_wanted_pct(field, changes),
        offset_max_m=field.offset_max_m,
        warnings=warnings(field, materials, air, found),
        cautions=cautions(question),
        proofs=_proofs(field),
        revision=table.revision,
        digest=table.digest,
    )


def _refuse_steep(slope_deg: float) -> None:
    if abs(slope_deg) > SLOPE_LIMIT_DEG:
        raise OutOfRange("slope_across_deg", slope_deg, -SLOPE_LIMIT_DEG, SLOPE_LIMIT_DEG, "deg", "reason.slope")


def _described(trays: Trays) -> tuple[Described, ...]:
    found = (described(trays, code) for code in ("residue", *trays.materials))
    return tuple(one for one in found if one is not None)


def _offset_max(trays: Trays) -> float:
    question = trays.question
    most = question.lateral_offset_max_m
    if most is None:
        most = question.cut_width_m * trays.figures.offset_range.value / 100
    if abs(question.lateral_offset_m) > most:
        raise OutOfRange("lateral_offset_m", question.lateral_offset_m, -most, most, "m")
    return most


def _overlap(trays: Trays, driving: Driving, spacing_m: float) -> OverlapAt:
    laid = passes_of(trays.whole, driving)
    line, found = trays.on_the_line(laid, spacing_m), trays.at_the_trays(laid, spacing_m)
    line_cv = line.evenness.cv_pct
    most = line_cv if found is None else max(line_cv, found.evenness.cv_pct)
    return OverlapAt(driving, spacing_m, found or line, found is not None, line_cv, _level(trays, most))


def _level(trays: Trays, cv_pct: float) -> Level:
    return _banded(cv_pct, trays.figures.cv_good, trays.figures.cv_watch)


def _banded(value: float, good: Figure, watch: Figure) -> Level:
    return "good" if value <= good.value else "watch" if value <= watch.value else "poor"


def _verdicts(field: Field, base: Correction, whole: Described) -> tuple[Verdict, ...]:
    """Judge the pattern as it lies now, in this wind, against each band."""
    figures, seen = field.trays.figures, base.outlook
    ratio, index = seen.max_to_min, whole.evenness.deviation_index
    aside = abs(seen.right_pct - 50)
    ratio_level: Level = "poor" if ratio is None else _banded(ratio, figures.ratio_no_till, figures.ratio_worst)
    found = [
        _verdict("evenness", _level(field.trays, seen.cv_pct), seen.cv_pct, figures.cv_good),
        _verdict("no_till_ratio", ratio_level, ratio, figures.ratio_no_till),
        _verdict(
            "distribution",
            _banded(index, figures.index_attainable, figures.index_flail),
            index,
            figures.index_attainable,
        ),
        _verdict(
            "coverage",
            "good" if whole.coverage_pct >= figures.coverage_least.value else "poor",
            whole.coverage_pct,
            figures.coverage_least,
        ),
        _verdict("balance", _banded(aside, figures.side_good, figures.side_watch), aside, figures.side_good),
    ]
    if seen.standing_pct is not None:
        level = _banded(seen.standing_pct, figures.standing_good, figures.standing_watch)
        found.append(_verdict("standing_crop", level, seen.standing_pct, figures.standing_good))
    return tuple(found)


def _verdict(code: str, level: Level, value: float | None, limit: Figure) -> Verdict:
    return Verdict(code, level, value, limit.unit, limit.value, proof(limit))


def _air(field: Field, changes: tuple[float, float]) -> Air:
    question = field.trays.question
    wind = field.wind_m_s
    wanted = changes[0] - own_offset(field)
    more: Literal["left", "right", "neither"] = "neither" if wanted == 0 else "left" if wanted < 0 else "right"
    return Air(
        crosswind_m_s=wind,
        slope_across_deg=question.slope_across_deg,
        flights=tuple(_flight(field, one) for one in field.materials),
        shift_m=whole_shift(field, wind),
        throw_more=more,
        offset_wanted_m=wanted + 0.0,
        limits=wind_limits(field),
    )


def _flight(field: Field, one: Material) -> Flight:
    return Flight(one.code, one.lone.value, one.found, shift_of(one, field.wind_m_s), one.told_m_s, proof(one.lone))


def _proofs(field: Field) -> tuple[Proof, ...]:
    """How the figures behind the answer are known, apart from those that stand beside their value."""
    figures, question = field.trays.figures, field.trays.question
    used = [figures.stream_gain, figures.reach_share, figures.widest_angle, figures.blade_step, figures.throw_step]
    used += [figures.offset_step, figures.edge_layer, figures.cv_watch, figures.gain_least, figures.wind_tolerance]
    used += [figures.standing_watch, figures.side_watch, figures.ratio_worst, figures.index_flail]
    used += [figures.discharge_speed if question.discharge_speed_m_s is None else figures.told_speed_share]
    used += [figures.discharge_height] if question.discharge_height_m is None else []
    used += [figures.offset_range] if question.lateral_offset_max_m is None else []
    used += [figures.wind_height_share, figures.still_wind, figures.fullest_least]
    return tuple(proof(one) for one in used)
