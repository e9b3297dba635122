"""Grain moisture through the weather of a harvest window: the grid of times, the forecast, fit hours.

Inside: readings on the time axis of the series, learning the pace or taking it from the table, hours
and spans that are fit. Outside: the formulas (`service.domain`), the weather (`window_air.py`).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import groupby, pairwise

from service.domain import drydown_band as formulas
from service.domain.types import Interval, Quantity
from service.errors import Contradiction, NotCovered
from service.knowledge.schema import CropFile, Figure
from service.knowledge.schema_window import HarvestWindowFile
from service.knowledge.window import TASK, pace_of
from service.units import convert
from service.usecases.provenance import proof
from service.usecases.window_air import Air
from service.usecases.window_types import FitSpan, Hour, Pace, Reach, Reading, Weather, WindowQuestion

HOUR = 3600


@dataclass(frozen=True, slots=True)
class Course:
    """Moisture at each time of the grid, seconds from the start of the series; `now` is the last reading."""

    seconds: tuple[int, ...]
    moistures_pct: tuple[Interval, ...]
    now_s: int
    pace: Pace

    def at(self, second: int) -> Interval:
        """Moisture at a time of the grid."""
        return self.moistures_pct[self.seconds.index(second)]

    @property
    def ahead(self) -> list[tuple[int, Interval]]:
        """Times and moistures from now on."""
        both = zip(self.seconds, self.moistures_pct, strict=True)
        return [(second, moisture) for second, moisture in both if second >= self.now_s]


def course_of(question: WindowQuestion, crop: CropFile, window: HarvestWindowFile, air: Air) -> Course:
    """Follow the grain from the first reading to the end of the series.

    Raises
    ------
    Contradiction, OutOfRange
        If the readings lie outside the series, are not in order, or no pace leads from one to the next.
    NotCovered
        If there is one reading and the table has no pace for this crop.
    """
    taken = _placed(question.weather, question.readings, window.figures.reading_gap.value)
    last = len(air.equilibrium_pct) * HOUR
    full = range((taken[0] // HOUR + 1) * HOUR, last + 1, HOUR)
    grid = sorted({*taken, *full})
    steps = [(end - begin) / HOUR for begin, end in pairwise(grid)]
    equilibrium = [air.equilibrium_pct[begin // HOUR] for begin, _ in pairwise(grid)]
    error = window.figures.reading_error.value if question.reading_error_pct is None else question.reading_error_pct
    spread, rewetting = window.figures.equilibrium_error.value, _interval(window.figures.rewetting_factor)
    if len(taken) == 1:
        rate, pace_figure = _table_pace(crop, window)
        found = formulas.forecast_from_rate(
            question.readings[0].moisture_pct,
            equilibrium,
            steps,
            rate_per_h=rate,
            rewetting_factor=rewetting,
            reading_error_pct=error,
            equilibrium_error_pct=spread,
        )
        pace = Pace(found.rate_per_h, "table", None, several=False, unbounded=False, proof=proof(pace_figure))
        return Course(tuple(grid), found.moistures_pct, taken[0], pace)
    found = _learned(question.readings, equilibrium, steps, grid.index(taken[1]), (rewetting, error, spread))
    between = (taken[1] - taken[0]) / HOUR
    pace = Pace(found.rate_per_h, "readings", between, found.several, found.unbounded, proof=None)
    return Course(tuple(grid), found.moistures_pct, taken[1], pace)


def _learned(
    readings: Sequence[Reading],
    equilibrium: Sequence[float],
    steps: Sequence[float],
    learning: int,
    uncertain: tuple[Interval, float, float],
) -> formulas.Forecast:
    first, second = (reading.moisture_pct for reading in readings)
    rewetting, error, spread = uncertain
    try:
        return formulas.forecast_from_readings(
            first,
            second,
            equilibrium,
            steps,
            learning_steps=learning,
            rewetting_factor=rewetting,
            reading_error_pct=error,
            equilibrium_error_pct=spread,
        )
    except Contradiction as refused:
        fields = [f"readings.{place}.moisture_pct" for place in range(2)]
        ends = {name: refused.facts.get(f"{name}_pct") for name in ("low", "high")}
        facts = {name: Quantity(end, "%") for name, end in ends.items() if isinstance(end, float)}
        air = {
            "driest": Quantity(min(equilibrium[:learning]), "%"),
            "wettest": Quantity(max(equilibrium[:learning]), "%"),
        }
        raise Contradiction(fields, str(refused.facts["reason"]), **facts, **air) from None


def _placed(weather: Weather, readings: Sequence[Reading], gap_h: float) -> list[int]:
    """Seconds from the start of the series; refuses readings outside it, out of order or too close together."""
    hours = len(weather.temperature_c)
    ends = {"start": weather.start, "end": weather.start + timedelta(hours=hours)}
    taken = [round((reading.time - weather.start).total_seconds()) for reading in readings]
    for place, second in enumerate(taken):
        if second < 0:
            raise Contradiction([f"readings.{place}.time", "weather.start"], "reason.reading_before_series", **ends)
        if second > hours * HOUR:
            raise Contradiction([f"readings.{place}.time", "weather.start"], "reason.reading_after_series", **ends)
    names = [f"readings.{place}.time" for place in range(len(taken))]
    if len(taken) == 2 and taken[0] == taken[1]:
        raise Contradiction(names, "reason.readings_at_once")
    if len(taken) == 2 and taken[0] > taken[1]:
        raise Contradiction(names, "reason.readings_order")
    if len(taken) == 2 and taken[1] - taken[0] < gap_h * HOUR:
        raise Contradiction(names, "reason.readings_close", gap=Quantity(gap_h, "h"))
    if taken[-1] == hours * HOUR:
        raise Contradiction([names[-1], "weather.start"], "reason.no_hours_ahead", **ends)
    return taken


def _table_pace(crop: CropFile, window: HarvestWindowFile) -> tuple[Interval, Figure]:
    figure = pace_of(window, crop)
    if figure is None:
        why = "The table has no pace of drying for this crop; send two readings of your own, some hours apart."
        raise NotCovered("readings", TASK, crop.id, why)
    daily = _interval(figure)
    value, low, high = (convert(end, "1/d", "1/h") for end in (daily.value, daily.low, daily.high))
    return Interval(value, low, high), figure


def _interval(figure: Figure) -> Interval:
    low = figure.value if figure.low is None else figure.low
    return Interval(figure.value, low, figure.value if figure.high is None else figure.high)


def hours_of(weather: Weather, air: Air, course: Course, target_pct: float) -> tuple[Hour, ...]:
    """Every hour of the series with what the grain does in it."""
    known = dict(zip(course.seconds, course.moistures_pct, strict=True))
    found = []
    for place, equilibrium in enumerate(air.equilibrium_pct):
        begin, end = place * HOUR, (place + 1) * HOUR
        at_target = None
        if end > course.now_s:
            at_start = known[max(begin, course.now_s)].value
            at_target = max(at_start, known[end].value) <= target_pct
        found.append(
            Hour(
                start=weather.start + timedelta(seconds=begin),
                end=weather.start + timedelta(seconds=end),
                temperature_c=weather.temperature_c[place],
                relative_humidity_pct=air.humidity_pct[place],
                rain_mm=weather.rain_mm[place] if weather.rain_mm else None,
                equilibrium_pct=equilibrium,
                held=air.held[place],
                dew=air.dew[place],
                wet=air.wet[place],
                moisture_pct=known.get(end),
                at_target=at_target,
                fit=None if at_target is None else at_target and not air.wet[place],
            )
        )
    return tuple(found)


def spans_of(hours: Sequence[Hour], now: datetime, target_pct: float) -> tuple[FitSpan, ...]:
    """Fit hours on end; the first begins no earlier than now.

    None is sure after rain: how much of it the grain takes up, nobody knows.
    """
    rained = next((hour.start for hour in hours if hour.end > now and hour.rain_mm), None)
    spans = []
    for fit, run in groupby(hours, key=lambda hour: hour.fit is True):
        if not fit:
            continue
        group = list(run)
        moistures = [hour.moisture_pct for hour in group if hour.moisture_pct is not None]
        start, end = max(group[0].start, now), group[-1].end
        spans.append(
            FitSpan(
                start=start,
                end=end,
                hours=(end - start).total_seconds() / HOUR,
                lowest_pct=min(one.value for one in moistures),
                sure=all(one.high <= target_pct for one in moistures) and (rained is None or start <= rained),
            )
        )
    return tuple(spans)


def reach_of(weather: Weather, course: Course, target_pct: float) -> Reach:
    """When the path, its lower and its upper limit first come down to the target."""
    times = [second / HOUR for second, _ in course.ahead]
    moistures = [moisture for _, moisture in course.ahead]

    def moment(values: Sequence[float]) -> datetime | None:
        hours = formulas.first_time_below_h(times, values, target_pct)
        # to the minute: the band is hours wide
        return None if math.isinf(hours) else weather.start + timedelta(minutes=round(hours * 60))

    return Reach(
        value=moment([one.value for one in moistures]),
        earliest=moment([one.low for one in moistures]),
        latest=moment([one.high for one in moistures]),
    )
