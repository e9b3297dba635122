"""The sums that records are folded into, and how far they are folded, as statements.

Inside: rows in and out, always of one organisation; doubles as bytes. Outside: the records (`store.told_records`),
what is added to what (`usecases.refinement_fold`), what the sums mean (`domain.refinement_types`).
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

from sqlalchemy import delete, select, text, tuple_, update
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.orm import Session

from service.store.tables import Feedback
from service.store.tables_local import CellBelief, CellCoding, CellSums, FoldState, Rebuild, RecordWeight

_IDLE: Final = "idle_in_transaction_session_timeout"  # a busy machine thinks long between two statements
_CHUNK: Final = 500  # SQLite takes 32766 parameters a statement
SumsKey = tuple[str, str, int, str, str, str, int]  # crop, class, member, machine, cell, outcome, season


@dataclass(frozen=True, slots=True)
class Belief:
    """What records were weighed by; doubles as bytes."""

    crop: str
    machine_class: str
    statistics: str
    method: str
    mean: bytes
    covariance: bytes
    noise_variance: bytes


def long_work(session: Session) -> None:
    """Allow statements of this transaction the time that work in the background takes."""
    if session.get_bind().dialect.name == "postgresql":
        for name, value in (("statement_timeout", "10min"), ("lock_timeout", "1min"), (_IDLE, "10min")):
            session.execute(text(f"SET LOCAL {name} = '{value}'"))


def fold_state(session: Session, organisation_id: int, now: datetime) -> FoldState:
    """Return how far an organisation is folded, and keep others from folding it until the transaction ends."""
    kind: Any = sqlite.insert if session.get_bind().dialect.name == "sqlite" else postgresql.insert
    row = {"organisation_id": organisation_id, "folded_upto": None, "folded_at": now}
    session.execute(kind(FoldState).values(row).on_conflict_do_nothing())
    query = select(FoldState).where(FoldState.organisation_id == organisation_id).with_for_update()
    return session.scalars(query, execution_options={"populate_existing": True}).one()


def forget(session: Session, organisation_id: int) -> None:
    """Have the next fold begin with nothing, because what was believed rests on somebody who is gone."""
    long_work(session)
    session.execute(update(FoldState).where(FoldState.organisation_id == organisation_id).values(folded_upto=None))


def clear(session: Session, organisation_id: int) -> None:
    """Drop sums, weights of records, beliefs and what they were coded against."""
    own = select(Feedback.id).where(Feedback.organisation_id == organisation_id)
    session.execute(delete(RecordWeight).where(RecordWeight.feedback_id.in_(own)))
    for table in (CellSums, CellBelief, CellCoding):
        session.execute(delete(table).where(table.organisation_id == organisation_id))


def seasons_of(session: Session, organisation_id: int, crop: str, machine_class: str) -> Sequence[tuple[int, int]]:
    """Return contributors and seasons that have records of a crop and class."""
    query = (
        select(Feedback.member_id, Feedback.season)
        .where(
            Feedback.organisation_id == organisation_id,
            Feedback.crop == crop,
            Feedback.machine_class == machine_class,
        )
        .distinct()
        .order_by(Feedback.member_id, Feedback.season)
    )
    return [(member, season) for member, season in session.execute(query)]


def keep_belief(session: Session, organisation_id: int, belief: Belief, now: datetime) -> int:
    """Keep what records are weighed by; returns its number."""
    row = CellBelief(
        organisation_id=organisation_id,
        crop=belief.crop,
        machine_class=belief.machine_class,
        made_at=now,
        statistics=belief.statistics,
        method=belief.method,
        mean=belief.mean,
        covariance=belief.covariance,
        noise_variance=belief.noise_variance,
    )
    session.add(row)
    session.flush()
    return row.id


def codings(session: Session, organisation_id: int) -> Mapping[tuple[str, str], str]:
    """Return what the sums of each crop and class are coded against."""
    query = select(CellCoding).where(CellCoding.organisation_id == organisation_id)
    return {(row.crop, row.machine_class): row.coding for row in session.scalars(query)}


def set_coding(session: Session, organisation_id: int, crop: str, machine_class: str, coding: str) -> None:
    """Say what the sums of a crop and class are coded against."""
    session.merge(CellCoding(organisation_id=organisation_id, crop=crop, machine_class=machine_class, coding=coding))
    session.flush()


def sums(
    session: Session, organisation_id: int, crop: str, machine_class: str, members: Iterable[int] | None = None
) -> Mapping[SumsKey, bytes]:
    """Return the sums of a crop and class, of some contributors or of all."""
    query = select(CellSums).where(
        CellSums.organisation_id == organisation_id, CellSums.crop == crop, CellSums.machine_class == machine_class
    )
    if members is not None:
        query = query.where(CellSums.member_id.in_(list(members)))
    columns = select(*query.subquery().c)
    return {
        (row.crop, row.machine_class, row.member_id, row.machine, row.cell, row.outcome, row.season): row.sums
        for row in session.execute(columns)
    }


def put_sums(session: Session, organisation_id: int, rows: Mapping[SumsKey, bytes]) -> None:
    """Write sums, over those that stand there."""
    if not rows:
        return
    kind: Any = sqlite.insert if session.get_bind().dialect.name == "sqlite" else postgresql.insert
    names = ("crop", "machine_class", "member_id", "machine", "cell", "outcome", "season")
    statement = kind(CellSums)
    statement = statement.on_conflict_do_update(
        index_elements=["organisation_id", *names], set_={"sums": statement.excluded.sums}
    )
    values = [
        {"organisation_id": organisation_id, **dict(zip(names, key, strict=True)), "sums": packed}
        for key, packed in rows.items()
    ]
    for first in range(0, len(values), _CHUNK):
        session.execute(statement, values[first : first + _CHUNK])


def drop_sums(session: Session, organisation_id: int, keys: Sequence[SumsKey]) -> None:
    """Delete sums."""
    owner = tuple_(
        CellSums.crop,
        CellSums.machine_class,
        CellSums.member_id,
        CellSums.machine,
        CellSums.cell,
        CellSums.outcome,
        CellSums.season,
    )
    for first in range(0, len(keys), _CHUNK):
        part = list(keys[first : first + _CHUNK])
        session.execute(delete(CellSums).where(CellSums.organisation_id == organisation_id, owner.in_(part)))


def drop_season(session: Session, organisation_id: int, member_id: int, season: int) -> None:
    """Delete the sums of a contributor's season."""
    session.execute(
        delete(CellSums).where(
            CellSums.organisation_id == organisation_id, CellSums.member_id == member_id, CellSums.season == season
        )
    )


def to_rebuild(session: Session, organisation_id: int) -> Sequence[Rebuild]:
    """Return the contributors' seasons whose sums hold a record that was taken back."""
    query = select(Rebuild).where(Rebuild.organisation_id == organisation_id).order_by(Rebuild.id)
    return session.scalars(query).all()


def rebuilt(session: Session, idents: Sequence[int]) -> None:
    """Note that these were made anew."""
    session.execute(delete(Rebuild).where(Rebuild.id.in_(idents)))


def crops_and_classes(session: Session, organisation_id: int) -> Sequence[tuple[str, str]]:
    """Return the crops and classes that an organisation has sums of."""
    query = (
        select(CellSums.crop, CellSums.machine_class)
        .where(CellSums.organisation_id == organisation_id)
        .distinct()
        .order_by(CellSums.crop, CellSums.machine_class)
    )
    return [(crop, machine_class) for crop, machine_class in session.execute(query)]
