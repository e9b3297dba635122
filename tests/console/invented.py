"""A reviewing desk in memory with an invented draft, for tests of the pages alone."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, datetime

from service.console.review import (
    CellShown,
    Decision,
    DraftLine,
    DraftShown,
    EffectShown,
    PublishedRow,
    RevisionLine,
    RowShown,
    StaleError,
    StandingShown,
    TestShown,
)
from service.errors import NotFound
from service.knowledge.table import KnowledgeTable
from service.store import Session
from service.usecases.access import Caller

MADE = datetime(2026, 8, 20, 6, 30, tzinfo=UTC)
UNDECIDED = Decision(None)
EFFECTS = (
    EffectShown("loss", 0.86, 0.79, 0.94, 0.21),
    EffectShown("broken", 1.04, 0.97, 1.12, 0.58),
    EffectShown("foreign_matter", 0.99, 0.9, 1.08, -0.03),
)


def row(
    ident: str, setting: str, unit: str, base: float, now: float, proposed: float, half: float, why: str
) -> RowShown:
    low, high = base - half, base + half
    return RowShown(
        ident, setting, unit, base, now, proposed, proposed - 0.3 * half, proposed + 0.3 * half,
        low, high, why, 0.93, 0.71, 0.18, UNDECIDED,
    )  # fmt: skip


def cell(crop: str, kind: str, band: str, why: str, rows: tuple[RowShown, ...] = ()) -> CellShown:
    effects = EFFECTS if rows else ()
    few = why == "too_few_contributors"
    return CellShown(
        crop, kind, band, why, rows, effects, 0.081, 0.034, 0.127, 0.95, 0.052, 12 if few else 212.4,
        "under_5" if few else "10-19", 61, 94, 0.17, not few,
    )  # fmt: skip


CELLS = (
    cell(
        "wheat", "hybrid", "best", "proposed",
        (
            row("r1", "threshing_speed", "m/s", 28.0, 28.0, 27.0, 4.0, "largest_move"),
            row("r2", "upper_sieve_opening", "mm", 14.0, 13.5, 14.5, 4.0, "moved"),
        ),
    ),
    cell("wheat", "hybrid", "dry", "proposed", (row("r3", "cleaning_air_speed", "m/s", 6.0, 6.0, 6.4, 1.5, "moved"),)),
    cell("wheat", "hybrid", "damp", "not_sure"),
    cell(
        "barley", "walker", "best", "proposed",
        (row("r4", "concave_clearance_outlet", "mm", 8.0, 8.0, 9.0, 4.0, "moved"),),
    ),
    cell("barley", "walker", "dry", "rests_on_one_contributor"),
    cell("maize", "axial", "best", "too_few_contributors"),
)  # fmt: skip
STANDING = (
    StandingShown("farm-3", "wheat", "hybrid", 31.0, 8.2, set_aside=False),
    StandingShown("farm-9", "wheat", "hybrid", 44.0, 97.5, set_aside=True),
)
NOTE = "<script>alert('x')</script> & \"quoted\" </textarea><img src=x onerror=y>"


class InventedReview:
    """One organisation's draft and table; every other organisation has none."""

    def __init__(self, organisation: str) -> None:
        self.organisation = organisation
        self.cells = CELLS
        self.version = 1
        self.published_as: int | None = None
        self.lines: list[RevisionLine] = []
        self.tables: dict[int, tuple[PublishedRow, ...]] = {}

    def _own(self, caller: Caller, number: int = 1) -> None:
        if caller.organisation != self.organisation or number != 1:
            raise NotFound

    def _line(self) -> DraftLine:
        rows = [one for inside in self.cells for one in inside.rows]
        said = [one.decision.choice for one in rows]
        left = sum(not inside.rows for inside in self.cells)
        return DraftLine(
            1, MADE, "key abcdefgh", self.published_as, self.published_as is None, len(rows),
            said.count("accepted"), said.count("refused"), left,
        )  # fmt: skip

    def drafts(self, session: Session, caller: Caller) -> tuple[DraftLine, ...]:
        return (self._line(),) if caller.organisation == self.organisation else ()

    def draft(self, session: Session, table: KnowledgeTable, caller: Caller, number: int) -> DraftShown:
        self._own(caller, number)
        return DraftShown(self._line(), f"v{self.version}", "2026.11.1", None, self.cells, STANDING)

    def make(self, session: Session, table: KnowledgeTable, caller: Caller, now: datetime) -> int:
        self._own(caller)
        return 1

    def decide(
        self, session: Session, caller: Caller, number: int, tag: str, said: Mapping[str, Decision], now: datetime
    ) -> None:
        self._own(caller, number)
        if tag != f"v{self.version}":
            raise StaleError
        kept = {ident: Decision(one.choice, one.reason, f"key {caller.key_prefix}", now) for ident, one in said.items()}
        self.cells = tuple(
            replace(inside, rows=tuple(replace(one, decision=kept.get(one.id, one.decision)) for one in inside.rows))
            for inside in self.cells
        )
        self.version += 1

    def publish(
        self, session: Session, table: KnowledgeTable, caller: Caller, number: int, tag: str, now: datetime
    ) -> int:
        self._own(caller, number)
        if tag != f"v{self.version}":
            raise StaleError
        rows = tuple(
            PublishedRow(
                inside.crop, inside.machine_class, inside.band, one.setting, one.unit, one.base, one.proposed, one.low,
                one.high, 212, "10-19", inside.effects, one.base, stale=False,
            )
            for inside in self.cells
            for one in inside.rows
            if one.decision.choice == "accepted"
        )  # fmt: skip
        self.published_as = self.add(caller, rows, now, from_draft=1)
        self.version += 1
        return self.published_as

    def add(
        self, caller: Caller, rows: tuple[PublishedRow, ...], now: datetime, *, from_draft: int | None = None,
        repeats: int | None = None,
    ) -> int:  # fmt: skip
        number = len(self.lines) + 1
        self.tables[number] = rows
        self.lines.insert(
            0,
            RevisionLine(
                number,
                now,
                f"key {caller.key_prefix}",
                from_draft,
                repeats,
                len(rows),
                "sha256:" + "0f" * 32,
                "2026.11.1",
            ),
        )
        return number

    def revisions(self, session: Session, caller: Caller) -> tuple[RevisionLine, ...]:
        return tuple(self.lines) if caller.organisation == self.organisation else ()

    def revision(
        self, session: Session, table: KnowledgeTable, caller: Caller, number: int
    ) -> tuple[RevisionLine, tuple[PublishedRow, ...]]:
        if caller.organisation != self.organisation or number not in self.tables:
            raise NotFound
        return next(one for one in self.lines if one.number == number), self.tables[number]

    def roll_back(self, session: Session, caller: Caller, number: int, newest: int, now: datetime) -> int:
        _, rows = self.revision(session, None, caller, number)  # type: ignore[arg-type]
        if newest != len(self.lines):
            raise StaleError
        return self.add(caller, rows, now, repeats=number)

    def tests(
        self, session: Session, table: KnowledgeTable, caller: Caller, crop: str, machine_class: str
    ) -> tuple[TestShown, ...]:
        if (crop, machine_class) != ("wheat", "hybrid"):
            return ()
        return (
            TestShown("threshing_speed", "best", "m/s", 28.0, 26.0, 0.024, 0.06, 3),
            TestShown("upper_sieve_opening", "best", "mm", 13.5, 15.0, 0.009, 0.01, 3),
        )
