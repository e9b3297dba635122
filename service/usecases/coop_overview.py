"""What came in during a season, and where it is enough to learn from.

Inside: weeks, counts in bands, what each crop and class still lacks. Outside: counting (`store.coop_overview`),
learning (`domain.refinement_*`). Contributors are told in bands: who is one of four could be found out.
"""

from collections import Counter
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Final, Literal

from service.errors import NotFound
from service.knowledge.schema import LocalText
from service.knowledge.table import KnowledgeTable
from service.store import Session
from service.store import coop_overview as rows
from service.store.coop_overview import Covered
from service.usecases.access import Caller

Band = Literal["none", "under_5", "5-9", "10-19", "20-49", "50+"]
Lack = Literal["contributors", "records", "changes", "nothing"]
_BANDS: Final[tuple[tuple[int, Band], ...]] = ((50, "50+"), (20, "20-49"), (10, "10-19"), (5, "5-9"), (1, "under_5"))


@dataclass(frozen=True, slots=True)
class Week:
    """Records observed in the seven days from a Monday on."""

    monday: date
    records: int


@dataclass(frozen=True, slots=True)
class Count:
    """Records of a crop, class or method."""

    id: str
    names: LocalText | None
    records: int


@dataclass(frozen=True, slots=True)
class Coverage:
    """What there is of a crop and class, and what it lacks first before a number of its table can move."""

    crop: str
    machine_class: str
    records: int
    contributors: Band
    changes: int
    lacks: Lack


@dataclass(frozen=True, slots=True)
class Overview:
    """A season of an organisation."""

    season: int
    seasons: tuple[int, ...]
    records: int
    contributors: Band
    changes: int
    withdrawn: int
    weeks: tuple[Week, ...]
    crops: tuple[Count, ...]
    classes: tuple[Count, ...]
    methods: tuple[Count, ...]
    coverage: dict[tuple[str, str], Coverage]


def overview(session: Session, table: KnowledgeTable, caller: Caller, season: int | None, now: datetime) -> Overview:
    """Return what came in during a season, the newest with records where none is named.

    Raises
    ------
    ScopeMissing
        If the key is not one to review.
    NotFound
        If the season has no records, unless it is the newest or none has any.
    """
    caller.needs("review")
    seasons = rows.seasons(session, caller.organisation_id) or [now.year]
    chosen = seasons[0] if season is None else season
    if chosen not in seasons:
        raise NotFound
    days = rows.by_day(session, caller.organisation_id, chosen)
    covered = rows.covered(session, caller.organisation_id, chosen)
    crops, classes = Counter[str](), Counter[str]()
    for one in covered:
        crops[one.crop] += one.records
        classes[one.machine_class] += one.records
    return Overview(
        season=chosen,
        seasons=tuple(seasons),
        records=sum(days.values()),
        contributors=band(rows.contributors(session, caller.organisation_id, chosen)),
        changes=sum(one.changes for one in covered),
        withdrawn=rows.withdrawn(session, caller.organisation_id, chosen),
        weeks=_weeks(days),
        crops=tuple(Count(crop, _crop_names(table, crop), count) for crop, count in crops.most_common()),
        classes=tuple(Count(kind, _class_names(table, kind), count) for kind, count in classes.most_common()),
        methods=_methods(session, caller, chosen),
        coverage={(one.crop, one.machine_class): _coverage(table, one) for one in covered},
    )


def band(contributors: int) -> Band:
    """Return a number of contributors as it is told.

    >>> [band(count) for count in (0, 4, 5, 19, 300)]
    ['none', 'under_5', '5-9', '10-19', '50+']
    """
    return next((name for least, name in _BANDS if contributors >= least), "none")


def _weeks(days: dict[date, int]) -> tuple[Week, ...]:
    """Every week from the first to the last, those without records too."""
    found = Counter[date]()
    for day, count in days.items():
        found[day - timedelta(days=day.weekday())] += count
    if not found:
        return ()
    first, last = min(found), max(found)
    mondays = [first + timedelta(weeks=week) for week in range((last - first).days // 7 + 1)]
    return tuple(Week(monday, found[monday]) for monday in mondays)


def _methods(session: Session, caller: Caller, season: int) -> tuple[Count, ...]:
    found = rows.by_method(session, caller.organisation_id, season)
    ordered = sorted(found.items(), key=lambda item: -item[1])
    return tuple(Count(method or "none", None, count) for method, count in ordered)


def _coverage(table: KnowledgeTable, one: Covered) -> Coverage:
    return Coverage(one.crop, one.machine_class, one.records, band(one.contributors), one.changes, _lacks(table, one))


def _lacks(table: KnowledgeTable, one: Covered) -> Lack:
    """The first thing that is missing; the weights that a draft gives to records may ask for more."""
    if table.refinement is None:
        return "nothing"
    figures = table.refinement.figures
    if one.contributors < figures.least_contributors.value:
        return "contributors"
    if one.records < figures.least_records.value:
        return "records"
    # pairs that a test asks for: with fewer there is hardly a comparison under the same conditions
    return "changes" if one.changes < figures.pairs_asked.value * figures.least_contributors.value else "nothing"


def _crop_names(table: KnowledgeTable, crop: str) -> LocalText | None:
    # a crop of one's own may be gone from the table while its records remain
    return table.crops[crop].names if crop in table.crops else None


def _class_names(table: KnowledgeTable, machine_class: str) -> LocalText | None:
    return next((one.names for one in table.machines.machine_class if one.id == machine_class), None)
