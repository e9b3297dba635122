"""A local table as the document that is published: written once, with a digest, and read back.

Inside: canonical JSON, its digest, rounding, bands of contributors. Outside: what is in it (`refinement`), where
it is kept (`store.refinements`).
"""

import hashlib
import json
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any, Final

from service.usecases.local_types import ContributorsBand, LocalEffect, LocalRow, LocalTable

DECIMALS: Final = 3  # finer than any setting can be set
EFFECT_DECIMALS: Final = 2  # a hundredth of an amount is finer than anyone can measure it
_BANDS: Final[tuple[tuple[int, ContributorsBand], ...]] = ((50, "50+"), (20, "20-49"), (10, "10-19"), (5, "5-9"))


def contributors_band(count: int) -> ContributorsBand | None:
    """Return about how many contributors that are; None below five, which is never told."""
    return next((band for least, band in _BANDS if count >= least), None)


def round_count(count: float) -> int:
    """Return a number of records as it is published: one, two or five with zeros, never more than there are.

    An exact one would tell, from one revision to the next, what came in between.
    """
    whole, size = int(count), 1
    while size * 10 <= whole:
        size *= 10
    return next((lead * size for lead in (5, 2, 1) if lead * size <= whole), 0)


def canonical(document: Mapping[str, Any]) -> str:
    """Return the one text that stands for a document."""
    return json.dumps(document, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False)


def digest_of(text: str) -> str:
    """Return the digest of a canonical text."""
    return "sha256:" + hashlib.sha256(text.encode()).hexdigest()


def written_rows(rows: Sequence[LocalRow]) -> list[dict[str, Any]]:
    """Return rows as they stand in a document, in one order."""
    ordered = sorted(rows, key=lambda row: (row.crop, row.machine_class, row.moisture_band or "", row.setting))
    return [
        {
            "crop": row.crop,
            "machine_class": row.machine_class,
            "setting": row.setting,
            "moisture_band": row.moisture_band,
            "start": row.start,
            "unit": row.unit,
            "base_start": row.base_start,
            "low": row.low,
            "high": row.high,
            "records": row.records,
            "contributors_band": row.contributors_band,
            "effect": {one.outcome: {"factor": one.factor, "low": one.low, "high": one.high} for one in row.effects},
        }
        for row in ordered
    ]


def read_table(text: str, digest: str) -> LocalTable:
    """Return a published document as a table."""
    told = json.loads(text)
    return LocalTable(
        organisation=told["organisation"],
        number=told["number"],
        base_revision=told["base_revision"],
        base_digest=told["base_digest"],
        digest=digest,
        rows=tuple(_row(row) for row in told["rows"]),
        published_at=datetime.fromisoformat(told["published_at"]),
    )


def _row(told: Mapping[str, Any]) -> LocalRow:
    effects = tuple(LocalEffect(name, **ends) for name, ends in told["effect"].items())
    plain = {name: value for name, value in told.items() if name != "effect"}
    return LocalRow(**plain, effects=effects)
