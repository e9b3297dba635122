"""A working speed as a chart: cost, loss and area rate over ground speed."""

from collections.abc import Callable

from service.api.reader import Reader
from service.api.showing import Showing
from service.domain.feed_curve import loss_at
from service.domain.losses import loss_share_pct
from service.domain.types import Message, Quantity
from service.plot import Axis, Band, Chart, Level, Mark, Panel, Points, Series, Span
from service.text import unit_label
from service.units import convert
from service.usecases.working_speed_types import At, FormResult, WorkingSpeed

SPEED, RATE = "km/h", "har/h"
# limits that lie further off than this many times the highest curve are cut off, so that the curve stays readable
_ROOM = 1.5


def plot_speed(answer: WorkingSpeed, reader: Reader) -> Chart:
    """Return the chart of an answer."""
    show = Showing(reader)
    best = answer.best
    crop = show.name(answer.crop_names)
    facts: dict[str, object] = {
        "crop": crop,
        "best": Quantity(best.at.ground_speed_km_h, SPEED),
        "low": Quantity(best.flat_low_km_h, SPEED),
        "high": Quantity(best.flat_high_km_h, SPEED),
        "share": Quantity(best.flat_pct, "%"),
    }
    flat = Span(_x(show, best.flat_low_km_h), _x(show, best.flat_high_km_h), _say(show, "plot.speed_flat", facts))
    return Chart(
        title=_say(show, "plot.speed_title", facts),
        description=_say(show, "plot.speed_description", facts),
        x=Axis(_named(show, "plot.ground_speed", _label(show, SPEED))),
        panels=(_cost(show, answer), _loss(show, answer), _rate(show, answer)),
        spans=(flat,),
        marks=(Mark(_x(show, best.at.ground_speed_km_h), _say(show, "plot.speed_best", facts)),),
    )


def _cost(show: Showing, answer: WorkingSpeed) -> Panel:
    area = show.unit("har")
    share = convert(1, area, "har")

    def row(code: str, colour: int, pick: Callable[[At], float]) -> Series:
        points = tuple((_x(show, at.ground_speed_km_h), pick(at) * share) for at in answer.line)
        return Series(show.text(f"cost.{code}"), points, "line", colour)

    rows = [
        row("total", 0, lambda at: at.cost.total),
        row("machine", 1, lambda at: at.cost.machine),
        row("lost_grain", 2, lambda at: at.cost.loss),
    ]
    if any(at.cost.delay > 0 for at in answer.line):
        rows.append(row("delay", 3, lambda at: at.cost.delay))
    unit = f"{answer.currency}/{_label(show, 'har')}".removeprefix("/")
    return Panel(Axis(_named(show, "plot.cost", unit), low=0.0), tuple(rows))


def _loss(show: Showing, answer: WorkingSpeed) -> Panel:
    line = answer.line
    chosen, *others = answer.forms
    inside = [at for at in line if answer.tested_low_km_h <= at.ground_speed_km_h <= answer.tested_high_km_h]
    # the ends of what was tested belong to both stretches, so that the line has no gap
    ends = [test.at for test in answer.tests]
    lowest, highest = min(ends, key=_speed), max(ends, key=_speed)
    stretches = (
        [at for at in line if at.ground_speed_km_h < answer.tested_low_km_h] + [lowest],
        [highest] + [at for at in line if at.ground_speed_km_h > answer.tested_high_km_h],
    )
    tested = [lowest, *inside, highest]
    rows = [Series(show.text(f"curve.{chosen.form}"), _shares(show, tested), "line", 0)]
    labels = iter((show.text("plot.beyond_tests"), ""))
    rows += [Series(next(labels), _shares(show, part), "dashed", 0) for part in stretches if len(part) > 1]
    for colour, other in enumerate(others, start=2):
        points = tuple((_x(show, _speed(at)), _share(answer, _other_loss(other, at))) for at in tested)
        rows.append(Series(show.text(f"curve.{other.form}"), points, "dashed", colour))
    tests = tuple((_x(show, test.ground_speed_km_h), test.loss_pct) for test in answer.tests)
    rows.append(Series(show.text("plot.drop_tests"), tests, "dots", 1))
    bands = _band(show, line)
    tallest = max([at.loss_pct for at in line] + [y for _, y in tests])
    over = any(y > _ROOM * tallest for band in bands for _, y in band.upper)
    level = answer.capacity.level_pct
    named = _say(show, "plot.loss_level", {"level": Quantity(level, "%")})
    levels = (Level(level, named),) if answer.scope == "machine" and level <= _ROOM * tallest else ()
    axis = Axis(_named(show, f"plot.loss_{answer.scope}", "%"), low=0.0, high=_ROOM * tallest if over else None)
    return Panel(axis, tuple(rows), bands, levels)


def _band(show: Showing, line: tuple[At, ...]) -> tuple[Band, ...]:
    lower = [(_x(show, at.ground_speed_km_h), at.loss_low_pct) for at in line if at.loss_low_pct is not None]
    upper = [(_x(show, at.ground_speed_km_h), at.loss_high_pct) for at in line if at.loss_high_pct is not None]
    return (Band(show.text("plot.interval"), tuple(lower), tuple(upper), 0),) if lower else ()


def _rate(show: Showing, answer: WorkingSpeed) -> Panel:
    shown = show.unit(RATE)
    points = tuple((_x(show, at.ground_speed_km_h), convert(at.area_rate_ha_h, RATE, shown)) for at in answer.line)
    label = _named(show, "plot.area_rate", _label(show, RATE))
    return Panel(Axis(label, low=0.0), (Series(label, points),), height=140)


def _shares(show: Showing, line: list[At]) -> Points:
    return tuple((_x(show, at.ground_speed_km_h), at.loss_pct) for at in line)


def _share(answer: WorkingSpeed, loss_kg_ha: float) -> float:
    # a form that was not chosen may dip below zero between the tests
    return loss_share_pct(max(0.0, loss_kg_ha), answer.yield_t_ha * 1000)


def _other_loss(form: FormResult, at: At) -> float:
    return loss_at(form.form, form.coefficients, at.ground_speed_km_h)


def _speed(at: At) -> float:
    return at.ground_speed_km_h


def _x(show: Showing, speed_km_h: float) -> float:
    return convert(speed_km_h, SPEED, show.unit(SPEED))


def _label(show: Showing, unit: str) -> str:
    return unit_label(show.unit(unit), show.reader.lang)


def _named(show: Showing, code: str, unit: str) -> str:
    return f"{show.text(code)} [{unit}]" if unit else show.text(code)


def _say(show: Showing, code: str, facts: dict[str, object]) -> str:
    return show.note(Message(code, facts)).text
