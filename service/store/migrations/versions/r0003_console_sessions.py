"""Sessions of the console."""

import sqlalchemy as sa
from alembic import op

from service.store.column_types import Number, UtcDateTime

revision = "r0003"
down_revision = "r0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the table."""
    op.create_table(
        "console_session",
        sa.Column("token_sha256", sa.LargeBinary(32), nullable=False),
        sa.Column("api_key_id", Number, nullable=False),
        sa.Column("created_at", UtcDateTime, nullable=False),
        sa.Column("expires_at", UtcDateTime, nullable=False),
        sa.ForeignKeyConstraint(
            ["api_key_id"], ["api_key.id"], name=op.f("fk_console_session_api_key_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("token_sha256", name=op.f("pk_console_session")),
    )
    op.create_index("ix_console_session_api_key_id", "console_session", ["api_key_id"])
    op.create_index("ix_console_session_expires_at", "console_session", ["expires_at"])
