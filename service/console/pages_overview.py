"""What came in: records by week, crop, class and method, and where they are enough to learn from."""

import hashlib
from base64 import b64encode
from dataclasses import dataclass

from starlette.responses import Response

from service.console.asking import Asked
from service.console.words import Words
from service.errors import NotFound
from service.plot import Axis, Chart, Panel, Series, svg
from service.plot.palette import style_sheet
from service.usecases import coop_overview
from service.usecases.coop_overview import Coverage, Overview

_TICKS = 8
_WIDE, _NARROW = 720, 400
# records from which a field of the map has the next shade
_SHADES = (1, 40, 200, 1000)


@dataclass(frozen=True, slots=True)
class MapField:
    """A field of the coverage map."""

    shade: int
    records: str
    contributors: str
    changes: str
    lacks: str
    enough: bool


@dataclass(frozen=True, slots=True)
class MapRow:
    """A crop with its field for each class; None where there is no record."""

    crop: str
    fields: tuple[MapField | None, ...]


@dataclass(frozen=True, slots=True)
class Share:
    """A line of a small table."""

    name: str
    records: str
    percent: str


def overview(asked: Asked) -> Response:
    """The page."""
    found, words = _found(asked), asked.words
    classes = [one.id for one in words.table.machines.machine_class]
    return asked.show(
        "overview",
        found=found,
        contributors=words.people(found.contributors),
        classes=[words.machine_class(one) for one in classes],
        map=[
            MapRow(words.crop(one.id), tuple(_field(words, found.coverage.get((one.id, kind))) for kind in classes))
            for one in found.crops
        ],
        none_yet=sorted(words.crop(crop) for crop in words.table.crops if crop not in {one.id for one in found.crops}),
        by_crop=_shares(words, found, [(words.name(one.names, one.id), one.records) for one in found.crops]),
        by_class=_shares(words, found, [(words.name(one.names, one.id), one.records) for one in found.classes]),
        by_method=_shares(
            words, found, [(words.say(f"console.method.{one.id}"), one.records) for one in found.methods]
        ),
    )


def weeks(asked: Asked) -> Response:
    """The chart of records by week."""
    found, words = _found(asked), asked.words
    if not found.weeks:
        raise NotFound
    width = width_of(asked, _WIDE)
    every = -(-len(found.weeks) * _WIDE // (_TICKS * width))
    ticks = tuple((float(n), words.short_day(week.monday)) for n, week in enumerate(found.weeks) if n % every == 0)
    counted = tuple((float(n), float(week.records)) for n, week in enumerate(found.weeks))
    label = words.say("console.overview.records")
    chart = Chart(
        title=words.say("console.overview.weeks_title", season=str(found.season)),
        description=words.say("console.overview.weeks_told", records=found.records, weeks=len(found.weeks)),
        x=Axis(words.say("console.overview.week"), ticks=ticks),
        panels=(Panel(y=Axis(label, low=0.0), series=(Series(label, counted, "bars"),), height=180),),
        width=width,
    )
    return drawing(asked, chart)


def width_of(asked: Asked, wide: int) -> int:
    """How wide a chart is drawn; a phone gets one that is drawn for it, so that its letters can be read."""
    return _NARROW if asked.request.query_params.get("narrow") == "1" else wide


def drawing(asked: Asked, chart: Chart) -> Response:
    """Answer with a chart; its policy allows the one style sheet that it brings along, by its digest."""
    drawn = svg(chart, asked.words.lang)
    digest = b64encode(hashlib.sha256(style_sheet().encode()).digest()).decode()
    policy = f"default-src 'none'; style-src 'sha256-{digest}'; frame-ancestors 'none'"
    headers = {"Content-Security-Policy": policy, "Content-Language": asked.words.lang}
    return Response(drawn, headers=headers, media_type="image/svg+xml")


def _found(asked: Asked) -> Overview:
    told = asked.request.query_params.get("season")
    if told is not None and not (told.isascii() and told.isdecimal() and len(told) == 4):
        raise NotFound
    with asked.desk.store.reading() as session:
        return coop_overview.overview(
            session, asked.desk.table, asked.caller, None if told is None else int(told), asked.now
        )


def _field(words: Words, one: Coverage | None) -> MapField | None:
    if one is None:
        return None
    return MapField(
        shade=sum(one.records >= least for least in _SHADES),
        records=words.number(one.records),
        contributors=words.people(one.contributors),
        changes=words.number(one.changes),
        lacks=words.say(f"console.lacks.{one.lacks}"),
        enough=one.lacks == "nothing",
    )


def _shares(words: Words, found: Overview, counts: list[tuple[str, int]]) -> list[Share]:
    return [Share(name, words.number(count), words.percent(count / found.records)) for name, count in counts if count]
