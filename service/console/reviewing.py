"""What a reviewer does, by the use cases of refinement."""

from collections.abc import Mapping
from datetime import datetime

from service.console.review import Decision, DraftLine, DraftShown, PublishedRow, RevisionLine, TestShown
from service.errors import NotFound
from service.knowledge.table import KnowledgeTable
from service.store import Session
from service.usecases.access import Caller


class StoredReview:
    """Drafts and tables in the store."""

    def drafts(self, session: Session, caller: Caller) -> tuple[DraftLine, ...]:
        """Return every draft, newest first."""
        return ()

    def draft(self, session: Session, table: KnowledgeTable, caller: Caller, number: int) -> DraftShown:
        """Return a draft of the caller's organisation."""
        raise NotFound

    def make(self, session: Session, table: KnowledgeTable, caller: Caller, now: datetime) -> int:
        """Make a draft and return its number."""
        raise NotFound

    def decide(
        self, session: Session, caller: Caller, number: int, tag: str, said: Mapping[str, Decision], now: datetime
    ) -> None:
        """Keep decisions, all or none."""
        raise NotFound

    def publish(
        self, session: Session, table: KnowledgeTable, caller: Caller, number: int, tag: str, now: datetime
    ) -> int:
        """Publish the accepted rows and return the number of the revision."""
        raise NotFound

    def revisions(self, session: Session, caller: Caller) -> tuple[RevisionLine, ...]:
        """Return every published table, newest first."""
        return ()

    def revision(
        self, session: Session, table: KnowledgeTable, caller: Caller, number: int
    ) -> tuple[RevisionLine, tuple[PublishedRow, ...]]:
        """Return a published table."""
        raise NotFound

    def roll_back(self, session: Session, caller: Caller, number: int, newest: int, now: datetime) -> int:
        """Publish an earlier table again."""
        raise NotFound

    def tests(
        self, session: Session, table: KnowledgeTable, caller: Caller, crop: str, machine_class: str
    ) -> tuple[TestShown, ...]:
        """Return settings by what a paired test of them is worth."""
        return ()
