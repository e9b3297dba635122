"""Losses of a feedback record: told by value, or found in frames on the ground."""

from collections.abc import Mapping

from service.domain.losses import loss_for_share, loss_share_pct
from service.errors import Contradiction, InvalidInput
from service.knowledge.schema import CropFile
from service.knowledge.table import KnowledgeTable
from service.units import mass_kg_ha
from service.usecases.feedback_types import FeedbackQuestion, Losses, LossFound, LossMethod
from service.usecases.ground_loss import assess
from service.usecases.loss_types import LossQuestion

_PLACES = ("machine", "header")


def losses_of(table: KnowledgeTable, crop: CropFile, question: FeedbackQuestion, yield_t_ha: float) -> Losses:
    """Return the losses of a record, empty where none were told.

    Raises
    ------
    Contradiction
        If losses stand there by value and as frames.
    InvalidInput
        If a width is missing, or losses exceed the yield.
    UnknownName, NotCovered, OutOfRange
        If the frames say what cannot be.
    """
    if question.frames:
        for name in ("loss_method", *question.losses):
            if name in question.losses or question.loss_method is not None:
                raise Contradiction(["frames", name], "reason.both_given", first="frames", second=name)
        return _found(table, question, yield_t_ha)
    for name in ("discharge_width_m", "discharge_width_error_pct", "spreading"):
        if getattr(question, name) is not None:
            raise InvalidInput(name, reason="reason.needs_frames")
    if not question.losses:
        if question.loss_method is not None:
            raise InvalidInput("loss_method", reason="reason.needs_loss")
        return Losses()
    return _told(crop, question.losses, yield_t_ha * 1000, question.loss_method)


def _found(table: KnowledgeTable, question: FeedbackQuestion, yield_t_ha: float) -> Losses:
    known = question.conditions
    for name, value, twin in (
        ("cut_width_m", known.cut_width_m, "cut_width_ft"),
        ("discharge_width_m", question.discharge_width_m, "discharge_width_ft"),
    ):
        if value is None:
            raise InvalidInput(name, reason="reason.one_of", fields=[name, twin])
    given = {"discharge_width_error_pct": question.discharge_width_error_pct, "spreading": question.spreading}
    more = {name: value for name, value in given.items() if value is not None}
    answer = assess(
        table,
        LossQuestion(
            crop=known.crop,
            frames=question.frames,
            cut_width_m=known.cut_width_m or 0.0,
            discharge_width_m=question.discharge_width_m or 0.0,
            yield_t_ha=yield_t_ha,
            machine_class=known.machine_class,
            thousand_kernel_mass_g=known.thousand_kernel_mass_g,
            **more,  # type: ignore[arg-type]
        ),
    )
    found = {
        loss.code: LossFound(loss.mass_kg_ha.value, loss.share_pct.value, loss.share_pct.low, loss.share_pct.high)
        for loss in answer.losses
        if loss.code in _PLACES
    }
    if not found:
        raise InvalidInput("frames", reason="reason.frames_without_loss")
    pans = all(one.surface == "pan" or one.catch != "all" for one in question.frames if one.place == "discharge")
    behind = any(one.place == "discharge" for one in question.frames)
    method: LossMethod = "pans" if behind and pans else "frames"
    return Losses(found.get("machine"), found.get("header"), method, answer.warnings)


def _told(crop: CropFile, losses: Mapping[str, float], harvested_kg_ha: float, method: LossMethod | None) -> Losses:
    """Percent are shares of all that grew: the yield, the losses in kg, and each other."""
    shares = {name: value for name, value in losses.items() if name.endswith("_pct")}
    if sum(shares.values()) >= 100:
        raise InvalidInput(next(iter(shares)), reason="reason.loss_above_yield")
    masses = {name: _mass(crop, name, value) for name, value in losses.items() if name not in shares}
    if shares:
        every = loss_for_share(sum(shares.values()), harvested_kg_ha + sum(masses.values()))
        whole = sum(shares.values())
        masses |= {name: every * share / whole if whole else 0.0 for name, share in shares.items()}
    if sum(masses.values()) > harvested_kg_ha:
        raise InvalidInput(max(masses, key=masses.__getitem__), reason="reason.loss_above_yield")
    total = sum(masses.values())
    found = {
        name.partition("_")[0]: LossFound(mass, shares.get(name, loss_share_pct(mass, harvested_kg_ha, total - mass)))
        for name, mass in masses.items()
    }
    return Losses(found.get("machine"), found.get("header"), method)


def _mass(crop: CropFile, name: str, value: float) -> float:
    if not name.endswith("_bu_ac"):
        return value
    if crop.physical.bushel_mass is None:
        raise InvalidInput(name, reason="reason.loss_no_bushel", crop=crop.names)
    return mass_kg_ha(value, crop.physical.bushel_mass.value)
