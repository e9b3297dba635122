"""The mapped tables of refinement: sums, beliefs, drafts, decisions, published revisions.

What a row means stands in the docstring of the package.
"""

from datetime import datetime
from typing import Any
from uuid import UUID

from sqlalchemy import CheckConstraint, ForeignKey, ForeignKeyConstraint, Index, LargeBinary, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from service.store.column_types import Document, Number
from service.store.tables import Feedback, Row, member_key


class CellSums(Row):
    """Sums over the records of one contributor and machine in one cell, outcome and season."""

    __tablename__ = "cell_sums"
    __table_args__ = (member_key(), Index(None, "organisation_id", "member_id"))

    organisation_id: Mapped[int] = mapped_column(ForeignKey("organisation.id"), primary_key=True)
    crop: Mapped[str] = mapped_column(primary_key=True)
    machine_class: Mapped[str] = mapped_column(primary_key=True)
    member_id: Mapped[int] = mapped_column(Number, primary_key=True)
    machine: Mapped[str] = mapped_column(primary_key=True)
    cell: Mapped[str] = mapped_column(primary_key=True)
    outcome: Mapped[str] = mapped_column(primary_key=True)
    season: Mapped[int] = mapped_column(primary_key=True)
    sums: Mapped[bytes] = mapped_column(LargeBinary)


class CellCoding(Row):
    """What the sums of a crop and class were coded against."""

    __tablename__ = "cell_coding"

    organisation_id: Mapped[int] = mapped_column(ForeignKey("organisation.id"), primary_key=True)
    crop: Mapped[str] = mapped_column(primary_key=True)
    machine_class: Mapped[str] = mapped_column(primary_key=True)
    coding: Mapped[str]


class FoldState(Row):
    """How far the records of an organisation are in its sums."""

    __tablename__ = "fold_state"

    organisation_id: Mapped[int] = mapped_column(ForeignKey("organisation.id"), primary_key=True)
    folded_upto: Mapped[UUID | None]
    folded_at: Mapped[datetime]


class Rebuild(Row):
    """A contributor's season whose sums hold a record that was taken back."""

    __tablename__ = "rebuild"
    __table_args__ = (member_key(), Index(None, "organisation_id", "member_id"))

    id: Mapped[int] = mapped_column(Number, primary_key=True)
    organisation_id: Mapped[int] = mapped_column(ForeignKey("organisation.id"))
    member_id: Mapped[int] = mapped_column(Number)
    season: Mapped[int]


class CellBelief(Row):
    """What was believed of a crop and class when records were weighed by it."""

    __tablename__ = "cell_belief"
    __table_args__ = (Index(None, "organisation_id", "crop", "machine_class", "id"),)

    id: Mapped[int] = mapped_column(Number, primary_key=True)
    organisation_id: Mapped[int] = mapped_column(ForeignKey("organisation.id"))
    crop: Mapped[str]
    machine_class: Mapped[str]
    made_at: Mapped[datetime]
    statistics: Mapped[str]
    method: Mapped[str]
    mean: Mapped[bytes] = mapped_column(LargeBinary)
    covariance: Mapped[bytes] = mapped_column(LargeBinary)
    noise_variance: Mapped[bytes] = mapped_column(LargeBinary)


class RecordWeight(Row):
    """Weights below 1 that a record had when it was folded, in 1024ths; a record without a row has 1."""

    __tablename__ = "record_weight"

    feedback_id: Mapped[UUID] = mapped_column(ForeignKey(Feedback.id, ondelete="CASCADE"), primary_key=True)
    belief_id: Mapped[int] = mapped_column(Number)
    loss: Mapped[int]
    broken: Mapped[int]
    foreign_matter: Mapped[int]


class Refinement(Row):
    """A draft of a local revision, with what it was made from."""

    __tablename__ = "refinement"
    __table_args__ = (
        UniqueConstraint("organisation_id", "number"),
        CheckConstraint("state IN ('open', 'published')", name="state"),
    )

    id: Mapped[int] = mapped_column(Number, primary_key=True)
    organisation_id: Mapped[int] = mapped_column(ForeignKey("organisation.id"))
    number: Mapped[int]
    state: Mapped[str]
    version: Mapped[int]
    made_at: Mapped[datetime]
    made_by: Mapped[str]
    on_revision: Mapped[int | None]
    base_revision: Mapped[str]
    base_digest: Mapped[str]
    inputs: Mapped[dict[str, Any]] = mapped_column(Document)
    document: Mapped[dict[str, Any]] = mapped_column(Document)


class RefinementEvidence(Row):
    """Sums of one contributor that a draft was made from, and how the contributor stood in it."""

    __tablename__ = "refinement_evidence"
    __table_args__ = (member_key(), Index(None, "organisation_id", "member_id"))

    refinement_id: Mapped[int] = mapped_column(ForeignKey(Refinement.id), primary_key=True)
    crop: Mapped[str] = mapped_column(primary_key=True)
    machine_class: Mapped[str] = mapped_column(primary_key=True)
    member_id: Mapped[int] = mapped_column(Number, primary_key=True)
    organisation_id: Mapped[int] = mapped_column(ForeignKey("organisation.id"))
    keys: Mapped[list[Any]] = mapped_column(Document)
    sums: Mapped[bytes] = mapped_column(LargeBinary)
    standing: Mapped[dict[str, Any]] = mapped_column(Document)


class RefinementDecision(Row):
    """What a reviewer decided on a row of a draft."""

    __tablename__ = "refinement_decision"
    __table_args__ = (ForeignKeyConstraint(["refinement_id"], [Refinement.id]),)

    refinement_id: Mapped[int] = mapped_column(Number, primary_key=True)
    row: Mapped[str] = mapped_column(primary_key=True)
    accepted: Mapped[bool]
    reason: Mapped[str | None]
    decided_by: Mapped[str]
    decided_at: Mapped[datetime]


class LocalRevision(Row):
    """A published revision of an organisation's table; never changed, never deleted."""

    __tablename__ = "local_revision"

    organisation_id: Mapped[int] = mapped_column(ForeignKey("organisation.id"), primary_key=True)
    number: Mapped[int] = mapped_column(primary_key=True)
    digest: Mapped[str]
    document: Mapped[str]
    published_at: Mapped[datetime]
    published_by: Mapped[str]
    from_refinement: Mapped[int | None]
    repeats: Mapped[int | None]
