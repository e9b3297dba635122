"""Sums, beliefs, drafts, decisions, and published local revisions with their triggers."""

from typing import Any

import sqlalchemy as sa
from alembic import op

from service.store.column_types import Document, Number, UtcDateTime

revision = "r0002"
down_revision = "r0001"
branch_labels = None
depends_on = None

# each statement on its own: SQLite runs one at a time
_IMMUTABLE = {
    "sqlite": (
        "CREATE TRIGGER local_revision_no_update BEFORE UPDATE ON local_revision "
        "BEGIN SELECT RAISE(ABORT, 'a published revision never changes'); END",
        "CREATE TRIGGER local_revision_no_delete BEFORE DELETE ON local_revision "
        "BEGIN SELECT RAISE(ABORT, 'a published revision never changes'); END",
    ),
    "postgresql": (
        "CREATE FUNCTION refuse_change_of_revision() RETURNS trigger LANGUAGE plpgsql AS "
        "$$ BEGIN RAISE EXCEPTION 'a published revision never changes' USING ERRCODE = '23000'; END $$",
        "CREATE TRIGGER local_revision_no_change BEFORE UPDATE OR DELETE ON local_revision "
        "FOR EACH ROW EXECUTE FUNCTION refuse_change_of_revision()",
        "CREATE TRIGGER local_revision_no_truncate BEFORE TRUNCATE ON local_revision "
        "FOR EACH STATEMENT EXECUTE FUNCTION refuse_change_of_revision()",
    ),
}


def upgrade() -> None:
    """Make everything."""
    op.add_column("feedback", _column("base", Document, null=True))
    _sums()
    _weights()
    _drafts()
    _published()


def _column(name: str, kind: Any = sa.String, *, null: bool = False) -> sa.Column[Any]:
    return sa.Column(name, kind, nullable=null)


def _organisation_key(table: str) -> sa.ForeignKeyConstraint:
    return sa.ForeignKeyConstraint(["organisation_id"], ["organisation.id"], name=op.f(f"fk_{table}_organisation_id"))


def _member_key(table: str) -> sa.ForeignKeyConstraint:
    return sa.ForeignKeyConstraint(
        ["organisation_id", "member_id"],
        ["member.organisation_id", "member.id"],
        name=op.f(f"fk_{table}_organisation_id_member_id"),
        ondelete="CASCADE",
    )


def _id_of(table: str) -> str:
    return f"{table}.id"


def _refinement_key(table: str) -> sa.ForeignKeyConstraint:
    return sa.ForeignKeyConstraint(["refinement_id"], [_id_of("refinement")], name=op.f(f"fk_{table}_refinement_id"))


def _key(table: str, *columns: str) -> sa.PrimaryKeyConstraint:
    return sa.PrimaryKeyConstraint(*columns, name=op.f(f"pk_{table}"))


def _sums() -> None:
    owner = ("organisation_id", "crop", "machine_class", "member_id", "machine", "cell", "outcome", "season")
    kinds = {"organisation_id": Number, "member_id": Number, "season": sa.Integer}
    op.create_table(
        "cell_sums",
        *(_column(name, kinds.get(name, sa.String)) for name in owner),
        _column("sums", sa.LargeBinary),
        _organisation_key("cell_sums"),
        _member_key("cell_sums"),
        _key("cell_sums", *owner),
    )
    op.create_index("ix_cell_sums_organisation_id_member_id", "cell_sums", ["organisation_id", "member_id"])
    op.create_table(
        "cell_coding",
        _column("organisation_id", Number),
        *(_column(name) for name in ("crop", "machine_class", "coding")),
        _organisation_key("cell_coding"),
        _key("cell_coding", "organisation_id", "crop", "machine_class"),
    )
    op.create_table(
        "fold_state",
        _column("organisation_id", Number),
        _column("folded_upto", sa.Uuid, null=True),
        _column("folded_at", UtcDateTime),
        _organisation_key("fold_state"),
        _key("fold_state", "organisation_id"),
    )
    op.create_table(
        "rebuild",
        *(_column(name, Number) for name in ("id", "organisation_id", "member_id")),
        _column("season", sa.Integer),
        _organisation_key("rebuild"),
        _member_key("rebuild"),
        _key("rebuild", "id"),
    )
    op.create_index("ix_rebuild_organisation_id_member_id", "rebuild", ["organisation_id", "member_id"])


def _weights() -> None:
    op.create_table(
        "cell_belief",
        *(_column(name, Number) for name in ("id", "organisation_id")),
        *(_column(name) for name in ("crop", "machine_class")),
        _column("made_at", UtcDateTime),
        *(_column(name) for name in ("statistics", "method")),
        *(_column(name, sa.LargeBinary) for name in ("mean", "covariance", "noise_variance")),
        _organisation_key("cell_belief"),
        _key("cell_belief", "id"),
    )
    columns = ["organisation_id", "crop", "machine_class", "id"]
    op.create_index("ix_cell_belief_organisation_id_crop_machine_class_id", "cell_belief", columns)
    op.create_table(
        "record_weight",
        _column("feedback_id", sa.Uuid),
        _column("belief_id", Number),
        *(_column(name, sa.Integer) for name in ("loss", "broken", "foreign_matter")),
        sa.ForeignKeyConstraint(
            ["feedback_id"], [_id_of("feedback")], name=op.f("fk_record_weight_feedback_id"), ondelete="CASCADE"
        ),
        _key("record_weight", "feedback_id"),
    )


def _drafts() -> None:
    op.create_table(
        "refinement",
        *(_column(name, Number) for name in ("id", "organisation_id")),
        _column("number", sa.Integer),
        _column("state"),
        _column("version", sa.Integer),
        _column("made_at", UtcDateTime),
        _column("made_by"),
        _column("on_revision", sa.Integer, null=True),
        *(_column(name) for name in ("base_revision", "base_digest")),
        *(_column(name, Document) for name in ("inputs", "document")),
        sa.CheckConstraint("state IN ('open', 'published')", name=op.f("ck_refinement_state")),
        _organisation_key("refinement"),
        _key("refinement", "id"),
        sa.UniqueConstraint("organisation_id", "number", name=op.f("uq_refinement_organisation_id_number")),
    )
    _evidence_and_decisions()


def _evidence_and_decisions() -> None:
    op.create_table(
        "refinement_evidence",
        _column("refinement_id", Number),
        *(_column(name) for name in ("crop", "machine_class")),
        *(_column(name, Number) for name in ("member_id", "organisation_id")),
        _column("keys", Document),
        _column("sums", sa.LargeBinary),
        _column("standing", Document),
        _refinement_key("refinement_evidence"),
        _organisation_key("refinement_evidence"),
        _member_key("refinement_evidence"),
        _key("refinement_evidence", "refinement_id", "crop", "machine_class", "member_id"),
    )
    name = "ix_refinement_evidence_organisation_id_member_id"
    op.create_index(name, "refinement_evidence", ["organisation_id", "member_id"])
    op.create_table(
        "refinement_decision",
        _column("refinement_id", Number),
        _column("row"),
        _column("accepted", sa.Boolean),
        _column("reason", null=True),
        _column("decided_by"),
        _column("decided_at", UtcDateTime),
        _refinement_key("refinement_decision"),
        _key("refinement_decision", "refinement_id", "row"),
    )


def _published() -> None:
    op.create_table(
        "local_revision",
        _column("organisation_id", Number),
        _column("number", sa.Integer),
        *(_column(name) for name in ("digest", "document")),
        _column("published_at", UtcDateTime),
        _column("published_by"),
        *(_column(name, sa.Integer, null=True) for name in ("from_refinement", "repeats")),
        _organisation_key("local_revision"),
        _key("local_revision", "organisation_id", "number"),
    )
    for statement in _IMMUTABLE[op.get_bind().dialect.name]:
        op.execute(statement)
