"""Records of one crop and class for comparisons within a day, newest first, a limited number of them."""

from collections.abc import Sequence
from typing import Final

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.store.tables import Feedback

NEWEST: Final = 5000


def newest(
    session: Session, organisation_id: int, crop: str, machine_class: str, moisture_band: str | None
) -> Sequence[Feedback]:
    """Return records in the order of their sessions, each session in the order of observation."""
    query = select(Feedback).where(
        Feedback.organisation_id == organisation_id,
        Feedback.crop == crop,
        Feedback.machine_class == machine_class,
    )
    if moisture_band is not None:
        query = query.where(Feedback.moisture_band == moisture_band)
    found = session.scalars(query.order_by(Feedback.id.desc()).limit(NEWEST)).all()
    return sorted(found, key=lambda row: (row.member_id, row.session_key, row.observed_at, row.id))
