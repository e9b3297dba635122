"""What a machine has, what it has not, and what was not said.

Inside: fittings by request and machine class, and refusing what needs a fitting that is not there. Outside:
which task needs which (the knowledge table).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, Protocol, TypeVar

from service.errors import Contradiction, UnknownName
from service.knowledge.schema import ClassId, LocalText
from service.knowledge.schema_relearn import Fitting, RelearnFile
from service.usecases.relearn_types import RelearnQuestion

Has = Literal["yes", "no", "untold"]


class _Identified(Protocol):
    @property
    def id(self) -> str: ...


Found = TypeVar("Found", bound=_Identified)


def entry_of(entries: Sequence[Found], field: str, name: str) -> Found:
    """Find an entry by id, or raise UnknownName."""
    for entry in entries:
        if entry.id == name:
            return entry
    raise UnknownName(field, name, sorted(entry.id for entry in entries))


@dataclass(frozen=True, slots=True)
class Fittings:
    """For each fitting of the table whether the machine has it; `by_class` are those its class rules out."""

    names: dict[str, LocalText]
    has: dict[str, Has]
    by_class: frozenset[str]
    machine_class: str | None

    def missing(self, needs: Sequence[str]) -> list[str]:
        """Return those that the machine has not."""
        return [name for name in needs if self.has[name] == "no"]

    def untold(self, needs: Sequence[str]) -> list[str]:
        """Return those of which nothing was said."""
        return [name for name in needs if self.has[name] == "untold"]

    def refuse_without(self, needs: Sequence[str], field: str, reason: str, what: LocalText) -> None:
        """Refuse a statement about something that the machine has not.

        Raises
        ------
        Contradiction
            If one of `needs` is not fitted.
        """
        for name in self.missing(needs):
            other = "machine_class" if name in self.by_class else "not_fitted"
            raise Contradiction([field, other], reason, what=what, fitting=self.names[name])

    def refuse_class(self, classes: Sequence[ClassId], field: str, what: LocalText) -> None:
        """Refuse a part that machines of this class have not.

        Raises
        ------
        Contradiction
            If the class was told and is none of `classes`.
        """
        if self.machine_class is not None and self.machine_class not in classes:
            raise Contradiction([field, "machine_class"], "reason.class_without_part", what=what)


def fittings_of(file: RelearnFile, question: RelearnQuestion) -> Fittings:
    """Return what the machine has.

    Raises
    ------
    UnknownName
        If a fitting is not in the table.
    Contradiction
        If one is both fitted and not, or fitted to a machine class that cannot have it.
    """
    has: dict[str, Has] = {entry.id: "untold" for entry in file.fitting}
    by_class = frozenset(entry.id for entry in file.fitting if not _possible(entry, question.machine_class))
    has |= dict.fromkeys(by_class, "no")
    for place, name in enumerate(question.not_fitted):
        has[entry_of(file.fitting, f"not_fitted.{place}", name).id] = "no"
    for place, name in enumerate(question.fitted):
        entry = entry_of(file.fitting, f"fitted.{place}", name)
        if name in by_class:
            raise Contradiction([f"fitted.{place}", "machine_class"], "reason.class_without_fitting", what=entry.names)
        if has[name] == "no":
            other = f"not_fitted.{question.not_fitted.index(name)}"
            raise Contradiction([f"fitted.{place}", other], "reason.fitted_and_not", what=entry.names)
        has[name] = "yes"
    names = {entry.id: entry.names for entry in file.fitting}
    return Fittings(names, has, by_class, question.machine_class)


def _possible(fitting: Fitting, machine_class: str | None) -> bool:
    return machine_class is None or machine_class in fitting.classes
