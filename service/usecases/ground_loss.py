"""Ground-loss assessment: from frames on the ground to the loss of each place and what it costs.

Inside: the whole answer: percent, money, verdicts, pocket card, rules. Outside: reading the question
(`ground_loss_terms`), pooling frames (`ground_loss_frames`), loss by place (`ground_loss_places`), losses
that cannot be and what the method leaves open (`ground_loss_doubts`).
"""

from collections.abc import Iterator, Sequence
from typing import Final, Literal

from service.domain.kernel_counts import kernels_in_frame, mass_loss_kg_ha, rule_kernel_mass_g
from service.domain.losses import loss_for_share, loss_share_pct, loss_value
from service.domain.types import Interval, Message
from service.knowledge.table import KnowledgeTable
from service.usecases.ground_loss_doubts import doubts, refuse_impossible
from service.usecases.ground_loss_frames import read_frames
from service.usecases.ground_loss_places import Places, locate
from service.usecases.ground_loss_terms import Terms, fits, read_terms
from service.usecases.loss_types import (
    CardLine,
    FrameSet,
    GroundLoss,
    LossQuestion,
    Place,
    PlaceLoss,
    RuleCheck,
    Verdict,
)
from service.usecases.provenance import proof

CAUTIONS: Final = (
    "caution.loss_frames_machine_stopped",
    "caution.stop_before_reaching_in",
    "caution.bystanders_behind",
    "caution.machine_manual_first",
)


def assess(table: KnowledgeTable, question: LossQuestion) -> GroundLoss:
    """Answer a question for ground losses.

    Raises
    ------
    UnknownName
        If crop, machine class or revision is not known.
    NotCovered
        If the table cannot assess losses of this crop or class.
    Contradiction, InvalidInput, OutOfRange
        If statements exclude each other, something is missing, or a figure cannot be.
    """
    table.check_revision(question.revision)
    terms = read_terms(table, question)
    ground = read_frames(question.frames, terms.kernel_mass.limits.value)
    places = locate(ground, terms)
    refuse_impossible(question, terms, places)
    losses = _losses(places, terms)
    return GroundLoss(
        crop=terms.crop.id,
        crop_names=terms.crop.names,
        yield_t_ha=terms.yield_t_ha,
        bushel_lb=terms.bushel_lb,
        thousand_kernel_mass_g=terms.kernel_mass.limits,
        kernel_mass_origin=terms.kernel_mass.origin,
        kernel_mass_proof=terms.kernel_mass.proof,
        concentration_factor=terms.concentration,
        currency=question.currency,
        area_rate_ha_h=terms.area_rate_ha_h,
        losses=losses,
        not_measured=places.not_measured,
        frames=ground.summaries,
        verdicts=tuple(_verdicts(terms, losses, places)),
        dominant=places.dominant,
        dominant_sure=places.dominant_sure,
        card=tuple(_card(terms, question.frames)),
        rules=tuple(_rules(terms)),
        definition=Message("loss.definition"),
        warnings=tuple(doubts(question, terms, ground, places, losses)),
        cautions=tuple(Message(code) for code in CAUTIONS),
        revision=table.revision,
        digest=table.digest,
    )


def _losses(places: Places, terms: Terms) -> tuple[PlaceLoss, ...]:
    every = _known_total(places)
    return tuple(
        PlaceLoss(
            code=code,
            mass_kg_ha=mass,
            share_pct=_share(mass, terms.yield_t_ha * 1000, every - mass.value),
            money_per_ha=(per_ha := _money(mass, terms.price_per_t)),
            money_per_h=_money_per_h(per_ha, terms.area_rate_ha_h),
            below=mass.value == 0,
        )
        for code, mass in places.losses.items()
    )


def _known_total(places: Places) -> float:
    """Every loss that was measured, kg/ha: the total, or what there is of it."""
    known = places.losses
    if "total" in known:
        return known["total"].value
    machine = ("machine",) if "machine" in known else ("threshing", "separation", "cleaning")
    return sum(known[code].value for code in ("preharvest", "header", *machine) if code in known)


def _share(mass: Interval, harvested_kg_ha: float, other_kg_ha: float) -> Interval:
    """Percent of what grew; where this loss is at a limit, the total moves with it."""
    other = max(0.0, other_kg_ha)
    value, low, high = (loss_share_pct(end, harvested_kg_ha, other) for end in (mass.value, mass.low, mass.high))
    return Interval(value, low, high)


def _money(mass: Interval, price_per_t: float | None) -> Interval | None:
    if price_per_t is None:
        return None
    value, low, high = (loss_value(end / 1000, price_per_t) for end in (mass.value, mass.low, mass.high))
    return Interval(value, low, high)


def _money_per_h(per_ha: Interval | None, area_rate_ha_h: float | None) -> Interval | None:
    if per_ha is None or area_rate_ha_h is None:
        return None
    value, low, high = (end * area_rate_ha_h for end in (per_ha.value, per_ha.low, per_ha.high))
    return Interval(value, low, high)


def _verdicts(terms: Terms, losses: Sequence[PlaceLoss], places: Places) -> Iterator[Verdict]:
    by_code = {loss.code: loss for loss in losses}
    targets = terms.crop.targets
    mixed_up = any(warning.code == "loss.standing_above_cut" for warning in places.warnings)
    figures = {"header": targets.header_loss, "machine": targets.machine_loss, "total": targets.total_loss}
    for code, figure in figures.items():
        if code not in by_code:
            continue
        verdict = _verdict(by_code[code].share_pct, figure.value if figure.high is None else figure.high)
        if code == "header" and verdict == "above" and "preharvest" not in by_code:
            verdict = "uncertain"  # part of it may have lain there before the machine came
        if code == "header" and mixed_up:
            verdict = "uncertain"  # more lay in the standing crop than after the header: one count is off
        yield Verdict(code, figure.value, figure.high, verdict, proof(figure))


def _verdict(share_pct: Interval, upper_pct: float) -> Literal["within", "above", "uncertain"]:
    if share_pct.high <= upper_pct:
        return "within"
    return "above" if share_pct.low > upper_pct else "uncertain"


def _card(terms: Terms, frames: Sequence[FrameSet]) -> Iterator[CardLine]:
    """Kernels that one percent leaves in the frames used; on cut ground and under the discharge at least."""
    one_percent = loss_for_share(1.0, terms.yield_t_ha * 1000)
    every = {one.area_m2 for one in frames}
    used: dict[Place, set[float]] = {}
    for one in frames:
        used.setdefault(one.place, set()).add(one.area_m2)
    used.setdefault("cut_ahead", every)
    used.setdefault("discharge", every)
    for place, areas in used.items():
        here = one_percent * (terms.concentration if place == "discharge" else 1.0)
        for area_m2 in sorted(areas):
            kernels = kernels_in_frame(here, terms.kernel_mass.limits.value, area_m2)
            yield CardLine(place, area_m2, kernels, here / mass_loss_kg_ha(1.0, area_m2))


def _rules(terms: Terms) -> Iterator[RuleCheck]:
    for rule in terms.crop.kernel_rule:
        implied = rule_kernel_mass_g(rule.kernels, rule.area_m2, rule.loss_kg_ha)
        ratio = implied / terms.kernel_mass.limits.value
        yield RuleCheck(rule.text, implied, ratio, fits(ratio), proof(rule))
