"""Entries of the knowledge table as answers in the reader's units and language.

Figures are served as they are stored; in United States units to six significant digits, because a
stored figure has no decimals of its own.
"""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from pydantic import BaseModel

from service.api import answers_catalogue as out
from service.api.answers import Estimate
from service.api.answers import Evidence as EvidenceOut
from service.api.reader import Reader
from service.api.showing import Showing
from service.knowledge.machine_schema import MachineClassEntry, SieveConversion
from service.knowledge.report import Shares, shared_files, shares
from service.knowledge.schema import (
    Coverage,
    CropFile,
    Evidence,
    Figure,
    Printed,
    Response,
    SettingRow,
)
from service.units import convert
from service.usecases.provenance import ends_proof

_NOT_PHYSICAL = ("kernel_air",)


def present_crops(reader: Reader) -> out.CropList:
    """Return the list of crops."""
    show = Showing(reader)
    lines = [
        out.CropLine(
            id=crop.id,
            name=show.name(crop.names),
            group=crop.group,
            eppo=None if crop.eppo is None else crop.eppo.value,
            aliases=crop.aliases,
            coverage=_coverage(show, crop.coverage),
        )
        for crop in reader.table.crops.values()
    ]
    return out.CropList(knowledge=show.knowledge(), crops=lines)


def present_crop(crop: CropFile, reader: Reader) -> out.CropAnswer:
    """Return everything on one crop."""
    show, air, eppo = Showing(reader), crop.physical.kernel_air, crop.eppo
    at = air.at_moisture_pct
    answer = {
        "knowledge": show.knowledge(),
        "id": crop.id,
        "name": show.name(crop.names),
        "group": crop.group,
        "eppo": None if eppo is None else out.OutsideCodeOut(value=eppo.value, known=eppo.known),
        "aliases": crop.aliases,
        "header": crop.header,
        "other_headers": list(crop.other_headers),
        "damage": out.DamageOut(
            grade=crop.damage.grade,
            basis=crop.damage.basis,
            known=crop.damage.known,
            sources=show.places(crop.damage.source),
        ),
        "physical": _figures(show, crop.physical, _NOT_PHYSICAL),
        "kernel_air": out.KernelAirOut(
            method=air.method,
            at_moisture=None if at is None else Estimate(value=at, unit="%"),
            figures=_figures(show, air),
        ),
        "trade_moisture": [
            out.TradeMoistureOut(**_figure(show, one).model_dump(), market=one.market) for one in crop.trade_moisture
        ],
        "moisture": out.MoistureWindowOut(**_figures(show, crop.moisture)),
        "use_ceilings": [
            out.UseCeilingOut(use=one.use, ceiling=_figure(show, one.ceiling)) for one in crop.use_ceiling
        ],
        "targets": _figures(show, crop.targets),
        "kernel_rules": [out.KernelRuleOut(text=rule.text, **_evidence(show, rule)) for rule in crop.kernel_rule],
        "coverage": _coverage(show, crop.coverage),
        "rows": [_row(show, row) for row in crop.row],
        "responses": [_response(show, response) for response in crop.response],
    }
    return out.CropAnswer(**answer, sources=show.references())


def present_machine_classes(reader: Reader) -> out.MachineClassList:
    """Return the machine classes with their defaults."""
    show, machines = Showing(reader), reader.table.machines
    answer = {
        "knowledge": show.knowledge(),
        "machine_classes": [_machine_class(show, entry) for entry in machines.machine_class],
        "size_bands": [
            out.SizeBandOut(
                id=band.id,
                name=show.name(band.names),
                engine_power=show.estimate(band.power_from_kw, band.power_from_kw, band.power_to_kw, "kW"),
            )
            for band in machines.band
        ],
        "defaults": [
            out.MachineDefaultsOut(classes=list(one.classes), band=one.band, figures=_figures(show, one))
            for one in machines.defaults
        ],
        "specific": [
            out.MachineSpecificOut(classes=list(one.classes), figures=_figures(show, one)) for one in machines.specific
        ],
        "sieves": [_sieve(show, one) for one in machines.sieve],
        "driving": _figures(show, machines.driving),
    }
    return out.MachineClassList(**answer, sources=show.references())


def _machine_class(show: Showing, entry: MachineClassEntry) -> out.MachineClassOut:
    vocabulary = show.reader.table.vocabulary
    return out.MachineClassOut(
        id=entry.id,
        name=show.name(entry.names),
        principle=show.name(entry.principle),
        thresher=entry.thresher,
        settings=[show.named(setting, vocabulary[setting].names) for setting in entry.settings],
    )


def _sieve(show: Showing, one: SieveConversion) -> out.SieveConversionOut:
    return out.SieveConversionOut(
        sieve=one.sieve,
        design=one.design,
        name=show.text(f"sieve_design.{one.design}"),
        factor=one.factor,
        factor_low=one.factor_low,
        factor_high=one.factor_high,
        **_evidence(show, one),
    )


def present_sources(reader: Reader) -> out.SourceList:
    """Return every source, by id."""
    show = Showing(reader)
    return out.SourceList(
        knowledge=show.knowledge(), sources=[show.reference(ident) for ident in sorted(reader.table.sources)]
    )


def present_knowledge(reader: Reader) -> out.KnowledgeAnswer:
    """Return the state of the table."""
    table = reader.table
    return out.KnowledgeAnswer(
        knowledge=Showing(reader).knowledge(),
        released=table.released,
        marks=_marks(shares(table)),
        shared_marks=_marks(shared_files(table)),
        revisions=[out.RevisionLine(id=table.revision, digest=table.digest, released=table.released)],
    )


def _marks(parts: Iterable[Shares]) -> list[out.MarkCounts]:
    return [out.MarkCounts(name=part.name, total=part.total, counts=dict(part.counts)) for part in parts]


def _coverage(show: Showing, coverage: Mapping[Any, Coverage]) -> dict[str, out.CoverageOut]:
    return {
        task: out.CoverageOut(
            level=one.level, classes=list(one.classes), why=None if one.why is None else show.name(one.why)
        )
        for task, one in coverage.items()
    }


def _evidence(show: Showing, entry: Evidence) -> dict[str, Any]:
    return {"basis": entry.basis, "known": entry.known, "sources": show.places(entry.source)}


def _stored(show: Showing, value: float, unit: str) -> float:
    shown = show.unit(unit)
    return value if shown == unit else float(f"{convert(value, unit, shown):.6g}")


def _stored_range(show: Showing, unit: str, ends: Mapping[str, float | None]) -> dict[str, Any]:
    shown = {name: None if end is None else _stored(show, end, unit) for name, end in ends.items()}
    return {**shown, "unit": show.unit(unit)}


def _printed(printed: Sequence[Printed]) -> list[out.PrintedOut] | None:
    return [out.PrintedOut(of=one.of, text=one.text) for one in printed] or None


def _figure(show: Showing, figure: Figure) -> out.FigureOut:
    ends = {"value": figure.value, "low": figure.low, "high": figure.high}
    return out.FigureOut(
        **_stored_range(show, figure.unit, ends),
        ends=_ends(show, figure),
        note=figure.note,
        printed=_printed(figure.printed),
        **_evidence(show, figure),
    )


def _ends(show: Showing, entry: Figure | SettingRow) -> EvidenceOut | None:
    return None if entry.ends is None else show.evidence_part(ends_proof(entry))


def _figures(show: Showing, entry: BaseModel, without: Sequence[str] = ()) -> dict[str, out.FigureOut]:
    found = {name: getattr(entry, name) for name in type(entry).model_fields if name not in without}
    return {name: _figure(show, figure) for name, figure in found.items() if isinstance(figure, Figure)}


def _row(show: Showing, row: SettingRow) -> out.SettingRowOut:
    entry = show.reader.table.vocabulary[row.setting]
    return out.SettingRowOut(
        id=row.id,
        setting=row.setting,
        name=show.name(entry.names),
        classes=list(row.classes),
        use=row.use,
        **_stored_range(show, row.unit, {"start": row.start, "low": row.low, "high": row.high}),
        ends=_ends(show, row),
        note=row.note,
        printed=_printed(row.printed),
        **_evidence(show, row),
    )


def _response(show: Showing, response: Response) -> out.ResponseOut:
    unit = response.unit
    knots = [out.Knot(factor=at, change=_stored(show, change, unit)) for at, change in response.knots]
    levels = {name: _stored(show, change, unit) for name, change in response.levels.items()}
    return out.ResponseOut(
        id=response.id,
        quantity=response.quantity,
        factor=response.factor,
        mode=response.mode,
        unit=show.unit(unit),
        classes=list(response.classes),
        knots=knots or None,
        levels=levels or None,
        note=response.note,
        **_evidence(show, response),
    )
