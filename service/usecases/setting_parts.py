"""One setting from its row: the base, a part for each condition, the envelope.

Parts are kept far finer than they are printed with; the presenter rounds them for its unit system.
"""

from dataclasses import dataclass
from typing import Final

from service.domain.settings import add_up, bound
from service.domain.types import Message
from service.knowledge.machine_schema import SieveConversion
from service.knowledge.schema import CropFile, SettingRow
from service.knowledge.table import KnowledgeTable
from service.usecases.conditions import FACTORS, REFERENCE_USE, Conditions, change
from service.usecases.local_overlay import LocalNumber, local_number, local_part
from service.usecases.local_types import LocalTable
from service.usecases.provenance import ends_proof, proof
from service.usecases.settings_types import Part, SettingAnswer

DECIMALS: Final = 6  # of parts and their sum; no figure is printed with as many


@dataclass(frozen=True, slots=True)
class Frame:
    """Everything that setting a single value needs."""

    table: KnowledgeTable
    crop: CropFile
    machine_class: str
    state: Conditions
    local: LocalTable | None = None

    @property
    def band(self) -> str:
        """Where the grain moisture lies in the crop's window."""
        return self.table.moisture_band(self.crop, self.state.moisture_pct)

    def reference_row(self, setting: str, row: SettingRow) -> SettingRow:
        """Return the row of a setting that local numbers are learnt against, else `row`."""
        if not self.table.has_row(self.crop, setting, self.machine_class, REFERENCE_USE):
            return row
        return self.table.row(self.crop, setting, self.machine_class, REFERENCE_USE)

    def local_number(self, setting: str, base_start: float) -> LocalNumber | None:
        """Return the local number of a setting; `base_start` is that of the base table at the crop's reference."""
        place = (self.crop.id, self.machine_class, setting, self.band)
        return None if self.local is None else local_number(self.local, *place, base_start=base_start)


def from_row(
    frame: Frame,
    setting: str,
    sieve: SieveConversion | None = None,
    notes: tuple[Message, ...] = (),
) -> SettingAnswer:
    """Answer for one setting of the crop's row; a sieve conversion scales start and envelope."""
    row = frame.table.row(frame.crop, setting, frame.machine_class, frame.state.use)
    local = frame.local_number(setting, frame.reference_row(setting, row).start)
    base = Part("base", row.start, row.id, proof(row))
    parts = [base, *local_part(local), *responses(frame, setting, row.start, row)]
    factor = 1.0
    if sieve is not None and sieve.factor != 1:
        factor = sieve.factor
        standard = sum(part.value for part in parts)
        parts.append(Part("sieve_design", standard * (factor - 1), sieve.design, proof(sieve)))
    return assemble(setting, row.unit, parts, (row.low * factor, row.high * factor), row, notes=notes, local=local)


def responses(frame: Frame, quantity: str, base: float, row: SettingRow | None = None) -> list[Part]:
    """Parts of all conditions that the table has a response for; a row made for this use has it in its base."""
    parts = []
    for factor in FACTORS:
        if factor == "use" and row is not None and row.use is not None:
            continue
        response = frame.table.response(frame.crop, quantity, factor, frame.machine_class)
        if response is None:
            continue
        moved = change(response, frame.crop, frame.state)
        parts.append(
            Part(factor, base * moved / 100 if response.mode == "percent" else moved, response.id, proof(response))
        )
    return [part for part in parts if round(part.value, DECIMALS) != 0]


def multiplier(frame: Frame, quantity: str, without: tuple[str, ...] = ()) -> float:
    """Product of all percent responses of a capacity, 1 at the reference."""
    product = 1.0
    for factor in FACTORS:
        if factor in without:
            continue
        response = frame.table.response(frame.crop, quantity, factor, frame.machine_class)
        if response is not None:
            product *= 1 + change(response, frame.crop, frame.state) / 100
    return product


def assemble(
    setting: str,
    unit: str,
    parts: list[Part],
    envelope: tuple[float, float],
    row: SettingRow,
    *,
    notes: tuple[Message, ...] = (),
    local: LocalNumber | None = None,
) -> SettingAnswer:
    """Round the parts, add them up, hold the sum inside the envelope."""
    added = add_up([(part.code, part.value) for part in parts], DECIMALS)
    rounded = tuple(
        Part(part.code, c.value, part.origin, part.proof) for part, c in zip(parts, added.contributions, strict=True)
    )
    low, high = (round(end, DECIMALS) for end in envelope)
    held = bound(added.total, low, high)
    return SettingAnswer(
        id=setting,
        unit=unit,
        start=held.value,
        low=low,
        high=high,
        summed=added.total,
        bound=held.bound,
        parts=rounded,
        row=row.id,
        proof=proof(row),
        ends=ends_proof(row),
        equivalents=(),
        notes=notes,
        row_note=row.note,
        local=None if local is None else local.mark,
    )
