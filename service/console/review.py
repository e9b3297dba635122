"""What the pages of drafts and published tables need to be told.

Inside: shapes for the pages alone. Outside: the use cases that they come from (`reviewing`), how they are shown
(`pages_*`).
"""

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

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

    @property
    def mark(self) -> str:
        """What a form remembers of it, to tell what was entered from what was only left standing."""
        return hashlib.sha256(repr((self.choice, self.reason)).encode()).hexdigest()[:12]


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
    likely: tuple[float, float] | None  # where the best lies with 80 % probability
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
    """A row of the table: crop, class and moisture band, its numbers, and why they would move or not.

    Counts are None where so few contributors stand behind them that they are not told.
    """

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
    records: float | None
    contributors: Band
    comparisons: float | None
    largest_share: float | None
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
    def doubtful(self) -> str | None:
        """The outcome that falls most, if growers who are left out are not predicted by it."""
        falling = [one for one in self.effects if one.factor < 1]
        driving = min(falling, key=lambda one: one.factor) if falling else None
        return driving.outcome if driving is not None and (driving.skill is None or driving.skill <= 0) else None


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
    numbers: int
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
    def place(self) -> tuple[str, str]:
        """Crop and machine class."""
        return self.crop, self.machine_class

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
    pairs: int
