"""Lists and exports of feedback records.

Inside: which records a caller asks for, pages, and the columns of an export: one flat row for each record, metric,
with the unit in the name. Outside: how rows are written as text or bytes (`api.export_formats`).
"""

import re
from base64 import urlsafe_b64decode, urlsafe_b64encode
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any, Final, Literal
from uuid import UUID

from service.errors import InvalidInput
from service.knowledge.table import KnowledgeTable
from service.store import Session, Store, audit
from service.store import feedback as rows
from service.store.feedback import Kept, Wanted
from service.store.tables import Feedback
from service.usecases.access import Caller

Kind = Literal["text", "number", "whole", "truth", "moment", "day"]
Row = dict[str, Any]

_PAGE: Final = 1000
_CURSOR: Final = re.compile(r"[A-Za-z0-9_-]{22}")
_FIRST: Final[tuple[tuple[str, Kind], ...]] = (
    ("id", "text"),
    ("contributor", "text"),
    ("received_at", "moment"),
    ("observed_at", "moment"),
    ("observed_on", "day"),
    ("season", "whole"),
    ("machine", "text"),
    ("field", "text"),
    ("session_key", "text"),
    ("crop", "text"),
    ("machine_class", "text"),
    ("moisture_band", "text"),
    ("grain_moisture_pct", "number"),
    ("yield_t_ha", "number"),
    ("straw_condition", "text"),
    ("straw_to_grain", "number"),
    ("stand", "text"),
    ("slope_along_deg", "number"),
    ("slope_across_deg", "number"),
    ("use_for", "text"),
    ("priority", "text"),
)
_LAST: Final[tuple[tuple[str, Kind], ...]] = (
    ("suggested_from", "text"),
    ("advice", "text"),
    ("advice_revision", "text"),
    ("trial_arm", "text"),
    ("trial_randomised", "truth"),
    ("loss_method", "text"),
    ("machine_loss_kg_ha", "number"),
    ("machine_loss_pct", "number"),
    ("machine_loss_low_pct", "number"),
    ("machine_loss_high_pct", "number"),
    ("header_loss_kg_ha", "number"),
    ("header_loss_pct", "number"),
    ("header_loss_low_pct", "number"),
    ("header_loss_high_pct", "number"),
    ("broken_pct", "number"),
    ("foreign_matter_pct", "number"),
    ("returns_level", "text"),
    ("grain_throughput_t_h", "number"),
    ("rating", "whole"),
    ("note", "text"),
    ("latitude_deg", "number"),
    ("longitude_deg", "number"),
    ("knowledge_revision", "text"),
    ("knowledge_digest", "text"),
)
_SUFFIX: Final = {"m/s": "_m_s", "km/h": "_km_h", "mm": "_mm", "cm": "_cm", "1": ""}


@dataclass(frozen=True, slots=True)
class Page:
    """Records, newest first, and where the next page begins."""

    kept: Sequence[Kept]
    cursor: str | None


def wanted(table: KnowledgeTable, caller: Caller, crop: str | None, contributor: str | None) -> Wanted:
    """Return the records that a caller asks for, among those that it sees.

    Raises
    ------
    ScopeMissing
        If the key is not one to read.
    UnknownName
        If there is no such crop.
    """
    caller.needs("read")
    return replace(caller.sees, pseudonym=contributor, crop=None if crop is None else table.crop(crop).id)


def page(session: Session, which: Wanted, cursor: str | None, limit: int) -> Page:
    """Return a page of records.

    Raises
    ------
    InvalidInput
        If the cursor is none that a page gave.
    """
    before = None if cursor is None else _read_cursor(cursor)
    found = rows.page(session, which, before=before, limit=limit + 1)
    kept = found[:limit]
    return Page(kept, _write_cursor(kept[-1].row.id) if len(found) > limit else None)


def _write_cursor(ident: UUID) -> str:
    return urlsafe_b64encode(ident.bytes).decode().rstrip("=")


def _read_cursor(cursor: str) -> UUID:
    if not _CURSOR.fullmatch(cursor):
        raise InvalidInput("cursor", reason="reason.cursor")
    return UUID(bytes=urlsafe_b64decode(cursor + "=="))


def columns(table: KnowledgeTable) -> dict[str, Kind]:
    """Return the columns of an export, in their order: settings as used and as suggested in the middle."""
    settings: list[tuple[str, Kind]] = [
        (name, "number") for lead in ("used", "suggested") for name in _setting_columns(table, lead).values()
    ]
    return dict((*_FIRST, *settings, *_LAST))


def _setting_columns(table: KnowledgeTable, lead: str) -> dict[str, str]:
    return {ident: f"{lead}_{ident}{_SUFFIX[entry.unit]}" for ident, entry in table.vocabulary.items() if entry.setting}


def export(store: Store, table: KnowledgeTable, which: Wanted, page: int = _PAGE) -> Iterator[Row]:
    """Yield a flat row for each record, oldest first; a value that is not there is left out.

    Records are read page by page, each in a transaction of its own, so that a slow reader holds none open.
    """
    used, suggested = (_setting_columns(table, lead) for lead in ("used", "suggested"))
    plain = [name for name, _ in (*_FIRST, *_LAST) if name not in ("id", "contributor")]
    after: UUID | None = None
    while True:
        with store.reading() as session:
            found = rows.following(session, which, after=after, limit=page)
        for kept in found:
            row: Row = {"id": str(kept.row.id), "contributor": kept.pseudonym}
            row |= {name: value for name in plain if (value := getattr(kept.row, name)) is not None}
            row |= _settings(kept.row, "settings", used) | _settings(kept.row, "suggested", suggested)
            yield row
        if len(found) < page:
            return
        after = found[-1].row.id


def _settings(row: Feedback, field: str, names: dict[str, str]) -> Row:
    values: dict[str, float] = getattr(row, field) or {}
    return {names[ident]: value for ident, value in values.items() if ident in names}


def note_export(session: Session, caller: Caller, which: Wanted, form: str, now: datetime) -> None:
    """Write into the audit log that records leave the house."""
    audit.record(
        session,
        now,
        organisation_id=caller.organisation_id,
        actor=caller.actor,
        action="feedback exported",
        subject="own records" if which.member_id is not None else "records of the organisation",
        form=form,
    )
