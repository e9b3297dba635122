"""Local numbers over the base table: one more contribution, its mark, and what to say of it.

Inside: which number of a local table answers a setting, and its difference from the base. Outside: the local
table (`local_types`), which one is in force (`local_active`), how it was learnt (`domain`).

A local start does not take the place of the base start: its difference from the base start that it was
learnt against is added, so that conditions, sieve designs and the envelope of the base row hold as before.
Where the base start has changed since, that difference still says which way the members' results point; it
is added to the start of today, and the answer says so.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from service.domain.types import Message
from service.knowledge.schema import Citation
from service.knowledge.table import KnowledgeTable
from service.units import DECIMALS
from service.usecases.local_types import LocalTable
from service.usecases.settings_types import LocalMark, Part, Proof, SettingAnswer

CODE: Final = "local"
_SAME: Final = 1e-9
_PROOF: Final = Proof(
    "computed",
    "computed",
    (Citation(id="threshbook-refinement-bench", at="method that local numbers are learnt with"),),
)


@dataclass(frozen=True, slots=True)
class LocalNumber:
    """A number of a local table for one setting: the difference from the base, in the setting's unit."""

    difference: float
    mark: LocalMark


def origin_of(local: LocalTable) -> str:
    """Name a published table."""
    return f"{local.organisation}@{local.number}"


def local_number(
    local: LocalTable, crop: str, machine_class: str, setting: str, moisture_band: str, *, base_start: float
) -> LocalNumber | None:
    """Return the number that a local table has for a setting in a band of moisture, None where the base holds.

    `base_start` is the start of the base table today, at the crop's reference.
    """
    row = local.find(crop, machine_class, setting, moisture_band)
    if row is None:
        return None
    mark = LocalMark(
        origin=origin_of(local),
        records=row.records,
        contributors_band=row.contributors_band,
        start=row.start,
        low=row.low,
        high=row.high,
        base_start=row.base_start,
        # published numbers are rounded: less than their last digit is no change
        stale=abs(row.base_start - base_start) > 10 ** -DECIMALS[row.unit] / 2 + _SAME,
    )
    return LocalNumber(row.start - row.base_start, mark)


def local_part(local: LocalNumber | None) -> Iterator[Part]:
    """Yield the contribution of a local number."""
    if local is not None:
        yield Part(CODE, local.difference, local.mark.origin, _PROOF)


def local_warnings(
    table: KnowledgeTable, local: LocalTable | None, settings: Sequence[SettingAnswer]
) -> Iterator[Message]:
    """Yield what must be known of local numbers in an answer: none here, base changed since, held at an end."""
    if local is None:
        return
    named = {"organisation": local.organisation, "number": local.number}
    mine = [(setting, setting.local) for setting in settings if setting.local is not None]
    if not mine:
        yield Message("warning.local_nothing_here", named)
    stale = [table.vocabulary[setting.id].names for setting, mark in mine if mark.stale]
    if stale:
        yield Message("warning.local_stale", named | {"settings": stale})
    held = [table.vocabulary[setting.id].names for setting, _ in mine if setting.bound != "none"]
    if held:
        yield Message("warning.local_held", named | {"settings": held})
