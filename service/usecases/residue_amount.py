"""How much straw and chaff there is, by yield and by ratios, through the machine, and what it covers."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from service.domain.residue_amount import (
    dry_matter_t,
    ground_cover_pct,
    mass_as_is_t,
    residue_by_ratio,
    residue_by_yield_t_ha,
    strip_load_t_ha,
)
from service.domain.types import Interval, Message, Quantity
from service.errors import InvalidInput, KnowledgeFault, OutOfRange
from service.knowledge.residue import cover_of, lines_of, why_no_line
from service.knowledge.schema import CropFile, Figure
from service.knowledge.schema_residue import ResidueFile, YieldLine
from service.knowledge.table import KnowledgeTable
from service.usecases.conditions import yield_of
from service.usecases.provenance import ends_proof, proof
from service.usecases.residue_types import Amount, AmountQuestion, LineResult, Mass
from service.usecases.settings_types import Proof

_SAME = 0.1  # of the figure: nobody knows residue more closely
CAUTIONS = ("caution.fire_dry_straw", "caution.machine_manual_first")


@dataclass(frozen=True, slots=True)
class _Ratios:
    """Straw, chaff and intake with their ends, and how they are known."""

    straw: Interval
    chaff: Interval
    intake_pct: Interval
    proofs: tuple[Proof, ...]


def reckon_residue(table: KnowledgeTable, question: AmountQuestion) -> Amount:
    """Answer how much residue a yield leaves.

    Raises
    ------
    UnknownName
        If crop or revision is not known.
    Contradiction, InvalidInput, OutOfRange
        If yield or widths exclude each other or miss something.
    """
    table.check_revision(question.revision)
    crop, residue = table.crop(question.crop), table.residue
    if residue is None:
        raise KnowledgeFault(["residue.toml: the file is missing"])
    moisture = question.grain_moisture_pct
    at_moisture = _as_traded(crop, question) if moisture is None else moisture
    grain = dry_matter_t(yield_of(crop, question.yield_t_ha, question.yield_bu_ac), at_moisture)
    ratios = _ratios(question, crop)
    parts = {name: _part(name, grain, ratios) for name in ("straw", "chaff", "above", "through", "stubble")}
    masses = {name: _mass(part, question.residue_moisture_pct) for name, part in parts.items()}
    lines = tuple(_line(line, grain, question.residue_moisture_pct) for line in lines_of(residue, crop))
    strip = _strip(question, parts["through"])
    cover = cover_of(residue, crop)
    return Amount(
        crop=crop.id,
        crop_names=crop.names,
        grain_dry_t_ha=grain,
        grain_moisture_pct=at_moisture,
        moisture_origin="table" if moisture is None else "request",
        summary=_summary(parts, () if _little(residue, crop, grain) else lines),
        lines=lines,
        straw=masses["straw"],
        chaff=masses["chaff"],
        above_ground=masses["above"],
        through_machine=masses["through"],
        stubble=masses["stubble"],
        chaff_share_pct=100 * parts["chaff"].value / parts["through"].value if parts["through"].value else 0.0,
        strip_load=None if strip is None else _mass(strip[0], question.residue_moisture_pct),
        strip_factor=None if strip is None else strip[1],
        cover_pct=None if cover is None else _each(parts["through"], lambda t: _cover(t, cover.cover_per_mass)),
        cover_proof=None if cover is None else proof(cover.cover_per_mass),
        ratio_proofs=ratios.proofs,
        warnings=(*_taken(question, at_moisture), *_warnings(residue, crop, grain, lines, parts["above"])),
        cautions=tuple(Message(code) for code in CAUTIONS),
        revision=table.revision,
        digest=table.digest,
    )


def _line(line: YieldLine, grain_t_ha: float, moisture_pct: float | None) -> LineResult:
    dry = residue_by_yield_t_ha(grain_t_ha, line.residue_slope.value, line.residue_intercept.value)
    return LineResult(line.kind, _mass(_exact(dry), moisture_pct), proof(line.residue_slope))


def _ratios(question: AmountQuestion, crop: CropFile) -> _Ratios:
    physical = crop.physical
    asked = (
        (question.straw_to_grain, physical.straw_to_grain),
        (question.chaff_to_grain, physical.chaff_to_grain),
        (question.straw_intake_share_pct, physical.straw_intake_share),
    )
    proofs = [part for given, figure in asked if given is None for part in (proof(figure), ends_proof(figure))]
    straw, chaff, intake = (_ends(figure) if given is None else _exact(given) for given, figure in asked)
    return _Ratios(straw, chaff, intake, tuple(dict.fromkeys(proofs)))


def _ends(figure: Figure) -> Interval:
    low, high = figure.low, figure.high
    return Interval(figure.value, figure.value if low is None else low, figure.value if high is None else high)


def _exact(value: float) -> Interval:
    return Interval(value, value, value)


def _part(name: str, grain_t_ha: float, ratios: _Ratios) -> Interval:
    """One part with its ends: each ratio at the end that makes it least or most."""

    def at(straw: float, chaff: float, intake_pct: float) -> float:
        parts = residue_by_ratio(grain_t_ha, straw, chaff, intake_pct)
        return {
            "straw": parts.straw_t_ha,
            "chaff": parts.chaff_t_ha,
            "above": parts.total_t_ha,
            "through": parts.through_machine_t_ha,
            "stubble": parts.stubble_t_ha,
        }[name]

    intake = ratios.intake_pct
    # more intake leaves less stubble
    ends = (intake.high, intake.low) if name == "stubble" else (intake.low, intake.high)
    return Interval(
        at(ratios.straw.value, ratios.chaff.value, intake.value),
        at(ratios.straw.low, ratios.chaff.low, ends[0]),
        at(ratios.straw.high, ratios.chaff.high, ends[1]),
    )


def _each(part: Interval, function: Callable[[float], float]) -> Interval:
    return Interval(function(part.value), function(part.low), function(part.high))


def _mass(dry: Interval, moisture_pct: float | None) -> Mass:
    return Mass(dry, None if moisture_pct is None else _each(dry, lambda t: mass_as_is_t(t, moisture_pct)))


def _cover(dry_t_ha: float, cover: Figure) -> float:
    return ground_cover_pct(dry_t_ha, cover.value)


def _strip(question: AmountQuestion, through: Interval) -> tuple[Interval, float] | None:
    cut, laid = question.cut_width_m, question.laid_width_m
    if cut is None and laid is None:
        return None
    if cut is None or laid is None:
        raise InvalidInput("cut_width_m" if cut is None else "laid_width_m", reason="reason.both_widths")
    if laid > cut:
        raise OutOfRange("laid_width_m", laid, None, cut, "m")
    return _each(through, lambda t: strip_load_t_ha(t, cut, laid)), cut / laid


def _as_traded(crop: CropFile, question: AmountQuestion) -> float:
    """Moisture of a yield that nobody told: a bushel is that of the United States, a tonne that of the first market."""
    market = "us" if question.yield_bu_ac is not None else None
    sold = [one.value for one in crop.trade_moisture if market in (None, one.market)]
    return sold[0] if sold else crop.physical.reference_moisture.value


def _taken(question: AmountQuestion, moisture_pct: float) -> Iterator[Message]:
    if question.grain_moisture_pct is None:
        yield Message("warning.residue_amount.moisture_taken", {"moisture": Quantity(moisture_pct, "%")})


def _summary(parts: dict[str, Interval], lines: tuple[LineResult, ...]) -> Message:
    facts: dict[str, object] = {name: _rounded(parts[name].value) for name in ("above", "through", "stubble")}
    above = parts["above"].value
    if all(abs(line.above_ground.dry_t_ha.value - above) <= _SAME * above for line in lines):
        return Message("decision.residue_amount", facts)
    found = sorted({line.above_ground.dry_t_ha.value for line in lines})
    told = tuple(_rounded(one) for one in ((found[0], found[-1]) if len(found) > 1 else found))
    return Message("decision.residue_amount_lines", facts | {"lines": told if len(told) > 1 else told[0]})


def _rounded(mass_t_ha: float) -> Quantity:
    # a tenth of a tonne says nothing about a crop that yields less than that
    return Quantity(round(mass_t_ha, 1 if mass_t_ha >= 1 else 2), "t/har")


def _little(residue: ResidueFile, crop: CropFile, grain_t_ha: float) -> bool:
    """Whether more than half of what a line says is its constant."""
    return any(one.residue_slope.value * grain_t_ha < one.residue_intercept.value for one in lines_of(residue, crop))


def _warnings(
    residue: ResidueFile, crop: CropFile, grain_t_ha: float, lines: tuple[LineResult, ...], above: Interval
) -> tuple[Message, ...]:
    told = [Message("warning.residue_amount.dry_matter")]
    if not lines:
        told.append(Message("warning.residue_amount.no_line", {"why": why_no_line(residue, crop)}))
    elif _little(residue, crop, grain_t_ha):
        told.append(Message("warning.residue_amount.little"))
    elif any(not above.low <= line.above_ground.dry_t_ha.value <= above.high for line in lines):
        told.append(Message("warning.residue_amount.disagree"))
    if cover_of(residue, crop) is None:
        told.append(Message("warning.residue_amount.no_cover", {"crop": crop.names}))
    else:
        told.append(Message("warning.residue_amount.cover_even"))
    return tuple(told)
