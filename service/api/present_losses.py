"""A ground-loss assessment as an answer in the reader's units and language."""

from service.api.answers import Estimate
from service.api.answers_losses import (
    CardLineOut,
    Dominant,
    FramesOut,
    GroundLossAnswer,
    KernelMass,
    NotMeasuredOut,
    PlaceLossOut,
    RuleOut,
    VerdictOut,
)
from service.api.reader import Reader
from service.api.showing import Showing
from service.domain.types import Interval, Quantity
from service.domain.types import Message as Text
from service.units import bushels_per_acre, convert, served
from service.usecases.loss_types import CardLine, FrameSummary, GroundLoss, PlaceLoss, RuleCheck, Verdict

BUSHELS = "[bu_us]/[acr_us]"


def present_losses(answer: GroundLoss, reader: Reader) -> GroundLossAnswer:
    """Return the whole answer."""
    show = Showing(reader)
    rate = answer.area_rate_ha_h
    return GroundLossAnswer(
        knowledge=show.knowledge(),
        crop=show.named(answer.crop, answer.crop_names),
        crop_yield=show.crop_yield(answer.yield_t_ha, answer.bushel_lb),
        kernel_mass=_kernel_mass(show, answer),
        concentration_factor=served(answer.concentration_factor, "1"),
        area_rate=None if rate is None else show.amount(rate, "har/h"),
        losses=[_loss(show, loss, answer) for loss in answer.losses],
        not_measured=[
            NotMeasuredOut(code=one.code, name=show.text(f"loss.{one.code}"), why=show.note(one.why))
            for one in answer.not_measured
        ],
        frames=[_frames(show, one) for one in answer.frames],
        verdicts=[_verdict(show, one) for one in answer.verdicts],
        dominant=None
        if answer.dominant is None
        else Dominant(code=answer.dominant, name=show.text(f"loss.{answer.dominant}"), sure=answer.dominant_sure),
        card=[_card(show, line) for line in answer.card],
        rules=[_rule(show, rule) for rule in answer.rules],
        definition=show.note(answer.definition),
        warnings=show.notes(answer.warnings),
        cautions=show.notes(answer.cautions),
        sources=show.references(),
    )


def _interval(show: Showing, interval: Interval, unit: str) -> Estimate:
    return show.estimate(interval.value, interval.low, interval.high, unit)


def _kernel_mass(show: Showing, answer: GroundLoss) -> KernelMass:
    proof = answer.kernel_mass_proof
    return KernelMass(
        amount=_interval(show, answer.thousand_kernel_mass_g, "g"),
        origin=answer.kernel_mass_origin,
        evidence=None if proof is None else show.evidence_part(proof),
    )


def _loss(show: Showing, loss: PlaceLoss, answer: GroundLoss) -> PlaceLossOut:
    bushel = answer.bushel_lb
    # money is per area: an acre costs what its share of the hectare costs
    area = show.unit("har")
    per_area = 1 / convert(1, "har", area)
    return PlaceLossOut(
        code=loss.code,
        name=show.text(f"loss.{loss.code}"),
        mass=_interval(show, loss.mass_kg_ha, "kg/har"),
        bushels=None if bushel is None else _bushels(loss.mass_kg_ha, bushel),
        share=_interval(show, loss.share_pct, "%"),
        money_per_area=_money(loss.money_per_ha, answer.currency, area, per_area),
        money_per_hour=_money(loss.money_per_h, answer.currency, "h", 1),
        below=loss.below,
    )


def _bushels(mass: Interval, bushel_lb: float) -> Estimate:
    value, low, high = (served(bushels_per_acre(end, bushel_lb), BUSHELS) for end in (mass.value, mass.low, mass.high))
    return Estimate(value=value, low=low, high=high, unit=BUSHELS)


def _money(amount: Interval | None, currency: str, per: str, factor: float) -> Estimate | None:
    if amount is None:
        return None
    value, low, high = (round(end * factor, 2) + 0.0 for end in (amount.value, amount.low, amount.high))
    # UCUM has no currencies; an annotation in braces stands for a count
    return Estimate(value=value, low=low, high=high, unit=f"{{{currency or 'money'}}}/{per}")


def _frames(show: Showing, one: FrameSummary) -> FramesOut:
    return FramesOut(
        place=one.place,
        name=show.text(f"place.{one.place}"),
        catch=one.catch,
        surface=one.surface,
        frames=one.frames,
        area=show.amount(one.area_m2, "m2"),
        kernels=round(one.kernels, 1),
        density=_interval(show, one.density_m2, "{kernel}/m2"),
        model=one.model,
        dispersion=None if one.dispersion is None else round(one.dispersion, 3),
        k=None if one.k is None else round(one.k, 3),
        more_frames=one.more_frames,
    )


def _verdict(show: Showing, one: Verdict) -> VerdictOut:
    # a loss is judged by the high end of what is usual, so the text names that
    judged_by = Quantity(one.target_pct if one.upper_pct is None else one.upper_pct, "%")
    return VerdictOut(
        code=one.code,
        name=show.text(f"loss.{one.code}"),
        target=show.amount(one.target_pct, "%"),
        upper=None if one.upper_pct is None else show.amount(one.upper_pct, "%"),
        verdict=one.verdict,
        text=show.note(Text(f"verdict.{one.verdict}", {"loss": Text(f"loss.{one.code}"), "target": judged_by})).text,
        **show.evidence(one.proof),
    )


def _card(show: Showing, line: CardLine) -> CardLineOut:
    return CardLineOut(
        place=line.place,
        name=show.text(f"place.{line.place}"),
        area=show.amount(line.area_m2, "m2"),
        kernels=round(line.kernels, 1),
        mass=show.amount(line.mass_g, "g"),
    )


def _rule(show: Showing, rule: RuleCheck) -> RuleOut:
    return RuleOut(
        text=rule.text,
        implied_thousand_kernel_mass=show.amount(rule.implied_thousand_kernel_mass_g, "g"),
        ratio=served(rule.ratio, "1"),
        fits=rule.fits,
        **show.evidence(rule.proof),
    )
