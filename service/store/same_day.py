"""Records of one crop and class for comparisons within a day, newest first, a limited number of them."""

from collections.abc import Collection, Sequence
from typing import Final

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.store.tables import Feedback, Member

NEWEST: Final = 5000


def newest(
    session: Session,
    organisation_id: int,
    crop: str,
    machine_class: str,
    moisture_band: str | None,
    without: Collection[str],
) -> Sequence[Feedback]:
    """Return records in the order of their sessions, each session in the order of observation.

    `without` names contributors whose records are left out.
    """
    query = select(Feedback).where(
        Feedback.organisation_id == organisation_id,
        Feedback.crop == crop,
        Feedback.machine_class == machine_class,
    )
    if moisture_band is not None:
        query = query.where(Feedback.moisture_band == moisture_band)
    if without:
        aside = select(Member.id).where(Member.organisation_id == organisation_id, Member.pseudonym.in_(without))
        query = query.where(Feedback.member_id.not_in(aside))
    found = session.scalars(query.order_by(Feedback.id.desc()).limit(NEWEST)).all()
    return sorted(found, key=lambda row: (row.member_id, row.session_key, row.observed_at, row.id))
