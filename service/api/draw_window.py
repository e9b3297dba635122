"""The chart of a harvest window: grain moisture with its band and fit hours, and the air below it."""

from collections.abc import Sequence
from datetime import datetime

from service.api.reader import Reader
from service.domain.types import Message
from service.plot import Axis, Band, Chart, Level, Mark, Panel, Points, Series, Span
from service.text import names, render, unit_label
from service.units import convert, shown_unit
from service.usecases.window_types import HarvestWindow, Hour

HOUR_S = 3600
# more labels would run into each other
TICKS_AT_MOST = 7
STEP_PCT = 5


def draw_window(answer: HarvestWindow, reader: Reader) -> Chart:
    """Return the chart: hours from the start of the series on the x axis."""
    drawing = _Drawing(answer, reader)
    return Chart(
        title=drawing.text("chart.window.title", crop=names(answer.crop_names, reader.lang)),
        description=render(answer.decision, reader.lang, reader.units),
        x=Axis(
            drawing.text("chart.window.time"), ticks=drawing.ticks(), low=0.0, high=drawing.at(answer.hours[-1].end)
        ),
        panels=(drawing.moisture(), drawing.air(), *drawing.rain()),
        spans=tuple(
            Span(drawing.at(span.start), drawing.at(span.end), drawing.text("chart.window.fit"))
            for span in answer.spans
        ),
        marks=(Mark(drawing.at(answer.now), drawing.text("chart.window.now")),),
    )


class _Drawing:
    """The answer with the words and units of a reader."""

    def __init__(self, answer: HarvestWindow, reader: Reader) -> None:
        self.answer, self.reader = answer, reader
        self.start = answer.hours[0].start

    def text(self, code: str, **params: object) -> str:
        return render(Message(code, params), self.reader.lang, self.reader.units)

    def at(self, moment: datetime) -> float:
        """Hours from the start of the series."""
        return (moment - self.start).total_seconds() / HOUR_S

    def ticks(self) -> tuple[tuple[float, str], ...]:
        """Midnights, or every so many of them; in a short series every third hour."""
        ends = [hour.start for hour in self.answer.hours]
        short = len(ends) <= 48
        fits = [
            moment for moment in ends if moment.minute == 0 and (moment.hour % 6 == 0 if short else moment.hour == 0)
        ]
        step = -(-len(fits) // TICKS_AT_MOST) or 1
        return tuple((self.at(moment), self._words(moment, clock=short)) for moment in fits[::step])

    def _words(self, moment: datetime, *, clock: bool) -> str:
        day, _, time = self.text("chart.window.moment", moment=moment).rpartition(", ")
        return time if clock and moment.hour else day

    def moisture(self) -> Panel:
        known = [(self.at(hour.end), hour.moisture_pct) for hour in self.answer.hours if hour.moisture_pct is not None]
        # the lines lie far above zero and close together
        lowest = min(*(hour.equilibrium_pct for hour in self.answer.hours), *(one.low for _, one in known))
        floor = min(lowest, self.answer.target_pct) // STEP_PCT * STEP_PCT
        return Panel(
            y=Axis(self.text("chart.window.moisture"), low=floor),
            series=(
                Series(self.text("chart.window.grain"), tuple((x, one.value) for x, one in known)),
                Series(
                    self.text("chart.window.equilibrium"),
                    self._points([hour.equilibrium_pct for hour in self.answer.hours]),
                    "dashed",
                    1,
                ),
            ),
            bands=(
                Band(
                    self.text("chart.window.band"),
                    tuple((x, one.low) for x, one in known),
                    tuple((x, one.high) for x, one in known),
                ),
            ),
            levels=(Level(self.answer.target_pct, self.text("chart.window.target")),),
            height=260,
        )

    def air(self) -> Panel:
        hours, unit = self.answer.hours, shown_unit("Cel", self.reader.units)
        warmth = [convert(hour.temperature_c, "Cel", unit) for hour in hours]
        fahrenheit = unit == "[degF]"
        return Panel(
            y=Axis(self.text("chart.window.air_us" if fahrenheit else "chart.window.air"), low=min(0.0, *warmth)),
            series=(
                Series(
                    self.text("chart.window.temperature_us" if fahrenheit else "chart.window.temperature"),
                    self._points(warmth),
                    "line",
                    2,
                ),
                Series(
                    self.text("chart.window.humidity"),
                    self._points([hour.relative_humidity_pct for hour in hours]),
                    "dashed",
                    3,
                ),
            ),
            levels=(),
            height=180,
        )

    def rain(self) -> tuple[Panel, ...]:
        """Rain by hour; no panel where none fell."""
        if not any(hour.rain_mm for hour in self.answer.hours):
            return ()
        unit = shown_unit("mm", self.reader.units)
        label = f"{self.text('chart.window.rain')}, {unit_label(unit, self.reader.lang)}"
        fell = self._points([convert(hour.rain_mm or 0.0, "mm", unit) for hour in self.answer.hours])
        return (Panel(y=Axis(label, low=0.0), series=(Series(label, fell, "bars", 4),), height=90),)

    def _points(self, values: Sequence[float]) -> Points:
        return tuple((self._middle(hour), value) for hour, value in zip(self.answer.hours, values, strict=True))

    def _middle(self, hour: Hour) -> float:
        """An hour's figure is its mean: it stands in the middle of the hour."""
        return (self.at(hour.start) + self.at(hour.end)) / 2
