"""What the pages of drafts and published tables need to be told, and who tells it.

Inside: shapes for the pages alone. Outside: the use cases that they come from (`reviewing`), how they are shown
(`pages_*`).
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Literal, Protocol

from service.knowledge.table import KnowledgeTable
from service.store import Session
from service.usecases.access import Caller

Choice = Literal["accepted", "refused"]


class StaleError(Exception):
    """Somebody else decided or published since the page was made."""


@dataclass(frozen=True, slots=True)
class Decision:
    """What a reviewer said of a row; `by` and `at` once it is kept."""

    choice: Choice | None
    reason: str = ""
    by: str = ""
    at: datetime | None = None


@dataclass(frozen=True, slots=True)
class RowShown:
    """A proposed number: where the base table starts, where it stands now, where it would go. Metric."""

    id: str
    setting: str
    unit: str
    base: float
    now: float
    proposed: float
    low: float | None
    high: float | None
    envelope_low: float
    envelope_high: float
    why: str
    probability: float
    same_day_share: float
    choice_effect: float
    decision: Decision


@dataclass(frozen=True, slots=True)
class EffectShown:
    """What the whole move of a cell does to an outcome; `skill` is how well held-out growers are told."""

    outcome: str
    factor: float
    low: float
    high: float
    skill: float | None


@dataclass(frozen=True, slots=True)
class CellShown:
    """A row of the table: crop, class and moisture band, with the numbers that would move, or why none does."""

    crop: str
    machine_class: str
    band: str | None
    why: str
    rows: tuple[RowShown, ...]
    effects: tuple[EffectShown, ...]
    gain: float
    gain_low: float
    gain_high: float
    probability: float
    least_gain_without: float | None
    records: float
    contributors_band: str
    sessions: float
    comparisons: float
    largest_share: float
    own: bool


@dataclass(frozen=True, slots=True)
class StandingShown:
    """How a contributor agrees with the others, by pseudonym, for the reviewer of the same organisation."""

    contributor: str
    crop: str
    machine_class: str
    records: float
    disagreement: float
    set_aside: bool


@dataclass(frozen=True, slots=True)
class DraftLine:
    """A draft in the list."""

    number: int
    made_at: datetime
    made_by: str
    published_as: int | None
    open: bool
    proposed: int
    accepted: int
    refused: int
    left: int


@dataclass(frozen=True, slots=True)
class DraftShown:
    """A draft; `tag` is what If-Match speaks of, and changes with every decision."""

    line: DraftLine
    tag: str
    base_revision: str
    on_revision: int | None
    cells: tuple[CellShown, ...]
    standing: tuple[StandingShown, ...]


@dataclass(frozen=True, slots=True)
class RevisionLine:
    """A published table in the history."""

    number: int
    published_at: datetime
    published_by: str
    from_draft: int | None
    repeats: int | None
    rows: int
    digest: str
    base_revision: str


@dataclass(frozen=True, slots=True)
class PublishedRow:
    """A number of a published table; `stale` says that the base table has moved since."""

    crop: str
    machine_class: str
    band: str | None
    setting: str
    unit: str
    base: float
    start: float
    low: float | None
    high: float | None
    records: int
    contributors_band: str
    effects: tuple[EffectShown, ...]
    base_now: float | None
    stale: bool


@dataclass(frozen=True, slots=True)
class TestShown:
    """A setting that a paired test would tell most of; `worth` is the share of the cost it is worth."""

    setting: str
    band: str | None
    unit: str
    before: float
    after: float
    worth: float
    gain: float
    pairs: int


class Reviewing(Protocol):
    """What a reviewer does, each in the transaction it is handed; refusals are those of the use cases."""

    def drafts(self, session: Session, caller: Caller) -> tuple[DraftLine, ...]:
        """Return every draft, newest first."""

    def draft(self, session: Session, table: KnowledgeTable, caller: Caller, number: int) -> DraftShown:
        """Return a draft of the caller's organisation."""

    def make(self, session: Session, table: KnowledgeTable, caller: Caller, now: datetime) -> int:
        """Make a draft and return its number."""

    def decide(
        self, session: Session, caller: Caller, number: int, tag: str, said: Mapping[str, Decision], now: datetime
    ) -> None:
        """Keep decisions, all or none."""

    def publish(
        self, session: Session, table: KnowledgeTable, caller: Caller, number: int, tag: str, now: datetime
    ) -> int:
        """Publish the accepted rows and return the number of the revision."""

    def revisions(self, session: Session, caller: Caller) -> tuple[RevisionLine, ...]:
        """Return every published table, newest first."""

    def revision(
        self, session: Session, table: KnowledgeTable, caller: Caller, number: int
    ) -> tuple[RevisionLine, tuple[PublishedRow, ...]]:
        """Return a published table."""

    def roll_back(self, session: Session, caller: Caller, number: int, newest: int, now: datetime) -> int:
        """Publish an earlier table again, if `newest` is still the newest; returns the number of the new one."""

    def tests(
        self, session: Session, table: KnowledgeTable, caller: Caller, crop: str, machine_class: str
    ) -> tuple[TestShown, ...]:
        """Return settings by what a paired test of them is worth."""
