"""From an entry of the knowledge table to the proof that answers carry."""

from service.knowledge.schema import Evidence
from service.usecases.settings_types import Proof


def proof(entry: Evidence) -> Proof:
    """Basis, mark and places of a figure, row or response."""
    return Proof(entry.basis, entry.known, tuple(entry.source))
