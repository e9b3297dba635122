"""What the pages of drafts and published tables need to be told, and who tells it.

Inside: shapes for the pages alone. Outside: the use cases that they come from (`reviewing`), how they are shown
(`pages_*`).
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Literal, Protocol

from service.knowledge.table import KnowledgeTable
from service.store import Session, Store
from service.usecases.access import Caller
from service.usecases.coop_overview import Band

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
class EffectShown:
    """What a move does to an outcome: factor with 80 % interval; `skill` is how well held-out growers are told."""

    outcome: str
    factor: float
    low: float
    high: float
    skill: float | None


@dataclass(frozen=True, slots=True)
class NumberShown:
    """A number of a row: where the base table starts, where it stands now, where it would go. Metric."""

    setting: str
    unit: str
    base: float
    now: float
    proposed: float
    envelope_low: float
    envelope_high: float
    why: str
    probability: float
    same_day_share: float
    choice_effect: float
    base_moved: bool

    @property
    def moves(self) -> bool:
        """Whether it would go anywhere."""
        return self.proposed != self.now


@dataclass(frozen=True, slots=True)
class RowShown:
    """A row of the table: crop, class and moisture band, its numbers, and why they would move or not."""

    id: str
    crop: str
    machine_class: str
    band: str
    why: str
    numbers: tuple[NumberShown, ...]
    effects: tuple[EffectShown, ...]
    gain: float
    gain_low: float
    gain_high: float
    probability: float
    least_gain_without: float | None
    records: float
    contributors: Band
    comparisons: float
    largest_share: float
    own: bool
    decision: Decision

    @property
    def proposed(self) -> bool:
        """Whether there is something to decide."""
        return self.why == "proposed"

    @property
    def moving(self) -> list[NumberShown]:
        """Numbers that would move."""
        return [one for one in self.numbers if one.moves]

    @property
    def staying(self) -> list[NumberShown]:
        """Numbers that would stay."""
        return [one for one in self.numbers if not one.moves]

    @property
    def driven_by_chance(self) -> bool:
        """Whether the outcome that falls most is one that held-out growers are not told by."""
        falling = [one for one in self.effects if one.factor < 1]
        skill = min(falling, key=lambda one: one.factor).skill if falling else None
        return skill is not None and skill <= 0


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
    """A draft; `tag` is its version, which rises with every decision; `outdated` ones cannot be published."""

    line: DraftLine
    tag: str
    base_revision: str
    on_revision: int | None
    outdated: bool
    prices: Mapping[str, float]
    rows: tuple[RowShown, ...]
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
class PublishedNumber:
    """A number of a published table; `base_now` is that of the base table of today, None where it has none."""

    crop: str
    machine_class: str
    band: str | None
    setting: str
    unit: str
    base: float
    start: float
    records: int
    contributors: str
    effects: tuple[EffectShown, ...]
    base_now: float | None

    @property
    def stale(self) -> bool:
        """Whether the base table has moved since."""
        return self.base_now is None or abs(self.base_now - self.base) > 1e-6


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

    def make(self, store: Store, table: KnowledgeTable, caller: Caller, now: datetime) -> int:
        """Make a draft, in transactions of its own, and return its number."""

    def decide(
        self,
        session: Session,
        table: KnowledgeTable,
        caller: Caller,
        number: int,
        tag: str,
        said: Mapping[str, Decision],
        now: datetime,
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
    ) -> tuple[RevisionLine, tuple[PublishedNumber, ...]]:
        """Return a published table."""

    def roll_back(self, session: Session, caller: Caller, number: int, newest: int, now: datetime) -> int:
        """Publish an earlier table again, if `newest` is still the newest; returns the number of the new one."""

    def tests(
        self, session: Session, table: KnowledgeTable, caller: Caller, crop: str, machine_class: str
    ) -> tuple[TestShown, ...]:
        """Return settings by what a paired test of them is worth."""
