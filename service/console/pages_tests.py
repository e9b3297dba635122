"""Which setting is worth a paired test: change it once, measure before and after on the same day."""

from typing import Final

from starlette.responses import Response

from service.console import reviewing
from service.console.asking import Asked
from service.console.review import TestShown
from service.console.words import Words
from service.errors import NotFound
from service.usecases import coop_overview

LEAST_WORTH: Final = 0.0005  # of the cost; less is not worth a stop in the field
MOST_LINES: Final = 10


def tests(asked: Asked) -> Response:
    """Settings of a crop and class by what a test of them is worth."""
    words, query = asked.words, asked.request.query_params
    crop, kind = query.get("crop", ""), query.get("machine_class", "")
    with asked.desk.store.reading() as session:
        found = coop_overview.overview(session, asked.desk.table, asked.caller, None, asked.now)
        pairs = sorted(found.coverage, key=lambda pair: -found.coverage[pair].records)
        if not crop and not kind and pairs:
            crop, kind = pairs[0]
        lines: tuple[TestShown, ...] = ()
        if crop or kind:
            if crop not in words.table.crops or kind not in {one.id for one in words.table.machines.machine_class}:
                raise NotFound
            lines = reviewing.tests(session, asked.desk.table, asked.caller, crop, kind, asked.now)
    return asked.show(
        "tests",
        crop=crop,
        kind=kind,
        crops=sorted(((one, words.crop(one)) for one in words.table.crops), key=lambda pair: pair[1]),
        kinds=[(one.id, words.machine_class(one.id)) for one in words.table.machines.machine_class],
        lines=[one for one in lines if one.worth >= LEAST_WORTH and _differs(words, one)][:MOST_LINES],
    )


def _differs(words: Words, one: TestShown) -> bool:
    """Whether the two values can be told apart as they are written, and so as they can be set."""
    return words.amount(one.before, one.unit) != words.amount(one.after, one.unit)
