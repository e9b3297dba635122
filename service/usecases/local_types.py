"""A local table as it is published: numbers of an organisation's own that stand over the base table.

Inside: records alone. Outside: how they come about (`refinement`), where they are kept (`store`).
"""

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

ContributorsBand = Literal["5-9", "10-19", "20-49", "50+"]


@dataclass(frozen=True, slots=True)
class LocalEffect:
    """What the local start does to one outcome: factor on its amount at the base start, 80 % interval."""

    outcome: str  # loss, broken, foreign_matter
    factor: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class LocalRow:
    """One number of a local table; metric, in the unit of the vocabulary.

    Attributes
    ----------
    crop, machine_class, setting : str
        Ids of the knowledge table.
    moisture_band : str or None
        Band of the grain moisture that the number holds for; None for all.
    start, base_start : float
        The local start, and that of the base table when it was refined.
    low, high : float or None
        Interval that the best start lies in with 80 %.
    records : int
        Records it rests on, doubtful ones counted less.
    contributors_band : str
        How many contributors, in bands; never fewer than five.
    effects : tuple of LocalEffect
        What it does to each outcome.
    """

    crop: str
    machine_class: str
    setting: str
    moisture_band: str | None
    start: float
    unit: str
    base_start: float
    low: float | None
    high: float | None
    records: int
    contributors_band: ContributorsBand
    effects: tuple[LocalEffect, ...] = ()


@dataclass(frozen=True, slots=True)
class LocalTable:
    """A published revision of an organisation's table; `digest` is that of the whole document."""

    organisation: str
    number: int
    base_revision: str
    base_digest: str
    digest: str
    rows: tuple[LocalRow, ...]
    published_at: datetime | None = None

    def find(self, crop: str, machine_class: str, setting: str, moisture_band: str) -> LocalRow | None:
        """Return the row of a setting: that of the band, else the one for all bands."""
        found = None
        for row in self.rows:
            if (row.crop, row.machine_class, row.setting) == (crop, machine_class, setting):
                if row.moisture_band == moisture_band:
                    return row
                if row.moisture_band is None:
                    found = row
        return found
