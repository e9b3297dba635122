"""An amount of residue as an answer in the reader's units and language."""

from service.api.answers import Estimate
from service.api.answers_residue import ResidueAmountAnswer, ResidueLineOut, ResidueMassOut
from service.api.reader import Reader
from service.api.showing import Showing
from service.domain.types import Interval
from service.usecases.residue_types import Amount, LineResult, Mass


def present_amount(answer: Amount, reader: Reader) -> ResidueAmountAnswer:
    """Return the whole answer."""
    show = Showing(reader)
    return ResidueAmountAnswer(
        knowledge=show.knowledge(),
        crop=show.named(answer.crop, answer.crop_names),
        summary=show.note(answer.summary),
        grain=show.amount(answer.grain_dry_t_ha, "t/har"),
        grain_moisture=show.amount(answer.grain_moisture_pct, "%"),
        moisture_origin=answer.moisture_origin,
        by_yield=[_line(show, one) for one in answer.lines],
        above_ground=_mass(show, answer.above_ground),
        straw=_mass(show, answer.straw),
        chaff=_mass(show, answer.chaff),
        through_machine=_mass(show, answer.through_machine),
        stubble=_mass(show, answer.stubble),
        chaff_share=show.amount(answer.chaff_share_pct, "%"),
        strip_load=None if answer.strip_load is None else _mass(show, answer.strip_load),
        strip_factor=None if answer.strip_factor is None else show.amount(answer.strip_factor, "1"),
        cover=None if answer.cover_pct is None else _estimate(show, answer.cover_pct, "%"),
        cover_evidence=None if answer.cover_proof is None else show.evidence_part(answer.cover_proof),
        warnings=show.notes(answer.warnings),
        cautions=show.notes(answer.cautions),
        evidence=[show.evidence_part(one) for one in answer.ratio_proofs],
        sources=show.references(),
    )


def _line(show: Showing, one: LineResult) -> ResidueLineOut:
    return ResidueLineOut(
        kind=one.kind, above_ground=_mass(show, one.above_ground), evidence=show.evidence_part(one.proof)
    )


def _mass(show: Showing, one: Mass) -> ResidueMassOut:
    as_is = None if one.as_is_t_ha is None else _estimate(show, one.as_is_t_ha, "t/har")
    return ResidueMassOut(dry=_estimate(show, one.dry_t_ha, "t/har"), as_is=as_is)


def _estimate(show: Showing, interval: Interval, unit: str) -> Estimate:
    if interval.low == interval.high:
        return show.estimate(interval.value, None, None, unit)
    return show.estimate(interval.value, interval.low, interval.high, unit)
