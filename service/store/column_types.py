"""Column types that are the same on both databases."""

from datetime import UTC, datetime
from typing import Any, Final

from sqlalchemy import JSON, BigInteger, DateTime, Dialect, Integer
from sqlalchemy.dialects.postgresql import JSONB
from sqlalchemy.types import TypeDecorator


class UtcDateTime(TypeDecorator[datetime]):
    """A moment with its zone: kept as UTC, given back as UTC.

    SQLite has no zones, and would hand back a moment that means something else on every machine.
    """

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Refuse a moment without zone, before it is stored as one of another zone."""
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError("a moment without zone")
        moment = value.astimezone(UTC)
        return moment.replace(tzinfo=None) if dialect.name == "sqlite" else moment

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Return the moment in UTC."""
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


# binary JSON where the database has it, so that a value in it can be read without parsing the text
Document: Final[Any] = JSON(none_as_null=True).with_variant(JSONB(none_as_null=True), "postgresql")
# only a column called INTEGER numbers its rows on SQLite
Number: Final[Any] = BigInteger().with_variant(Integer, "sqlite")
