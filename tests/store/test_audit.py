"""The audit log takes lines and gives up none, whoever asks the database."""

from datetime import UTC, datetime

import pytest
from sqlalchemy import exc, text

from service.store import Store, audit

NOW = datetime(2026, 7, 28, 12, 30, tzinfo=UTC)


def write(store: Store, count: int = 1) -> None:
    with store.writing() as session:
        for number in range(count):
            audit.record(
                session, NOW, organisation_id=None, actor="test", action="done", subject=f"thing {number}", n=number
            )


def test_lines_are_added_and_read_newest_first(store: Store) -> None:
    write(store, 3)
    with store.reading() as session:
        found = audit.events(session, newest=2)
        assert [(one.subject, one.facts, one.at) for one in found] == [
            ("thing 2", {"n": 2}, NOW),
            ("thing 1", {"n": 1}, NOW),
        ]


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE audit_event SET actor = 'someone else'",
        "DELETE FROM audit_event",
        "DELETE FROM audit_event WHERE id = 1",
        "INSERT OR REPLACE INTO audit_event (id, at, actor, action, subject, facts) "
        "SELECT id, at, 'someone else', action, subject, facts FROM audit_event",
        "INSERT INTO audit_event SELECT * FROM audit_event WHERE true ON CONFLICT (id) DO UPDATE SET actor = 'x'",
        "TRUNCATE audit_event",
        "TRUNCATE organisation CASCADE",
    ],
)
def test_no_line_is_changed_or_deleted(statement: str, store: Store) -> None:
    only = {"INSERT OR": "sqlite", "TRUNCATE ": "postgresql"}.get(statement[:9])
    if only not in (None, store.engine.dialect.name):
        return  # the other database has no such statement
    write(store)
    with pytest.raises(exc.IntegrityError, match="append-only"), store.writing() as session:
        session.execute(text(statement))
    with store.reading() as session:
        assert [one.actor for one in audit.events(session)] == ["test"]
