"""Charts of unloading and of a hauling plan.

Inside: what is drawn. Outside: how (`plot`).
"""

from collections.abc import Callable
from dataclasses import replace

from service.api.money import Money
from service.api.reader import Reader
from service.api.showing import Showing
from service.domain.intervals import scaled
from service.domain.types import Message, Quantity
from service.plot import Axis, Band, Chart, Level, Mark, Panel, Points, Series
from service.text import unit_label
from service.units import convert
from service.usecases.hauling_types import HaulingPlan, Plan
from service.usecases.unloading_types import Unloading, Way

# tanks that the chart of unloading goes through
TANKS = 3
# levels that lie further off than this many times the highest curve would flatten it
_ROOM = 1.4


def draw_unloading(answer: Unloading, reader: Reader) -> Chart:
    """Return the level of the tank and the area cut over time, for the ways that a driver chooses between."""
    show = Showing(reader)
    ways = [
        _with_reserve(answer, way)
        for way in answer.ways
        if way.possible and way.code in ("moving", "standing", "headland", "edge")
    ]
    end = TANKS * min(_cycle_min(answer, way) for way in ways)
    call = answer.filling.time_min - answer.call.before_full_min
    area = show.unit("har")

    def row(way: Way, colour: int, points: Points) -> Series:
        return Series(show.text(f"unloading.way_{way.code}"), points, "line" if colour == 0 else "dashed", colour)

    levels = tuple(row(way, k, _tank(answer, way, end)) for k, way in enumerate(ways))
    areas = tuple(row(way, k, _area(answer, way, end, area)) for k, way in enumerate(ways))
    return Chart(
        title=_say(show, "chart.unloading.title", crop=show.name(answer.crop_names)),
        description=show.note(answer.decision).text,
        x=Axis(show.text("chart.unloading.time"), low=0.0, high=end),
        panels=(
            Panel(
                Axis(show.text("chart.unloading.level"), low=0.0, high=110.0),
                levels,
                levels=(Level(answer.call.level_pct, show.text("chart.unloading.call_level")),),
            ),
            Panel(Axis(f"{show.text('chart.unloading.area')}, {unit_label(area, reader.lang)}", low=0.0), areas),
        ),
        marks=(Mark(call, show.text("chart.unloading.call")),) if 0 < call < end else (),
    )


def _with_reserve(answer: Unloading, way: Way) -> Way:
    """Begin on the move when the cart that was called is there: what is free still then stays free."""
    arrival, load = answer.call.arrival_min, way.load_pct
    if not _moves(way) or arrival is None or load is None or way.unload_s is None:
        return way
    there = min(load, answer.call.level_pct + 100 * arrival / answer.filling.time_min)
    unload, part = way.unload_s, there / load
    lost = None if way.lost_min is None else way.lost_min * part
    return replace(way, load_pct=there, lost_min=lost, unload_s=scaled(unload, part))


def _cycle_min(answer: Unloading, way: Way) -> float:
    share = (way.load_pct or 100.0) / 100
    beside = way.unload_s.value / 60 if way.unload_s is not None and _moves(way) else 0.0
    return answer.filling.time_min * share + (way.lost_min or 0.0) + beside


def _moves(way: Way) -> bool:
    return way.distance_m is not None


def _tank(answer: Unloading, way: Way, end_min: float) -> Points:
    """Fill, unload at the end of a stop or on the move, and again."""
    points, now, share = [(0.0, 0.0)], 0.0, way.load_pct or 100.0
    unload_min = 0.0 if way.unload_s is None else way.unload_s.value / 60
    while now < end_min:
        full, lost = now + answer.filling.time_min * share / 100, way.lost_min or 0.0
        # a stop is drive and docking, then the auger runs; on the move the breaks of short runs lie in between
        begin, now = (full, full + unload_min + lost) if _moves(way) else (full + lost - unload_min, full + lost)
        points += [(full, share), (begin, share), (now, 0.0)]
    return tuple(points)


def _area(answer: Unloading, way: Way, end_min: float, unit: str) -> Points:
    """Area that is cut: a line where the machine never stops, steps where it does."""
    rate = answer.filling.grain_t_h / answer.yield_t_ha / 60
    points, now, cut = [(0.0, 0.0)], 0.0, 0.0
    while now < end_min:
        working = _cycle_min(answer, way) - (way.lost_min or 0.0)
        now, cut = now + working, cut + working * rate
        points.append((now, convert(cut, "har", unit)))
        now += way.lost_min or 0.0
        points.append((now, convert(cut, "har", unit)))
    return tuple(points)


def draw_hauling(answer: HaulingPlan, reader: Reader) -> Chart:
    """Return cost, output and use over the number of haulers."""
    show = Showing(reader)
    numbers = [one.haulers for one in answer.plans]
    panels = [_output(show, answer), _use(show, answer)]
    if answer.best.cost is not None:
        panels.insert(0, _cost(show, answer))
    return Chart(
        title=_say(show, "chart.hauling.title", crop=show.name(answer.crop_names)),
        description=show.note(answer.decision).text,
        x=Axis(
            show.text("chart.hauling.haulers"),
            ticks=tuple((float(number), str(number)) for number in numbers),
            low=numbers[0] - 0.25,
            high=numbers[-1] + 0.25,
        ),
        panels=tuple(panels),
        marks=(Mark(float(answer.best.haulers), show.text("chart.hauling.best")),),
    )


def _cost(show: Showing, answer: HaulingPlan) -> Panel:
    money = Money(show, answer.currency, answer.bushel_lb)

    def row(code: str, colour: int, pick: Callable[[Plan], float]) -> Series:
        points = tuple((float(one.haulers), money.per_mass(pick(one)).value) for one in answer.plans)
        return Series(show.text(f"chart.hauling.cost_{code}"), points, "line" if colour == 0 else "dashed", colour)

    rows = [
        row("total", 0, lambda one: 0.0 if one.cost is None else one.cost.total),
        row("combines", 1, lambda one: 0.0 if one.cost is None else one.cost.combines),
        row("haulers", 2, lambda one: 0.0 if one.cost is None else one.cost.haulers),
    ]
    if answer.best.cost is not None and answer.best.cost.delay > 0:
        rows.append(row("delay", 3, lambda one: 0.0 if one.cost is None else one.cost.delay))
    code = {"t": "tonne", "[bu_us]": "bushel"}.get(money.mass, "short_ton")
    label = _say(show, f"chart.hauling.cost_per_{code}", currency=answer.currency or show.text("chart.hauling.money"))
    return Panel(Axis(label, low=0.0), tuple(rows))


def _output(show: Showing, answer: HaulingPlan) -> Panel:
    """Area per hour with its limits, and what combines and store allow."""
    unit = show.unit("har/h")

    def shown(grain_t_h: float) -> float:
        return convert(grain_t_h / answer.yield_t_ha, "har/h", unit)

    def points(pick: Callable[[Plan], float]) -> Points:
        return tuple((float(one.haulers), shown(pick(one))) for one in answer.plans)

    rows = [Series(show.text("chart.hauling.simulated"), points(lambda one: one.grain_t_h.value))]
    exact = tuple((float(one.haulers), shown(one.exact.grain_t_h)) for one in answer.plans if one.exact is not None)
    if exact:
        rows.append(Series(show.text("chart.hauling.exact"), exact, "dots", 1))
    band = Band(
        show.text("chart.hauling.limits"), points(lambda one: one.grain_t_h.low), points(lambda one: one.grain_t_h.high)
    )
    links = answer.best.links
    most = max(shown(one.grain_t_h.high) for one in answer.plans)
    # a line of its own: as a level its name would run into that of the combines
    store = tuple(
        (float(one.haulers), shown(one.links.store_t_h)) for one in answer.plans if one.links.store_t_h is not None
    )
    if store and min(y for _, y in store) <= _ROOM * most:
        rows.append(Series(show.text("chart.hauling.level_store"), store, "dashed", 3))
    limit = shown(links.combines_t_h)
    return Panel(
        Axis(f"{show.text('chart.hauling.output')}, {unit_label(unit, show.reader.lang)}", low=0.0),
        tuple(rows),
        (band,),
        (Level(limit, show.text("chart.hauling.level_combines")),) if limit <= _ROOM * most else (),
    )


def _use(show: Showing, answer: HaulingPlan) -> Panel:
    """Share of their time that combines cut, haulers are under way and the store takes grain in."""

    def points(pick: Callable[[Plan], float | None]) -> Points:
        return tuple((float(one.haulers), found) for one in answer.plans if (found := pick(one)) is not None)

    rows = [
        Series(show.text("chart.hauling.use_combines"), points(lambda one: one.cutting_share_pct.value)),
        Series(show.text("chart.hauling.use_haulers"), points(lambda one: one.hauler_use_pct), "dashed", 2),
    ]
    if answer.best.store_use_pct is not None:
        rows.append(Series(show.text("chart.hauling.use_store"), points(lambda one: one.store_use_pct), "dashed", 3))
    return Panel(Axis(show.text("chart.hauling.use"), low=0.0, high=105.0), tuple(rows), height=180)


def _say(show: Showing, code: str, **facts: str | Quantity) -> str:
    return show.note(Message(code, facts)).text
