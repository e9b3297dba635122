"""How the figures of the table are known: counts by mark, per crop and for the shared files.

Inside: counting. Outside: printing.
"""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final, get_args

from service.knowledge.schema import Entry, Known
from service.knowledge.table import KnowledgeTable
from service.knowledge.tree import walk

MARKS: Final[tuple[Known, ...]] = get_args(Known)


@dataclass(frozen=True, slots=True)
class Shares:
    """The number of figures under each mark; every mark is a key."""

    name: str
    counts: dict[Known, int]

    @property
    def total(self) -> int:
        """All figures."""
        return sum(self.counts.values())

    def share_pct(self, known: Known) -> float:
        """The share of one mark. [%]"""
        return 100 * self.counts[known] / self.total if self.total else 0.0


def shares(table: KnowledgeTable) -> list[Shares]:
    """Count the figures of each crop: every entry of its file that says how it is known."""
    return [_counted(crop.id, [crop]) for crop in table.crops.values()]


def shared_files(table: KnowledgeTable) -> list[Shares]:
    """Count the figures of the files that all crops share."""
    files: dict[str, Entry | None] = {
        "machines": table.machines,
        "responses": table.responses,
        "economics": table.economics,
        "influence": table.influence.file,
        "loss monitor": table.monitor,
        "harvest window": table.window,
        "relearn": table.relearn,
        "refinement": table.refinement,
    }
    return [_counted(name, [content]) for name, content in files.items() if content is not None]


def total(parts: Iterable[Shares], name: str = "total") -> Shares:
    """Add up several counts."""
    parts = list(parts)
    return Shares(name, {mark: sum(part.counts[mark] for part in parts) for mark in MARKS})


def _counted(name: str, entries: Iterable[Entry]) -> Shares:
    found = Counter(getattr(inner, "known", None) for entry in entries for _, inner in walk(entry))
    return Shares(name, {mark: found[mark] for mark in MARKS})
