"""The mapped tables. What a row means stands in the docstring of the package.

Inside: columns, constraints, indexes, and the naming of constraints. Outside: triggers and how a database
gets from one state to the next (`migrations`); a test compares what they make with what stands here.
"""

from datetime import date, datetime
from typing import Any, ClassVar
from uuid import UUID

from sqlalchemy import CheckConstraint, ForeignKey, ForeignKeyConstraint, Index, LargeBinary, MetaData, UniqueConstraint
from sqlalchemy.orm import DeclarativeBase, Mapped, mapped_column

from service.store.column_types import Document, Number, UtcDateTime

NAMES = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_N_name)s",
    "pk": "pk_%(table_name)s",
}


class Row(DeclarativeBase):
    """Base of every table."""

    metadata = MetaData(naming_convention=NAMES)
    type_annotation_map: ClassVar[dict[Any, Any]] = {datetime: UtcDateTime}


class Organisation(Row):
    """One co-op."""

    __tablename__ = "organisation"
    __table_args__ = (CheckConstraint("season_starts_month BETWEEN 1 AND 12", name="month"),)

    id: Mapped[int] = mapped_column(Number, primary_key=True)
    name: Mapped[str] = mapped_column(unique=True)
    season_starts_month: Mapped[int]
    created_at: Mapped[datetime]


class Member(Row):
    """One contributor."""

    __tablename__ = "member"
    __table_args__ = (UniqueConstraint("organisation_id", "pseudonym"), UniqueConstraint("organisation_id", "id"))

    id: Mapped[int] = mapped_column(Number, primary_key=True)
    organisation_id: Mapped[int] = mapped_column(ForeignKey("organisation.id"))
    pseudonym: Mapped[str]
    joined_at: Mapped[datetime]


def member_key() -> ForeignKeyConstraint:
    """A contributor of the same organisation; the row goes when the contributor is erased."""
    return ForeignKeyConstraint(
        ["organisation_id", "member_id"], ["member.organisation_id", "member.id"], ondelete="CASCADE"
    )


class ApiKey(Row):
    """One key; of its secret only the digest is kept."""

    __tablename__ = "api_key"
    __table_args__ = (member_key(), Index(None, "organisation_id", "member_id"))

    id: Mapped[int] = mapped_column(Number, primary_key=True)
    organisation_id: Mapped[int] = mapped_column(ForeignKey("organisation.id"))
    member_id: Mapped[int | None] = mapped_column(Number)
    prefix: Mapped[str] = mapped_column(unique=True)
    secret_sha256: Mapped[bytes] = mapped_column(LargeBinary(32))
    scopes: Mapped[str]
    label: Mapped[str]
    created_at: Mapped[datetime]
    expires_at: Mapped[datetime | None]
    revoked_at: Mapped[datetime | None]


class ConsoleSession(Row):
    """Somebody who logged in at the console; of the cookie only the digest is kept."""

    __tablename__ = "console_session"

    token_sha256: Mapped[bytes] = mapped_column(LargeBinary(32), primary_key=True)
    api_key_id: Mapped[int] = mapped_column(ForeignKey("api_key.id", ondelete="CASCADE"), index=True)
    created_at: Mapped[datetime]
    expires_at: Mapped[datetime] = mapped_column(index=True)


class Feedback(Row):
    """One record of what a machine was set to and what came of it."""

    __tablename__ = "feedback"
    __table_args__ = (
        member_key(),
        Index(None, "organisation_id", "id"),
        Index("ix_feedback_member", "organisation_id", "member_id", "id"),
        Index("ix_feedback_session", "organisation_id", "member_id", "session_key", "observed_at"),
        Index("ix_feedback_row", "organisation_id", "crop", "machine_class", "season"),
        CheckConstraint("rating BETWEEN 1 AND 5", name="rating"),
    )

    id: Mapped[UUID] = mapped_column(primary_key=True)
    organisation_id: Mapped[int] = mapped_column(ForeignKey("organisation.id"))
    member_id: Mapped[int] = mapped_column(Number)
    api_key_prefix: Mapped[str]  # no foreign key: erasing a contributor would search every record for it
    received_at: Mapped[datetime]
    observed_at: Mapped[datetime]
    observed_on: Mapped[date]
    season: Mapped[int]
    machine: Mapped[str]
    field: Mapped[str | None]
    session_key: Mapped[str]
    crop: Mapped[str]
    machine_class: Mapped[str]
    moisture_band: Mapped[str]
    grain_moisture_pct: Mapped[float]
    yield_t_ha: Mapped[float]
    straw_condition: Mapped[str]
    straw_to_grain: Mapped[float]
    stand: Mapped[str]
    slope_along_deg: Mapped[float]
    slope_across_deg: Mapped[float]
    use_for: Mapped[str]
    priority: Mapped[str]
    conditions: Mapped[dict[str, Any]] = mapped_column(Document)
    settings: Mapped[dict[str, float]] = mapped_column(Document)
    base: Mapped[dict[str, Any] | None] = mapped_column(Document)
    suggested: Mapped[dict[str, float] | None] = mapped_column(Document)
    suggested_from: Mapped[str | None]
    advice: Mapped[str | None]
    advice_revision: Mapped[str | None]
    trial_arm: Mapped[str | None]
    trial_randomised: Mapped[bool]
    loss_method: Mapped[str | None]
    frames: Mapped[dict[str, Any] | None] = mapped_column(Document)
    machine_loss_kg_ha: Mapped[float | None]
    machine_loss_pct: Mapped[float | None]
    machine_loss_low_pct: Mapped[float | None]
    machine_loss_high_pct: Mapped[float | None]
    header_loss_kg_ha: Mapped[float | None]
    header_loss_pct: Mapped[float | None]
    header_loss_low_pct: Mapped[float | None]
    header_loss_high_pct: Mapped[float | None]
    broken_pct: Mapped[float | None]
    foreign_matter_pct: Mapped[float | None]
    returns_level: Mapped[str | None]
    grain_throughput_t_h: Mapped[float | None]
    rating: Mapped[int | None]
    note: Mapped[str | None]
    latitude_deg: Mapped[float | None]
    longitude_deg: Mapped[float | None]
    knowledge_revision: Mapped[str]
    knowledge_digest: Mapped[str]


class Withdrawal(Row):
    """A record that was taken back."""

    __tablename__ = "withdrawal"
    __table_args__ = (member_key(), Index(None, "organisation_id", "member_id", "season"))

    feedback_id: Mapped[UUID] = mapped_column(primary_key=True)
    organisation_id: Mapped[int] = mapped_column(ForeignKey("organisation.id"))
    member_id: Mapped[int] = mapped_column(Number)
    session_key: Mapped[str]
    season: Mapped[int]
    withdrawn_at: Mapped[datetime]


class Idempotency(Row):
    """The answer to a request that must not be done twice."""

    __tablename__ = "idempotency"
    __table_args__ = (member_key(), Index(None, "organisation_id", "member_id"))

    organisation_id: Mapped[int] = mapped_column(ForeignKey("organisation.id"), primary_key=True)
    key: Mapped[UUID] = mapped_column(primary_key=True)
    member_id: Mapped[int] = mapped_column(Number)
    fingerprint: Mapped[bytes] = mapped_column(LargeBinary(32))
    body: Mapped[str]
    created_at: Mapped[datetime] = mapped_column(index=True)


class AuditEvent(Row):
    """Who did what, and to what."""

    __tablename__ = "audit_event"
    __table_args__ = (Index(None, "organisation_id", "id"),)

    id: Mapped[int] = mapped_column(Number, primary_key=True)
    at: Mapped[datetime]
    organisation_id: Mapped[int | None] = mapped_column(ForeignKey("organisation.id"))
    actor: Mapped[str]
    action: Mapped[str]
    subject: Mapped[str]
    facts: Mapped[dict[str, Any]] = mapped_column(Document)
