"""The chart of a proposed number: what was measured on days on which the setting was changed."""

from typing import Final

from service.console.review import NumberShown
from service.console.words import Words
from service.plot import Axis, Chart, Level, Mark, Panel, Series
from service.usecases.same_day_evidence import Dots, SameDay

# a slip of the decimal point would press everything else flat
_HIGHEST: Final = 3.0
_WIDTH: Final = 560  # beside the figures of a number it is shown about so wide


def draw_evidence(words: Words, number: NumberShown, found: SameDay) -> Chart:
    """Return the chart; without a day it shows only where the numbers stand."""
    marks = [Mark(words.shown(number.base, number.unit), words.say("console.plot.base"))]
    if number.now != number.base:
        marks.append(Mark(words.shown(number.now, number.unit), words.say("console.plot.now")))
    marks.append(Mark(words.shown(number.proposed, number.unit), words.say("console.plot.proposed")))
    unit = words.unit(number.unit)
    return Chart(
        title=words.say("console.plot.title", setting=words.setting(number.setting)),
        description=evidence_told(words, number, found),
        x=Axis(
            words.setting(number.setting) + (f", {unit}" if unit else ""),
            low=words.shown(number.envelope_low, number.unit),
            high=words.shown(number.envelope_high, number.unit),
        ),
        panels=tuple(_panel(words, number, one) for one in found.outcomes) or (_nothing(words, number),),
        marks=tuple(marks),
        width=_WIDTH,
    )


def evidence_told(words: Words, number: NumberShown, found: SameDay) -> str:
    """Say in a sentence what the chart shows."""
    if not found.days:
        return words.say("console.plot.told_none", setting=words.setting(number.setting))
    return words.say(
        "console.plot.told",
        setting=words.setting(number.setting),
        days=found.days,
        outcomes=[words.say(f"console.outcome.{one.outcome}") for one in found.outcomes],
    )


def _panel(words: Words, number: NumberShown, one: Dots) -> Panel:
    dots = tuple((words.shown(place, number.unit), 100 * min(ratio, _HIGHEST)) for place, ratio in one.dots)
    means = tuple((words.shown(place, number.unit), 100 * min(ratio, _HIGHEST)) for place, ratio in one.means)
    return Panel(
        y=Axis(words.say(f"console.plot.{one.outcome}"), low=0.0),
        series=(
            Series(words.say("console.plot.dot"), dots, "dots", 5),
            *((Series(words.say("console.plot.mean"), means, "line", 0),) if means else ()),
        ),
        levels=(Level(100.0, words.say("console.plot.level")),),
        height=190,
    )


def _nothing(words: Words, number: NumberShown) -> Panel:
    places = ((words.shown(number.base, number.unit), 0.0), (words.shown(number.proposed, number.unit), 0.0))
    label = words.say("console.plot.no_day")
    return Panel(y=Axis(label, ticks=(), low=-1.0, high=1.0), series=(Series(label, places, "dots", 0),), height=70)
