"""Feedback records as answers in the reader's units and language."""

from collections.abc import Mapping, Sequence

from service.api import answers_feedback as out
from service.api.answers import Named
from service.api.reader import Reader
from service.api.showing import Showing
from service.store.feedback import Kept
from service.store.tables import Feedback
from service.usecases.feedback_types import LossFound, Receipt


def present_receipt(receipt: Receipt, reader: Reader) -> out.FeedbackAccepted:
    """Return the answer to a report."""
    show = Showing(reader)
    losses = receipt.entry.losses
    return out.FeedbackAccepted(
        knowledge=show.knowledge(),
        say=show.note(receipt.say),
        id=str(receipt.id),
        contributor=receipt.contributor,
        received_at=receipt.received_at,
        season=receipt.season,
        session=receipt.session,
        machine_loss=_loss(show, losses.machine),
        header_loss=_loss(show, losses.header),
        notes=show.notes(receipt.notes),
    )


def present_page(kept: Sequence[Kept], following: str | None, reader: Reader) -> out.FeedbackPage:
    """Return a page of records."""
    show = Showing(reader)
    return out.FeedbackPage(knowledge=show.knowledge(), items=[_record(show, one) for one in kept], next=following)


def present_record(kept: Kept, reader: Reader) -> out.FeedbackAnswer:
    """Return one record."""
    show = Showing(reader)
    return out.FeedbackAnswer(knowledge=show.knowledge(), feedback=_record(show, kept))


def _record(show: Showing, kept: Kept) -> out.FeedbackRecord:
    row, table = kept.row, show.reader.table
    return out.FeedbackRecord(
        id=str(row.id),
        contributor=kept.pseudonym,
        received_at=row.received_at,
        observed_at=row.observed_at,
        season=row.season,
        machine=row.machine,
        field=row.field,
        session=row.session_key,
        # a crop may have left the table since; its id then stands for its name
        crop=show.named(row.crop, table.crops[row.crop].names) if row.crop in table.crops else _unnamed(row.crop),
        machine_class=show.named(row.machine_class, table.machine_class(row.machine_class).names),
        conditions=_conditions(show, row),
        settings=_settings(show, row.settings),
        suggested=None if row.suggested is None else _settings(show, row.suggested),
        suggested_from=row.suggested_from,
        advice=row.advice,
        advice_revision=row.advice_revision,
        trial_arm=row.trial_arm,
        trial_randomised=row.trial_randomised,
        outcomes=_outcomes(show, row),
        place=_place(row),
        knowledge_revision=row.knowledge_revision,
    )


def _unnamed(ident: str) -> Named:
    return Named(id=ident, name=ident)


def _conditions(show: Showing, row: Feedback) -> out.ConditionsRecorded:
    crop = show.reader.table.crops.get(row.crop)
    bushel = crop.physical.bushel_mass if crop is not None else None
    return out.ConditionsRecorded(
        grain_moisture=show.amount(row.grain_moisture_pct, "%"),
        moisture_band=row.moisture_band,
        crop_yield=show.crop_yield(row.yield_t_ha, bushel.value if bushel is not None else None),
        straw_condition=row.straw_condition,
        straw_to_grain=show.amount(row.straw_to_grain, "1"),
        stand=row.stand,
        slope_along=show.amount(row.slope_along_deg, "deg"),
        slope_across=show.amount(row.slope_across_deg, "deg"),
        use=row.use_for,
        priority=row.priority,
    )


def _settings(show: Showing, settings: Mapping[str, float]) -> list[out.SettingRecorded]:
    vocabulary = show.reader.table.vocabulary
    return [
        out.SettingRecorded(id=ident, name=show.name(entry.names), amount=show.amount(settings[ident], entry.unit))
        for ident, entry in vocabulary.items()
        if ident in settings
    ]


def _outcomes(show: Showing, row: Feedback) -> out.OutcomesRecorded:
    machine = (row.machine_loss_kg_ha, row.machine_loss_pct, row.machine_loss_low_pct, row.machine_loss_high_pct)
    header = (row.header_loss_kg_ha, row.header_loss_pct, row.header_loss_low_pct, row.header_loss_high_pct)
    return out.OutcomesRecorded(
        machine_loss=_loss(show, _found(*machine)),
        header_loss=_loss(show, _found(*header)),
        loss_method=row.loss_method,
        broken=None if row.broken_pct is None else show.amount(row.broken_pct, "%"),
        foreign_matter=None if row.foreign_matter_pct is None else show.amount(row.foreign_matter_pct, "%"),
        returns_level=row.returns_level,
        grain_throughput=None if row.grain_throughput_t_h is None else show.amount(row.grain_throughput_t_h, "t/h"),
        rating=row.rating,
        note=row.note,
    )


def _found(
    kg_ha: float | None, share_pct: float | None, low_pct: float | None, high_pct: float | None
) -> LossFound | None:
    return None if kg_ha is None or share_pct is None else LossFound(kg_ha, share_pct, low_pct, high_pct)


def _loss(show: Showing, found: LossFound | None) -> out.LossRecorded | None:
    if found is None:
        return None
    return out.LossRecorded(
        mass=show.amount(found.kg_ha, "kg/har"),
        share=show.estimate(found.share_pct, found.low_pct, found.high_pct, "%"),
    )


def _place(row: Feedback) -> out.CoarsePlaceOut | None:
    if row.latitude_deg is None or row.longitude_deg is None:
        return None
    return out.CoarsePlaceOut(latitude_deg=row.latitude_deg, longitude_deg=row.longitude_deg)
