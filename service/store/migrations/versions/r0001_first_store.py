"""Organisations, members, keys, feedback, withdrawals, idempotency, and the audit log with its triggers."""

from typing import Any

import sqlalchemy as sa
from alembic import op

from service.store.column_types import Document, Number, UtcDateTime

revision = "r0001"
down_revision = None
branch_labels = None
depends_on = None

# each statement on its own: SQLite runs one at a time
_APPEND_ONLY = {
    "sqlite": (
        "CREATE TRIGGER audit_event_no_update BEFORE UPDATE ON audit_event "
        "BEGIN SELECT RAISE(ABORT, 'the audit log is append-only'); END",
        "CREATE TRIGGER audit_event_no_delete BEFORE DELETE ON audit_event "
        "BEGIN SELECT RAISE(ABORT, 'the audit log is append-only'); END",
    ),
    "postgresql": (
        "CREATE FUNCTION refuse_change() RETURNS trigger LANGUAGE plpgsql AS "
        "$$ BEGIN RAISE EXCEPTION 'the audit log is append-only' USING ERRCODE = '23000'; END $$",
        "CREATE TRIGGER audit_event_no_change BEFORE UPDATE OR DELETE ON audit_event "
        "FOR EACH ROW EXECUTE FUNCTION refuse_change()",
        "CREATE TRIGGER audit_event_no_truncate BEFORE TRUNCATE ON audit_event "
        "FOR EACH STATEMENT EXECUTE FUNCTION refuse_change()",
    ),
}


def upgrade() -> None:
    """Make everything."""
    _organisations()
    _keys()
    _feedback()
    _withdrawals()
    _answers()
    _audit()


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


def _organisations() -> None:
    op.create_table(
        "organisation",
        _column("id", Number),
        _column("name"),
        _column("season_starts_month", sa.Integer),
        _column("created_at", UtcDateTime),
        sa.CheckConstraint("season_starts_month BETWEEN 1 AND 12", name=op.f("ck_organisation_month")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_organisation")),
        sa.UniqueConstraint("name", name=op.f("uq_organisation_name")),
    )
    op.create_table(
        "member",
        _column("id", Number),
        _column("organisation_id", Number),
        _column("pseudonym"),
        _column("joined_at", UtcDateTime),
        _organisation_key("member"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_member")),
        sa.UniqueConstraint("organisation_id", "id", name=op.f("uq_member_organisation_id_id")),
        sa.UniqueConstraint("organisation_id", "pseudonym", name=op.f("uq_member_organisation_id_pseudonym")),
    )


def _keys() -> None:
    op.create_table(
        "api_key",
        _column("id", Number),
        _column("organisation_id", Number),
        _column("member_id", Number, null=True),
        _column("prefix"),
        _column("secret_sha256", sa.LargeBinary(32)),
        _column("scopes"),
        _column("label"),
        _column("created_at", UtcDateTime),
        _column("expires_at", UtcDateTime, null=True),
        _column("revoked_at", UtcDateTime, null=True),
        _organisation_key("api_key"),
        _member_key("api_key"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_api_key")),
        sa.UniqueConstraint("prefix", name=op.f("uq_api_key_prefix")),
    )
    op.create_index("ix_api_key_organisation_id_member_id", "api_key", ["organisation_id", "member_id"])


def _feedback() -> None:
    op.create_table(
        "feedback",
        *_who_and_when(),
        *_conditions(),
        *_settings(),
        *_outcomes(),
        _column("latitude_deg", sa.Double, null=True),
        _column("longitude_deg", sa.Double, null=True),
        _column("knowledge_revision"),
        _column("knowledge_digest"),
        sa.CheckConstraint("rating BETWEEN 1 AND 5", name=op.f("ck_feedback_rating")),
        _organisation_key("feedback"),
        _member_key("feedback"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_feedback")),
    )
    op.create_index("ix_feedback_organisation_id_id", "feedback", ["organisation_id", "id"])
    op.create_index("ix_feedback_member", "feedback", ["organisation_id", "member_id", "id"])
    op.create_index("ix_feedback_session", "feedback", ["organisation_id", "member_id", "session_key", "observed_at"])
    op.create_index("ix_feedback_row", "feedback", ["organisation_id", "crop", "machine_class", "season"])


def _who_and_when() -> list[sa.Column[Any]]:
    return [
        _column("id", sa.Uuid),
        _column("organisation_id", Number),
        _column("member_id", Number),
        _column("api_key_prefix"),
        _column("received_at", UtcDateTime),
        _column("observed_at", UtcDateTime),
        _column("observed_on", sa.Date),
        _column("season", sa.Integer),
        _column("machine"),
        _column("field", null=True),
        _column("session_key"),
    ]


def _conditions() -> list[sa.Column[Any]]:
    texts = ("crop", "machine_class", "moisture_band", "straw_condition", "stand", "use_for", "priority")
    numbers = ("grain_moisture_pct", "yield_t_ha", "straw_to_grain", "slope_along_deg", "slope_across_deg")
    return [
        *(_column(name) for name in texts),
        *(_column(name, sa.Double) for name in numbers),
        _column("conditions", Document),
    ]


def _settings() -> list[sa.Column[Any]]:
    return [
        _column("settings", Document),
        _column("suggested", Document, null=True),
        *(_column(name, null=True) for name in ("suggested_from", "advice", "advice_revision", "trial_arm")),
        _column("trial_randomised", sa.Boolean),
    ]


def _outcomes() -> list[sa.Column[Any]]:
    losses = [
        f"{place}_loss_{end}" for place in ("machine", "header") for end in ("kg_ha", "pct", "low_pct", "high_pct")
    ]
    numbers = [*losses, "broken_pct", "foreign_matter_pct", "grain_throughput_t_h"]
    return [
        *(_column(name, null=True) for name in ("loss_method", "returns_level", "note")),
        _column("frames", Document, null=True),
        *(_column(name, sa.Double, null=True) for name in numbers),
        _column("rating", sa.Integer, null=True),
    ]


def _withdrawals() -> None:
    op.create_table(
        "withdrawal",
        _column("feedback_id", sa.Uuid),
        _column("organisation_id", Number),
        _column("member_id", Number),
        _column("session_key"),
        _column("season", sa.Integer),
        _column("withdrawn_at", UtcDateTime),
        _organisation_key("withdrawal"),
        _member_key("withdrawal"),
        sa.PrimaryKeyConstraint("feedback_id", name=op.f("pk_withdrawal")),
    )
    op.create_index(
        "ix_withdrawal_organisation_id_member_id_season", "withdrawal", ["organisation_id", "member_id", "season"]
    )


def _answers() -> None:
    op.create_table(
        "idempotency",
        _column("organisation_id", Number),
        _column("key", sa.Uuid),
        _column("member_id", Number),
        _column("fingerprint", sa.LargeBinary(32)),
        _column("body"),
        _column("created_at", UtcDateTime),
        _organisation_key("idempotency"),
        _member_key("idempotency"),
        sa.PrimaryKeyConstraint("organisation_id", "key", name=op.f("pk_idempotency")),
    )
    op.create_index("ix_idempotency_organisation_id_member_id", "idempotency", ["organisation_id", "member_id"])
    op.create_index("ix_idempotency_created_at", "idempotency", ["created_at"])


def _audit() -> None:
    op.create_table(
        "audit_event",
        _column("id", Number),
        _column("at", UtcDateTime),
        _column("organisation_id", Number, null=True),
        _column("actor"),
        _column("action"),
        _column("subject"),
        _column("facts", Document),
        _organisation_key("audit_event"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_audit_event")),
    )
    op.create_index("ix_audit_event_organisation_id_id", "audit_event", ["organisation_id", "id"])
    for statement in _APPEND_ONLY[op.get_bind().dialect.name]:
        op.execute(statement)
