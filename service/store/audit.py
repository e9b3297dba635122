"""The audit log: lines are added and read; triggers of the database refuse anything else."""

from collections.abc import Sequence
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.store.tables import AuditEvent


def record(
    session: Session,
    at: datetime,
    *,
    organisation_id: int | None,
    actor: str,
    action: str,
    subject: str,
    **facts: object,
) -> None:
    """Add a line. It tells of a contributor by number only: pseudonyms must vanish when one is erased."""
    session.add(
        AuditEvent(
            at=at, organisation_id=organisation_id, actor=actor, action=action, subject=subject, facts=dict(facts)
        )
    )
    session.flush()


def events(session: Session, organisation_id: int | None = None, *, newest: int = 100) -> Sequence[AuditEvent]:
    """Return the newest lines, of one organisation or of all, newest first."""
    query = select(AuditEvent).order_by(AuditEvent.id.desc()).limit(newest)
    if organisation_id is not None:
        query = query.where(AuditEvent.organisation_id == organisation_id)
    return session.scalars(query).all()
