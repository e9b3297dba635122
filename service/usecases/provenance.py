"""From an entry of the knowledge table to the proof that answers carry."""

from service.knowledge.schema import Evidence, Figure, SettingRow
from service.usecases.settings_types import Proof


def proof(entry: Evidence) -> Proof:
    """Basis, mark and places of a figure, row or response."""
    return Proof(entry.basis, entry.known, tuple(entry.source))


def ends_proof(entry: Figure | SettingRow) -> Proof:
    """Basis, mark and places of low and high: their own where they differ, else those of the entry."""
    if entry.ends is None:
        return proof(entry)
    return Proof(entry.ends.basis, entry.ends.known, tuple(entry.ends.source))
