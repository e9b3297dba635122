"""What an organisation's records of one season are about, as counts.

Inside: statements that count, each over the records of one season. Outside: what is shown of the counts
(`usecases.coop_overview`).
"""

from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import ColumnElement, String, and_, case, cast, func, select
from sqlalchemy.orm import Session

from service.store.tables import Feedback, Withdrawal


@dataclass(frozen=True, slots=True)
class Covered:
    """Records of a crop and class, from how many contributors, and changes of settings within a day."""

    crop: str
    machine_class: str
    records: int
    contributors: int
    changes: int


def seasons(session: Session, organisation_id: int) -> list[int]:
    """Return the seasons that have records, newest first."""
    query = select(Feedback.season).where(Feedback.organisation_id == organisation_id).distinct()
    return sorted(session.scalars(query), reverse=True)


def by_day(session: Session, organisation_id: int, season: int) -> dict[date, int]:
    """Return how many records were observed on each day that has any."""
    return dict(_counts(session, Feedback.observed_on, organisation_id, season))


def by_method(session: Session, organisation_id: int, season: int) -> dict[str | None, int]:
    """Return how many records found their loss by each method; None is for those that do not say or have no loss."""
    return dict(_counts(session, Feedback.loss_method, organisation_id, season))


def contributors(session: Session, organisation_id: int, season: int) -> int:
    """Return how many contributors have records."""
    query = select(func.count(Feedback.member_id.distinct())).where(_of(organisation_id, season))
    return session.scalar(query) or 0


def withdrawn(session: Session, organisation_id: int, season: int) -> int:
    """Return how many records were taken back."""
    query = select(func.count()).where(Withdrawal.organisation_id == organisation_id, Withdrawal.season == season)
    return session.scalar(query) or 0


def covered(session: Session, organisation_id: int, season: int) -> list[Covered]:
    """Return counts for each crop and class with records.

    A change is a second, third ... state of the settings within one session. What a record leaves out stands as
    in the one before it, so that a record without settings is no state of its own.
    """
    told = func.nullif(cast(Feedback.settings, String), "{}")
    days = (
        select(
            Feedback.crop,
            Feedback.machine_class,
            Feedback.member_id,
            func.count().label("records"),
            func.count(told.distinct()).label("states"),
        )
        .where(_of(organisation_id, season))
        .group_by(Feedback.crop, Feedback.machine_class, Feedback.member_id, Feedback.session_key)
        .subquery()
    )
    query = select(
        days.c.crop,
        days.c.machine_class,
        func.sum(days.c.records),
        func.count(days.c.member_id.distinct()),
        func.sum(case((days.c.states > 1, days.c.states - 1), else_=0)),
    ).group_by(days.c.crop, days.c.machine_class)
    return [Covered(crop, kind, int(n), who, int(changes)) for crop, kind, n, who, changes in session.execute(query)]


def _counts(session: Session, column: Any, organisation_id: int, season: int) -> list[tuple[Any, int]]:
    query = select(column, func.count()).where(_of(organisation_id, season)).group_by(column)
    return [(value, count) for value, count in session.execute(query)]


def _of(organisation_id: int, season: int) -> ColumnElement[bool]:
    return and_(Feedback.organisation_id == organisation_id, Feedback.season == season)
