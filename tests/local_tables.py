"""An invented published local table, and a look-up that finds it beside the real one's."""

from collections.abc import Callable
from datetime import UTC, datetime

from service.store import Store
from service.usecases.local_types import ContributorsBand, LocalRow, LocalTable

NAME = "example-hills"
DIGEST = "sha256:" + "3" * 64


def row(
    setting: str,
    start: float,
    base_start: float,
    unit: str,
    *,
    crop: str = "wheat",
    machine_class: str = "hybrid",
    band: str | None = "best",
    contributors: ContributorsBand = "10-19",
    half: float = 0.5,
) -> LocalRow:
    return LocalRow(
        crop=crop,
        machine_class=machine_class,
        setting=setting,
        moisture_band=band,
        start=start,
        unit=unit,
        base_start=base_start,
        low=start - half,
        high=start + half,
        records=240,
        contributors_band=contributors,
    )


def table_of(*rows: LocalRow, number: int = 3, digest: str = DIGEST) -> LocalTable:
    return LocalTable(
        organisation=NAME,
        number=number,
        base_revision="2026.11.2",
        base_digest="sha256:" + "b" * 64,
        digest=digest,
        rows=rows,
        published_at=datetime(2026, 11, 20, 9, 30, tzinfo=UTC),
    )


# wheat, hybrid: the base table starts the drum at 24.51 m/s, the lower sieve at 7.5 mm, the upper one at 14 mm;
# what is published is rounded
HILLS = table_of(
    row("threshing_speed", 23.7, 24.5, "m/s"),
    row("lower_sieve_opening", 8.3, 7.5, "mm", contributors="5-9"),
    row("upper_sieve_opening", 12.5, 12.0, "mm"),  # learnt against another base start than today's
)


def finding(local: LocalTable, other: Callable[[Store, str], LocalTable | None]) -> Callable[..., LocalTable | None]:
    """Find this table by its name, and ask the store for all others."""

    def active(store: Store, organisation: str) -> LocalTable | None:
        return local if organisation == local.organisation else other(store, organisation)

    return active
