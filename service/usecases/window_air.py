"""The weather of a harvest window as the grain meets it: humidity, dew, wet hours, equilibrium.

Inside: checks of the series, choice of the coefficient set, hours outside its range. Outside: the
equations, grain moisture itself.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from service.domain.equilibrium import equilibrium_moisture_wb_pct, relative_humidity_from_dew_point_pct
from service.domain.sorption import HUMIDITY_MAX_PCT, HUMIDITY_MIN_PCT
from service.domain.types import Message, Quantity
from service.errors import Contradiction, InvalidInput, OutOfRange, UnknownName
from service.knowledge.coefficients import CoefficientSet, EquilibriumTable
from service.knowledge.schema import CropFile
from service.knowledge.schema_window import HarvestWindowFile
from service.knowledge.window import sets_of
from service.usecases.window_types import Weather, WindowQuestion

# dew points are often given in whole degrees, which moves the humidity by so much
HUMIDITY_TOLERANCE_PCT = 7.0


@dataclass(frozen=True, slots=True)
class Air:
    """The series hour by hour, and the coefficient set it was turned into equilibrium with."""

    humidity_pct: tuple[float, ...]
    equilibrium_pct: tuple[float, ...]
    held: tuple[bool, ...]
    dew: tuple[bool, ...]
    wet: tuple[bool, ...]
    chosen: CoefficientSet
    others: tuple[CoefficientSet, ...]
    warnings: tuple[Message, ...]


def air_of(question: WindowQuestion, crop: CropFile, window: HarvestWindowFile, table: EquilibriumTable) -> Air:
    """Check the weather and turn it into equilibrium moisture.

    Raises
    ------
    Contradiction, InvalidInput, OutOfRange
        If the series are not of one length, humidity is missing, humidity and dew point disagree, or the
        air lies outside the range of the equations or of the set for too many hours.
    NotCovered, UnknownName
        If the crop has no coefficient set, or none of the name, form or source that was asked for.
    """
    weather = question.weather
    humidity = _humidity(weather)
    sets = sets_of(table, window, crop, question.equilibrium_grain)
    chosen, warnings = _chosen(question, sets, weather.temperature_c, window.figures.share_outside.value)
    low, high = _temperatures(chosen)
    outside = sum(not low <= one <= high for one in weather.temperature_c)
    if outside:
        ends = {"low": Quantity(low, "Cel"), "high": Quantity(high, "Cel")}
        warnings.append(Message("warning.window.temperature_held", {"hours": outside, **ends}))
    warnings += _humidity_held(weather, humidity, window.figures.share_outside.value)
    equilibrium = tuple(
        equilibrium_moisture_wb_pct(
            chosen.form,
            min(max(one, HUMIDITY_MIN_PCT), HUMIDITY_MAX_PCT),
            min(max(warmth, low), high),
            A=chosen.A,
            B=chosen.B,
            C=chosen.C,
        )
        for one, warmth in zip(humidity, weather.temperature_c, strict=True)
    )
    held = tuple(
        not (HUMIDITY_MIN_PCT <= one <= HUMIDITY_MAX_PCT and low <= warmth <= high)
        for one, warmth in zip(humidity, weather.temperature_c, strict=True)
    )
    dew = tuple(one >= window.figures.dew_humidity.value for one in humidity)
    wet_hours = window.figures.wet_hours.value if question.wet_hours is None else question.wet_hours
    others = tuple(one for one in sets if one is not chosen)
    drying = tuple(one <= window.figures.dry_off_humidity.value for one in humidity)
    wet = _wet(weather, dew, drying, wet_hours)
    return Air(humidity, equilibrium, held, dew, wet, chosen, others, tuple(warnings))


def _humidity_held(weather: Weather, humidity: Sequence[float], share_pct: float) -> list[Message]:
    """Say how many hours lie beyond the ends of the equations; refuse a series that is mostly too dry for them.

    Damp hours may be many: they count as wet outside, so that no fit hour rests on them.
    """
    dry = [place for place, one in enumerate(humidity) if one < HUMIDITY_MIN_PCT]
    lowest = Quantity(HUMIDITY_MIN_PCT, "%")
    if 100 * len(dry) > share_pct * len(humidity):
        name = "relative_humidity_pct" if weather.relative_humidity_pct else "dew_point_c"
        raise InvalidInput(f"weather.{name}.{dry[0]}", reason="reason.air_too_dry", hours=len(dry), limit=lowest)
    warnings = []
    damp = sum(one > HUMIDITY_MAX_PCT for one in humidity)
    if damp:
        limit = Quantity(HUMIDITY_MAX_PCT, "%")
        warnings.append(Message("warning.window.humidity_held", {"hours": damp, "limit": limit}))
    if dry:
        warnings.append(Message("warning.window.dry_air_held", {"hours": len(dry), "limit": lowest}))
    return warnings


def _humidity(weather: Weather) -> tuple[float, ...]:
    hours = len(weather.temperature_c)
    for name in ("relative_humidity_pct", "dew_point_c", "wind_m_s", "rain_mm"):
        given = getattr(weather, name)
        if given and len(given) != hours:
            fields = ["weather.temperature_c", f"weather.{name}"]
            raise Contradiction(fields, "reason.series_lengths", hours=hours, others=len(given))
    if not weather.relative_humidity_pct and not weather.dew_point_c:
        fields = ["weather.relative_humidity_pct", "weather.dew_point_c"]
        raise InvalidInput(fields[0], reason="reason.one_of", fields=fields)
    if not weather.dew_point_c:
        return weather.relative_humidity_pct
    derived = []
    for hour, (warmth, dew_point) in enumerate(zip(weather.temperature_c, weather.dew_point_c, strict=True)):
        if dew_point > warmth:
            raise OutOfRange(
                f"weather.dew_point_c.{hour}", dew_point, None, warmth, "Cel", reason="reason.dew_point_above_air"
            )
        derived.append(relative_humidity_from_dew_point_pct(warmth, dew_point))
    for hour, (one, other) in enumerate(zip(weather.relative_humidity_pct, derived, strict=False)):
        if abs(one - other) > HUMIDITY_TOLERANCE_PCT:
            fields = [f"weather.relative_humidity_pct.{hour}", f"weather.dew_point_c.{hour}"]
            facts = {"given": Quantity(one, "%"), "derived": Quantity(other, "%")}
            raise Contradiction(fields, "reason.humidity_dew_point", **facts)
    return weather.relative_humidity_pct or tuple(derived)


def _chosen(
    question: WindowQuestion, sets: Sequence[CoefficientSet], temperatures: Sequence[float], share_pct: float
) -> tuple[CoefficientSet, list[Message]]:
    """Return the set to use: as asked, else the default, else the next one that is meant for such air."""
    wanted = _narrowed(question, sets)
    fitting = [one for one in wanted if _share_outside_pct(one, temperatures) <= share_pct]
    if not fitting:
        low, high = _temperatures(wanted[0])
        raise OutOfRange("weather.temperature_c", temperatures[0], low, high, "Cel", reason="reason.outside_the_set")
    if fitting[0] is wanted[0]:
        return fitting[0], []
    low, high = _temperatures(wanted[0])
    facts = {"source": fitting[0].source, "low": Quantity(low, "Cel"), "high": Quantity(high, "Cel")}
    return fitting[0], [Message("warning.window.other_set", facts)]


def _narrowed(question: WindowQuestion, sets: Sequence[CoefficientSet]) -> list[CoefficientSet]:
    found = list(sets)
    if question.equilibrium_form is not None:
        found = [one for one in found if one.form == question.equilibrium_form]
        if not found:
            forms = sorted({one.form for one in sets})
            raise UnknownName("equilibrium_form", question.equilibrium_form, forms)
    if question.equilibrium_source is not None:
        sources = sorted({one.source for one in found})
        found = [one for one in found if one.source == question.equilibrium_source]
        if not found:
            raise UnknownName("equilibrium_source", question.equilibrium_source, sources)
    # a set that was asked for is not replaced by another
    asked = question.equilibrium_form is not None or question.equilibrium_source is not None
    return found[:1] if asked else found


def _temperatures(one: CoefficientSet) -> tuple[float, float]:
    low, high = one.temperature_low_c, one.temperature_high_c
    return (-10.0 if low is None else low, 65.0 if high is None else high)


def _share_outside_pct(one: CoefficientSet, temperatures: Sequence[float]) -> float:
    low, high = _temperatures(one)
    return 100 * sum(not low <= warmth <= high for warmth in temperatures) / len(temperatures)


def _wet(weather: Weather, dew: Sequence[bool], drying: Sequence[bool], wet_hours: float) -> tuple[bool, ...]:
    """Hours with rain or dew, and those after them until enough hours of drying air have dried the outside."""
    rain = weather.rain_mm or (0.0,) * len(dew)
    wet, left = [], 0.0
    for fell, bedewed, dries in zip(rain, dew, drying, strict=True):
        if fell > 0 or bedewed:
            left = wet_hours
            wet.append(True)
            continue
        wet.append(left > 0)
        # a night of damp air leaves the crop as wet as the evening did
        left -= float(dries)
    return tuple(wet)
