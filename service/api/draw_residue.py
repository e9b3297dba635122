"""The chart of a spread: one pass before and after the advised change, and the field with its neighbours."""

from service.api.present_residue import correction_text, places_of
from service.api.reader import Reader
from service.domain.spread_change import mirrored
from service.domain.spread_overlap import layer_after_passes
from service.domain.spread_pattern import SpreadPattern
from service.domain.types import Message
from service.plot import Axis, Chart, Level, Mark, Panel, Points, Series, Span
from service.text import render
from service.units import convert, shown_unit
from service.usecases.residue_trays import relative
from service.usecases.residue_types import Correction, Spread

NEIGHBOURS_HIGH = 220


def draw_spread(answer: Spread, reader: Reader) -> Chart:
    """Return the chart: metres or feet across the travel on the x axis, right as seen in driving."""
    return _Drawing(answer, reader).chart()


class _Drawing:
    """The answer with the words and units of a reader."""

    def __init__(self, answer: Spread, reader: Reader) -> None:
        self.answer, self.reader = answer, reader
        self.unit = shown_unit("m", reader.units)
        reach = places_of(answer)[-1]
        self.half_m = max(reach, answer.spacing_m + answer.question.cut_width_m / 2)
        step = self.half_m / 120
        self.places = tuple(number * step for number in range(-120, 121))
        self.best = next((one for one in answer.corrections if one.code == answer.best), None)

    def text(self, code: str, **params: object) -> str:
        return render(Message(code, params), self.reader.lang, self.reader.units)

    def at(self, place_m: float) -> float:
        """Place in the reader's unit."""
        return convert(place_m, "m", self.unit)

    def chart(self) -> Chart:
        answer, half = self.answer, self.answer.question.cut_width_m / 2
        spacing = answer.spacing_m
        return Chart(
            title=self.text("chart.residue.title", crop=answer.crop_names),
            description=render(answer.decision, self.reader.lang, self.reader.units),
            x=Axis(
                self.text("chart.residue.across_us" if self.unit == "[ft_i]" else "chart.residue.across"),
                low=self.at(-self.half_m),
                high=self.at(self.half_m),
            ),
            panels=(self.one_pass(), self.field()),
            spans=(Span(self.at(-half), self.at(half), self.text("chart.residue.cut")),),
            marks=tuple(Mark(self.at(side * spacing), self.text("chart.residue.neighbour")) for side in (-1.0, 1.0)),
        )

    def line(self, pattern: SpreadPattern) -> Points:
        layers = relative(pattern, self.answer.even_layer_g, self.places)
        return tuple((self.at(place), layer) for place, layer in zip(self.places, layers, strict=True))

    def one_pass(self) -> Panel:
        answer = self.answer
        rows = [Series(self.text("chart.residue.measured"), self.line(answer.measured), "dashed", 5)]
        wind, slope = answer.air.crosswind_m_s != 0, answer.air.slope_across_deg != 0
        if wind or slope:
            moved_by = "now" if wind and slope else "now_wind" if wind else "now_slope"
            rows.append(Series(self.text(f"chart.residue.{moved_by}"), self.line(answer.as_it_is.pattern), "line", 1))
        if self.best is not None:
            change = render(correction_text(self.best), self.reader.lang, self.reader.units)
            rows.append(Series(change, self.line(self.best.pattern), "line", 0))
        return Panel(
            y=Axis(self.text("chart.residue.layer"), low=0.0),
            series=tuple(rows),
            levels=(Level(1.0, self.text("chart.residue.even")),),
            height=240,
        )

    def field(self) -> Panel:
        """The sum of all passes, before and after, and the two neighbours alone."""
        chosen = self.answer.as_it_is if self.best is None else self.best
        rows = [
            Series(self.text("chart.residue.field_now"), self.sum_of(self.answer.as_it_is), "line", 1),
        ]
        if self.best is not None:
            rows.append(Series(self.text("chart.residue.field_after"), self.sum_of(self.best), "line", 0))
        spacing, neighbour = self.answer.spacing_m, self.passes(chosen)[-1]
        for side, label in ((-1.0, self.text("chart.residue.neighbours")), (1.0, "")):
            places = tuple(place + side * spacing for place in neighbour.positions_m)
            rows.append(Series(label, self.line(SpreadPattern(places, neighbour.layer)), "dashed", 2))
        return Panel(
            y=Axis(self.text("chart.residue.field"), low=0.0),
            series=tuple(rows),
            levels=(Level(1.0, self.text("chart.residue.even")),),
            height=NEIGHBOURS_HIGH,
        )

    def passes(self, one: Correction) -> tuple[SpreadPattern, ...]:
        """The pass and the next one, both as they lie on the field."""
        return (one.pattern,) if one.return_pattern is None else (one.pattern, mirrored(one.return_pattern))

    def sum_of(self, one: Correction) -> Points:
        layers = layer_after_passes(self.passes(one), self.answer.spacing_m, self.places)
        even = self.answer.even_layer_g
        return tuple((self.at(place), layer / even) for place, layer in zip(self.places, layers, strict=True))
