"""Starting settings as an answer in the reader's units and language."""

from typing import Any

from service.api.answers import Amount, Named
from service.api.answers_settings import (
    AirWindowOut,
    Contribution,
    ExpectedLoss,
    FirstStepOut,
    LocalNumberOut,
    MachineFigure,
    OutputFigure,
    SameSetting,
    SameStep,
    Setting,
    SieveDesigns,
    SpeedLimit,
    SpeedLimits,
    StartingSettingsAnswer,
)
from service.api.reader import Reader
from service.api.showing import Showing
from service.usecases.settings_types import (
    AirWindow,
    Equivalent,
    FirstStep,
    GroundSpeed,
    LocalMark,
    LossBand,
    SettingAnswer,
    StartingSettings,
)


def present_settings(answer: StartingSettings, reader: Reader) -> StartingSettingsAnswer:
    """Return the whole answer."""
    show = Showing(reader)
    return StartingSettingsAnswer(
        knowledge=show.knowledge(),
        crop=show.named(answer.crop, answer.crop_names),
        machine_class=show.named(answer.machine_class, answer.machine_names),
        size_band=show.named(answer.size_band, reader.table.band(answer.size_band).names),
        moisture_band=answer.moisture_band,
        coverage=answer.coverage,
        crop_yield=show.crop_yield(answer.yield_t_ha, answer.bushel_lb),
        settings=[_setting(show, setting) for setting in answer.settings],
        ground_speed=_limits(show, answer.ground_speed),
        first_step=_first_step(show, answer.first_step),
        output=[
            OutputFigure(
                code=one.code,
                name=show.text(f"output.{one.code}"),
                amount=show.estimate(one.value.value, one.low, one.high, one.value.unit),
                **show.evidence(one.proof),
            )
            for one in answer.output
        ],
        expected_loss=_expected_loss(show, answer.expected_loss),
        air=_air(show, answer.air),
        sieve_designs=SieveDesigns(
            upper=_sieve(show, answer.upper_sieve_design), lower=_sieve(show, answer.lower_sieve_design)
        ),
        machine=_machine(show, answer),
        checklist=show.notes(answer.checklist),
        cautions=show.notes(answer.cautions),
        warnings=show.notes(answer.warnings),
        sources=show.references(),
        local=show.local(),
        notes=show.notes(answer.notes),
    )


def _setting(show: Showing, setting: SettingAnswer) -> Setting:
    """One setting. Contributions are rounded so that they add up exactly as printed."""
    entry = show.reader.table.vocabulary[setting.id]
    parts, total = show.parts([part.value for part in setting.parts], setting.unit)
    low, high = show.number(setting.low, setting.unit), show.number(setting.high, setting.unit)
    bound = "low" if total < low else "high" if total > high else "none"
    unit = show.unit(setting.unit)
    return Setting(
        id=setting.id,
        name=show.name(entry.names),
        meaning=show.name(entry.meaning),
        start=Amount(value=min(max(total, low), high), unit=unit),
        low=Amount(value=low, unit=unit),
        high=Amount(value=high, unit=unit),
        sum=Amount(value=total, unit=unit),
        range_evidence=show.evidence_part(setting.ends),
        bound=bound,
        contributions=[
            Contribution(
                code=part.code,
                name=show.text(f"part.{part.code}"),
                amount=Amount(value=value, unit=unit),
                origin=part.origin,
                **show.evidence(part.proof),
            )
            for part, value in zip(setting.parts, parts, strict=True)
        ],
        equivalents=[_equivalent(show, one) for one in setting.equivalents],
        **local_fields(show, setting.local, setting.unit),
        row=setting.row,
        row_note=setting.row_note,
        notes=show.notes(setting.notes),
        **show.evidence(setting.proof),
    )


def local_fields(show: Showing, mark: LocalMark | None, unit: str) -> dict[str, Any]:
    """Return the fields that say whose number a start is."""
    if mark is None:
        return {"table": "base"}
    row = LocalNumberOut(
        records=mark.records,
        contributors_band=mark.contributors_band,
        start=show.estimate(mark.start, mark.low, mark.high, unit),
        base_start=show.amount(mark.base_start, unit),
        stale=mark.stale,
    )
    return {"table": "local", "local": row}


def _equivalent(show: Showing, one: Equivalent) -> SameSetting:
    start, low, high = (show.amount(q.value, q.unit) for q in (one.start, one.low, one.high))
    return SameSetting(code=one.code, name=show.text(f"equivalent.{one.code}"), start=start, low=low, high=high)


def _limits(show: Showing, speed: GroundSpeed) -> SpeedLimits:
    limits = [
        SpeedLimit(
            code=limit.code,
            name=show.text(f"limit.{limit.code}"),
            speed=show.estimate(limit.speed_km_h, limit.low_km_h, limit.high_km_h, "km/h"),
            **show.evidence(limit.proof),
        )
        for limit in speed.limits
    ]
    return SpeedLimits(binding=speed.binding, limits=limits)


def _first_step(show: Showing, first: FirstStep) -> FirstStepOut:
    return FirstStepOut(
        setting=first.setting,
        name=show.name(show.reader.table.vocabulary[first.setting].names),
        direction=first.direction,
        step=show.amount(first.step.value, first.step.unit),
        also=[
            SameStep(code=code, name=show.text(f"equivalent.{code}"), amount=show.amount(same.value, same.unit))
            for code, same in first.also
        ],
        why=show.note(first.why),
        **show.evidence(first.proof),
    )


def _expected_loss(show: Showing, band: LossBand) -> ExpectedLoss:
    return ExpectedLoss(
        low=show.amount(band.low_pct, "%"),
        high=show.amount(band.high_pct, "%"),
        reference=show.amount(band.reference_pct, "%"),
        feed_ratio=show.amount(band.feed_ratio, "1"),
        **show.evidence(band.proof),
    )


def _air(show: Showing, air: AirWindow) -> AirWindowOut:
    return AirWindowOut(
        chaff=show.amount(air.chaff_m_s, "m/s"),
        kernel=show.amount(air.kernel_m_s, "m/s"),
        machine_maximum=show.amount(air.machine_maximum_m_s, "m/s"),
        method=air.method,
        kernel_evidence=show.evidence_part(air.kernel_proof),
        chaff_evidence=show.evidence_part(air.chaff_proof),
    )


def _sieve(show: Showing, design: str) -> Named:
    return Named(id=design, name=show.text(f"sieve_design.{design}"))


def _machine(show: Showing, answer: StartingSettings) -> list[MachineFigure]:
    return [
        MachineFigure(
            code=item.code,
            name=show.text(f"machine.{item.code}"),
            amount=show.amount(item.value.value, item.value.unit),
            origin=item.origin,
            evidence=None if item.proof is None else show.evidence_part(item.proof),
        )
        for item in answer.machine
    ]
