"""The chart of a proposed number: what was measured on days on which the setting was changed."""

from typing import Final

from service.console.review import CellShown, RowShown
from service.console.words import Words
from service.plot import Axis, Chart, Level, Mark, Panel, Series, Span
from service.usecases.same_day_evidence import Dots, SameDay

# a slip of the decimal point would press everything else flat
_HIGHEST: Final = 3.0


def draw_evidence(words: Words, cell: CellShown, row: RowShown, found: SameDay) -> Chart:
    """Return the chart; without a day it shows only where the numbers stand."""
    marks = [Mark(words.shown(row.base, row.unit), words.say("console.plot.base"))]
    if row.now != row.base:
        marks.append(Mark(words.shown(row.now, row.unit), words.say("console.plot.now")))
    marks.append(Mark(words.shown(row.proposed, row.unit), words.say("console.plot.proposed")))
    spans: tuple[Span, ...] = ()
    if row.low is not None and row.high is not None:
        ends = words.shown(row.low, row.unit), words.shown(row.high, row.unit)
        spans = (Span(min(ends), max(ends), words.say("console.plot.interval")),)
    unit = words.unit(row.unit)
    return Chart(
        title=words.say("console.plot.title", setting=words.setting(row.setting), band=words.band(cell.band)),
        description=evidence_told(words, row, found),
        x=Axis(
            words.setting(row.setting) + (f", {unit}" if unit else ""),
            low=words.shown(row.envelope_low, row.unit),
            high=words.shown(row.envelope_high, row.unit),
        ),
        panels=tuple(_panel(words, row, one) for one in found.outcomes) or (_nothing(words, row),),
        spans=spans,
        marks=tuple(marks),
    )


def evidence_told(words: Words, row: RowShown, found: SameDay) -> str:
    """Say in a sentence what the chart shows."""
    if not found.days:
        return words.say("console.plot.told_none", setting=words.setting(row.setting))
    return words.say(
        "console.plot.told",
        setting=words.setting(row.setting),
        days=found.days,
        outcomes=[words.say(f"console.outcome.{one.outcome}") for one in found.outcomes],
    )


def _panel(words: Words, row: RowShown, one: Dots) -> Panel:
    dots = tuple((words.shown(place, row.unit), 100 * min(ratio, _HIGHEST)) for place, ratio in one.dots)
    means = tuple((words.shown(place, row.unit), 100 * min(ratio, _HIGHEST)) for place, ratio in one.means)
    return Panel(
        y=Axis(words.say(f"console.plot.{one.outcome}"), low=0.0),
        series=(
            Series(words.say("console.plot.dot"), dots, "dots", 5),
            *((Series(words.say("console.plot.mean"), means, "line", 0),) if means else ()),
        ),
        levels=(Level(100.0, words.say("console.plot.level")),),
        height=190,
    )


def _nothing(words: Words, row: RowShown) -> Panel:
    places = ((words.shown(row.base, row.unit), 0.0), (words.shown(row.proposed, row.unit), 0.0))
    label = words.say("console.plot.no_day")
    return Panel(y=Axis(label, ticks=(), low=-1.0, high=1.0), series=(Series(label, places, "dots", 0),), height=70)
