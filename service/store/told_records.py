"""Records to be folded, read as columns, and the weights that they keep.

Inside: rows in and out, always of one organisation. Outside: sums (`store.cell_sums`), what the columns mean
(`usecases.refinement_records`). Documents are handed on as the text they are kept as: most are alike, and a text
is read once.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, fields
from typing import Any, Final, Self
from uuid import UUID

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import Text, cast, func, insert, select, tuple_
from sqlalchemy.orm import Session, aliased

from service.store.tables import Feedback
from service.store.tables_local import RecordWeight

_CHUNK: Final = 500  # SQLite takes 32766 parameters a statement
_PART: Final = 1000  # rows at a time; more would wait in memory to be searched for what can be given back
_COLUMNS: Final = (
    cast(Feedback.id, Text),
    Feedback.session_key,
    Feedback.observed_at,
    Feedback.machine,
    Feedback.loss_method,
    Feedback.crop,
    Feedback.machine_class,
    Feedback.moisture_band,
    Feedback.straw_condition,
    cast(Feedback.settings, Text),
    cast(Feedback.suggested, Text),
    cast(Feedback.base, Text),
    Feedback.member_id,
    Feedback.season,
    Feedback.grain_moisture_pct,
    Feedback.grain_throughput_t_h,
    Feedback.machine_loss_pct,
    Feedback.broken_pct,
    Feedback.foreign_matter_pct,
)
_OBJECTS: Final = 12  # the first of them
Objects = NDArray[np.object_]
Numbers = NDArray[np.float64]
Whole = NDArray[np.int64]
Weights = tuple[int, int, int]  # loss, broken, foreign matter, in 1024ths


@dataclass(frozen=True, slots=True, eq=False)
class Told:
    """Records as columns, by rising id; numbers that were not told are NaN, documents are JSON as text.

    An id is the text that its database makes of it.
    """

    ident: Objects
    session_key: Objects
    observed_s: Numbers
    machine: Objects
    loss_method: Objects
    crop: Objects
    machine_class: Objects
    moisture_band: Objects
    straw_condition: Objects
    settings: Objects
    suggested: Objects
    base: Objects
    member_id: Whole
    season: Whole
    grain_moisture_pct: Numbers
    grain_throughput_t_h: Numbers
    amounts_pct: Numbers  # one column each for loss, broken, foreign matter

    def __len__(self) -> int:
        """Number of records."""
        return len(self.ident)

    def chosen(self, places: Whole) -> Self:
        """Return some of the records, in that order."""
        return type(self)(*(getattr(self, one.name)[places] for one in fields(self)))

    def followed_by(self, other: Self) -> Self:
        """Return these records and, after them, others with greater ids."""
        if not len(self):
            return other
        return type(self)(
            *(np.concatenate((getattr(self, one.name), getattr(other, one.name))) for one in fields(self))
        )


def last_of_next(session: Session, organisation_id: int, after: UUID | None, before: UUID, count: int) -> UUID | None:
    """Return the id of the last of the next `count` records, None where there are none."""
    query = select(Feedback.id).where(Feedback.organisation_id == organisation_id, Feedback.id < before)
    if after is not None:
        query = query.where(Feedback.id > after)
    part = query.order_by(Feedback.id).limit(count).subquery()
    # the greatest of them by order, because PostgreSQL has no max() of this type
    return session.scalar(select(part.c.id).order_by(part.c.id.desc()).limit(1))


def arrived(session: Session, organisation_id: int, after: UUID | None, upto: UUID) -> Told:
    """Return the records that arrived after one and not after another."""
    return _read(session, _between(organisation_id, after, upto))


def earlier_of_same_sessions(session: Session, organisation_id: int, after: UUID | None, upto: UUID) -> Told:
    """Return records of the same sessions that had been folded before them."""
    if after is None:
        return _told([])
    new = select(Feedback.member_id, Feedback.session_key).where(*_between(organisation_id, after, upto)).distinct()
    one, old = new.subquery(), aliased(Feedback)
    # counted session by session: a join could be made by reading all records that there are
    folded = select(func.count()).where(
        old.organisation_id == organisation_id,
        old.member_id == one.c.member_id,
        old.session_key == one.c.session_key,
        old.id <= after,
    )
    late = session.execute(select(one.c.member_id, one.c.session_key).where(folded.scalar_subquery() > 0))
    owners = [(member, key) for member, key in late]
    owner = tuple_(Feedback.member_id, Feedback.session_key)
    wanted = (Feedback.organisation_id == organisation_id, Feedback.id <= after)
    found = _told([])
    for first in range(0, len(owners), _CHUNK):
        found = found.followed_by(_read(session, (*wanted, owner.in_(owners[first : first + _CHUNK]))))
    return found.chosen(np.argsort(found.ident, kind="stable"))


def of_season(session: Session, organisation_id: int, member_id: int, season: int, upto: UUID) -> Told:
    """Return the folded records of a contributor's season."""
    wanted = (
        Feedback.organisation_id == organisation_id,
        Feedback.member_id == member_id,
        Feedback.season == season,
        Feedback.id <= upto,
    )
    return _read(session, wanted)


def records_waiting(session: Session, organisation_id: int, after: UUID | None) -> int:
    """Return how many records are not in the sums yet."""
    query = select(func.count()).select_from(Feedback).where(Feedback.organisation_id == organisation_id)
    return session.scalar(query if after is None else query.where(Feedback.id > after)) or 0


def conditions_of(session: Session, idents: Sequence[str]) -> Mapping[str, Mapping[str, Any]]:
    """Return the questions that records were made with."""
    found: dict[str, Mapping[str, Any]] = {}
    for part in _chunks(idents):
        query = select(cast(Feedback.id, Text), Feedback.conditions).where(Feedback.id.in_(part))
        found.update((ident, told) for ident, told in session.execute(query))
    return found


def weights_of(session: Session, idents: Sequence[str]) -> Mapping[str, Weights]:
    """Return the weights of records that have some below 1."""
    found: dict[str, Weights] = {}
    ident = cast(RecordWeight.feedback_id, Text)
    for part in _chunks(idents):
        query = select(ident, RecordWeight.loss, RecordWeight.broken, RecordWeight.foreign_matter).where(
            RecordWeight.feedback_id.in_(part)
        )
        found.update((one, (loss, broken, foreign)) for one, loss, broken, foreign in session.execute(query))
    return found


def keep_weights(session: Session, belief_id: int, idents: Sequence[str], weights: Whole) -> None:
    """Keep the weights of new records, one row each, with what they were weighed by."""
    rows = zip(idents, *weights.T.tolist(), strict=True)
    if session.get_bind().dialect.name == "sqlite":
        names = ("loss", "broken", "foreign_matter")
        values = [
            {"feedback_id": UUID(ident), "belief_id": belief_id, **dict(zip(names, told, strict=True))}
            for ident, *told in rows
        ]
        if values:
            session.execute(insert(RecordWeight), values)
        return
    # the server's own way for many rows; a statement for each would wait for it as often
    columns = "feedback_id, belief_id, loss, broken, foreign_matter"
    driver = session.connection().connection.driver_connection
    assert driver is not None
    with driver.cursor() as cursor, cursor.copy(f"COPY {RecordWeight.__tablename__} ({columns}) FROM STDIN") as copy:
        copy.write("".join(f"{ident}\t{belief_id}\t{loss}\t{broken}\t{last}\n" for ident, loss, broken, last in rows))


def _between(organisation_id: int, after: UUID | None, upto: UUID) -> tuple[Any, ...]:
    wanted: tuple[Any, ...] = (Feedback.organisation_id == organisation_id, Feedback.id <= upto)
    return wanted if after is None else (*wanted, Feedback.id > after)


def _chunks(idents: Sequence[str]) -> Iterator[list[UUID]]:
    for first in range(0, len(idents), _CHUNK):
        yield [UUID(one) for one in idents[first : first + _CHUNK]]


def _read(session: Session, wanted: Iterable[Any]) -> Told:
    query = select(*_COLUMNS).where(*wanted).order_by(Feedback.id)
    columns: list[list[Any]] = [[] for _ in _COLUMNS]
    # on the connection, past what a session does for objects
    with session.connection().execute(query, execution_options={"yield_per": _PART}) as result:
        for part in result.partitions():
            for column, more in zip(columns, zip(*part, strict=True), strict=True):
                column.extend(more)
    return _told(columns)


def _told(columns: Sequence[Sequence[Any]]) -> Told:
    given = iter(columns or [()] * len(_COLUMNS))
    objects = [np.array(next(given), dtype=object) for _ in range(_OBJECTS)]
    # to the microsecond: a double has room for that until the year 2242
    objects[2] = np.array([moment.timestamp() for moment in objects[2]], dtype=np.float64)
    member, season = (np.array(next(given), dtype=np.int64) for _ in range(2))
    moisture, throughput, *amounts = (np.array(column, dtype=np.float64) for column in given)
    found: list[NDArray[Any]] = [*objects, member, season, moisture, throughput, np.column_stack(amounts)]
    return Told(*found)
