"""Records to be folded, and the sums they are folded into, as statements.

Inside: rows in and out, always of one organisation; doubles as bytes. Outside: what is added to what
(`usecases.refinement_fold`), what the sums mean (`domain.refinement_types`).
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final
from uuid import UUID

from sqlalchemy import Row, Select, delete, func, insert, select, text, tuple_
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.orm import Session

from service.store.tables import Feedback
from service.store.tables_local import CellBelief, CellCoding, CellSums, FoldState, Rebuild, RecordWeight

_IDLE: Final = "idle_in_transaction_session_timeout"  # a busy machine thinks long between two statements
_CHUNK: Final = 500  # SQLite takes 32766 parameters a statement
_COLUMNS: Final = (
    Feedback.id,
    Feedback.member_id,
    Feedback.session_key,
    Feedback.season,
    Feedback.observed_at,
    Feedback.machine,
    Feedback.loss_method,
    Feedback.crop,
    Feedback.machine_class,
    Feedback.moisture_band,
    Feedback.grain_moisture_pct,
    Feedback.straw_condition,
    Feedback.settings,
    Feedback.suggested,
    Feedback.base,
    Feedback.machine_loss_pct,
    Feedback.broken_pct,
    Feedback.foreign_matter_pct,
    Feedback.grain_throughput_t_h,
)
Told = Row[Any]  # with the columns above
SumsKey = tuple[str, str, int, str, str, str, int]  # crop, class, member, machine, cell, outcome, season
Weights = tuple[int, int, int]  # loss, broken, foreign matter, in 1024ths


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


def last_of_next(session: Session, organisation_id: int, after: UUID | None, before: UUID, count: int) -> UUID | None:
    """Return the id of the last of the next `count` records, None where there are none."""
    query = select(Feedback.id).where(Feedback.organisation_id == organisation_id, Feedback.id < before)
    if after is not None:
        query = query.where(Feedback.id > after)
    part = query.order_by(Feedback.id).limit(count).subquery()
    # the greatest of them by order, because PostgreSQL has no max() of this type
    return session.scalar(select(part.c.id).order_by(part.c.id.desc()).limit(1))


def arrived(session: Session, organisation_id: int, after: UUID | None, upto: UUID) -> Sequence[Told]:
    """Return the records that arrived after one and not after another."""
    return session.execute(_ordered(_between(organisation_id, after, upto))).all()


def earlier_of_same_sessions(session: Session, organisation_id: int, after: UUID | None, upto: UUID) -> Sequence[Told]:
    """Return records of the same sessions that had been folded before them."""
    if after is None:
        return []
    new = select(Feedback.member_id, Feedback.session_key).where(*_between(organisation_id, after, upto)).distinct()
    late = new.subquery()
    query = (
        select(*_COLUMNS)
        .join(late, (late.c.member_id == Feedback.member_id) & (late.c.session_key == Feedback.session_key))
        .where(Feedback.organisation_id == organisation_id, Feedback.id <= after)
    )
    return session.execute(query.order_by(Feedback.observed_at, Feedback.id)).all()


def of_season(session: Session, organisation_id: int, member_id: int, season: int, upto: UUID) -> Sequence[Told]:
    """Return the folded records of a contributor's season."""
    wanted = (
        Feedback.organisation_id == organisation_id,
        Feedback.member_id == member_id,
        Feedback.season == season,
        Feedback.id <= upto,
    )
    return session.execute(_ordered(wanted)).all()


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


def conditions_of(session: Session, idents: Sequence[UUID]) -> Mapping[UUID, Mapping[str, Any]]:
    """Return the questions that records were made with."""
    found: dict[UUID, Mapping[str, Any]] = {}
    for first in range(0, len(idents), _CHUNK):
        query = select(Feedback.id, Feedback.conditions).where(Feedback.id.in_(idents[first : first + _CHUNK]))
        found.update((ident, told) for ident, told in session.execute(query))
    return found


def weights_of(session: Session, idents: Sequence[UUID]) -> Mapping[UUID, Weights]:
    """Return the weights of records that have some below 1."""
    found: dict[UUID, Weights] = {}
    for first in range(0, len(idents), _CHUNK):
        query = select(RecordWeight).where(RecordWeight.feedback_id.in_(idents[first : first + _CHUNK]))
        for row in session.scalars(query):
            found[row.feedback_id] = (row.loss, row.broken, row.foreign_matter)
    return found


def keep_weights(session: Session, belief_id: int, weights: Mapping[UUID, Weights]) -> None:
    """Keep the weights of new records, with what they were weighed by."""
    rows = [
        {"feedback_id": ident, "belief_id": belief_id, "loss": one[0], "broken": one[1], "foreign_matter": one[2]}
        for ident, one in weights.items()
    ]
    if rows:
        session.execute(insert(RecordWeight), rows)


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


def records_waiting(session: Session, organisation_id: int, after: UUID | None) -> int:
    """Return how many records are not in the sums yet."""
    query = select(func.count()).select_from(Feedback).where(Feedback.organisation_id == organisation_id)
    return session.scalar(query if after is None else query.where(Feedback.id > after)) or 0


def _between(organisation_id: int, after: UUID | None, upto: UUID) -> tuple[Any, ...]:
    wanted: tuple[Any, ...] = (Feedback.organisation_id == organisation_id, Feedback.id <= upto)
    return wanted if after is None else (*wanted, Feedback.id > after)


def _ordered(wanted: Iterable[Any]) -> Select[Any]:
    return select(*_COLUMNS).where(*wanted).order_by(Feedback.observed_at, Feedback.id)
