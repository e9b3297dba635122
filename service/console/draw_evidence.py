"""The chart of a proposed number: what was measured on days on which the setting was changed."""

from collections.abc import Sequence
from typing import Final

from service.console.review import NumberShown
from service.console.words import Words
from service.plot import Axis, Band, Chart, Level, Mark, Panel, Series
from service.usecases.same_day_evidence import OUTCOMES, SameDay

WIDE: Final = 560  # beside the figures of a number it is shown about so wide


def draw_evidence(words: Words, number: NumberShown, found: SameDay, width: int = WIDE) -> Chart:
    """Return the chart; without a day it shows only where the numbers stand."""
    panel = _panel(words, number, found) if found.outcomes else _nothing(words, number)
    marks = [Mark(0.0, words.say("console.plot.base"))]
    if number.now != number.base:
        marks.append(Mark(_shift(words, number, number.now), words.say("console.plot.now")))
    marks.append(Mark(_shift(words, number, number.proposed), words.say("console.plot.proposed")))
    whole = words.say("console.plot.title", setting=words.setting(number.setting))
    return Chart(
        # a narrow one stands under the name of the setting, which would not fit on it in every language
        title=whole if width >= WIDE else words.say("console.overview.changes"),
        description=evidence_told(words, number, found),
        x=_across(words, number, panel, marks),
        panels=(panel,),
        marks=tuple(marks),
        width=width,
    )


def _across(words: Words, number: NumberShown, panel: Panel, marks: Sequence[Mark]) -> Axis:
    """The axis of the setting, a little longer than what stands on it, so that nothing is cut off at its ends."""
    unit = words.unit(number.unit)
    places = [mark.x for mark in marks] + [place for series in panel.series for place, _ in series.points]
    low, high = min(places), max(places)
    room = 0.04 * (high - low) or 1.0
    label = words.say("console.plot.shift") + (f", {unit}" if unit else "")
    return Axis(label, low=low - room, high=high + room)


def _shift(words: Words, number: NumberShown, value: float) -> float:
    """How far a value lies from the start of the base table, in the reader's unit."""
    return words.shown(value, number.unit) - words.shown(number.base, number.unit)


def evidence_told(words: Words, number: NumberShown, found: SameDay) -> str:
    """Say in a sentence what the chart shows."""
    if not found.outcomes:
        return words.say("console.plot.told_none", setting=words.setting(number.setting))
    return words.say(
        "console.plot.told",
        setting=words.setting(number.setting),
        days=found.days,
        outcomes=[words.say(f"console.outcome.{one.outcome}") for one in found.outcomes],
    )


def _panel(words: Words, number: NumberShown, found: SameDay) -> Panel:
    series, bands = [], []
    for one in found.outcomes:
        colour = list(OUTCOMES).index(one.outcome)
        half = (number.envelope_high - number.envelope_low) / 2
        places = [_shift(words, number, number.base + step.coded * half) for step in one.steps]
        label = words.say(f"console.outcome.{one.outcome}")
        means = tuple((place, 100 * step.ratio) for place, step in zip(places, one.steps, strict=True))
        series += [Series(label, means, "line", colour), Series("", means, "dots", colour)]
        low = tuple((place, 100 * step.low) for place, step in zip(places, one.steps, strict=True))
        high = tuple((place, 100 * step.high) for place, step in zip(places, one.steps, strict=True))
        bands.append(Band("", low, high, colour))
    return Panel(
        y=Axis(words.say("console.plot.level_axis")),
        series=tuple(series),
        bands=tuple(bands),
        levels=(Level(100.0, ""),),
        height=200,
    )


def _nothing(words: Words, number: NumberShown) -> Panel:
    places = ((0.0, 0.0), (_shift(words, number, number.proposed), 0.0))
    label = words.say("console.plot.no_day")
    return Panel(y=Axis(label, ticks=(), low=-1.0, high=1.0), series=(Series(label, places, "dots", 0),), height=70)
