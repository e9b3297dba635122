"""A working speed as an answer in the reader's units and language."""

from typing import Any

from service.api.answers import Amount, Estimate
from service.api.answers_speed import (
    AtSpeed,
    BestSpeedOut,
    CapacityOut,
    CostSplit,
    CurveForm,
    DropTestOut,
    EngineOut,
    HourOut,
    HourPartOut,
    MachineUsed,
    RangeOut,
    StepOut,
    WorkingSpeedAnswer,
)
from service.api.reader import Reader
from service.api.showing import Showing
from service.domain.types import Interval, Quantity
from service.domain.types import Message as Text
from service.units import convert, served
from service.usecases.hour_types import Hour
from service.usecases.speed_words import edge_of
from service.usecases.working_speed_types import (
    At,
    Best,
    Capacity,
    Engine,
    FormResult,
    Step,
    TestResult,
    WorkingSpeed,
)

SPEED, AREA, MASS, RATE = "km/h", "har", "kg/har", "har/h"
_SUMMARIES = {
    "none": "speed.summary",
    "low": "speed.summary_low",
    "high": "speed.summary_high",
    "power": "speed.summary_power",
}


def present_speed(answer: WorkingSpeed, reader: Reader) -> WorkingSpeedAnswer:
    """Return the whole answer."""
    speaking = Speaking(Showing(reader), answer.currency)
    show = speaking.show
    return WorkingSpeedAnswer(
        knowledge=show.knowledge(),
        crop=show.named(answer.crop, answer.crop_names),
        crop_yield=show.crop_yield(answer.yield_t_ha, answer.bushel_lb),
        cut_width=show.amount(answer.cut_width_m, "m"),
        price=Amount(value=round(answer.price_per_t, 2), unit=f"{speaking.money_unit}/t"),
        scope=answer.scope,
        summary=show.note(_summary(answer)),
        best=speaking.best(answer.best),
        steps=[speaking.step(one) for one in answer.steps],
        capacity=speaking.capacity(answer.capacity),
        tests=[speaking.test(one) for one in answer.tests],
        range=RangeOut(
            tested_low=show.amount(answer.tested_low_km_h, SPEED),
            tested_high=show.amount(answer.tested_high_km_h, SPEED),
            step=show.amount(answer.step_km_h, SPEED),
            low=show.amount(answer.range_low_km_h, SPEED),
            high=show.amount(answer.range_high_km_h, SPEED),
        ),
        forms=[speaking.form(one) for one in answer.forms],
        why_form=show.note(answer.why_form),
        hour=speaking.hour(answer.hour),
        engine=None if answer.engine is None else speaking.engine(answer.engine),
        line=[AtSpeed(**speaking.at(one)) for one in answer.line],
        warnings=show.notes(answer.warnings),
        cautions=show.notes(answer.cautions),
        sources=show.references(),
    )


def _summary(answer: WorkingSpeed) -> Text:
    best = answer.best
    return Text(
        _SUMMARIES[edge_of(answer)],
        {
            "best": Quantity(best.at.ground_speed_km_h, SPEED),
            "low": Quantity(best.flat_low_km_h, SPEED),
            "high": Quantity(best.flat_high_km_h, SPEED),
            "share": Quantity(best.flat_pct, "%"),
        },
    )


class Speaking:
    """Parts of the answer for one reader and one currency."""

    def __init__(self, show: Showing, currency: str) -> None:
        self.show = show
        # UCUM has no currencies; an annotation in braces stands for a count
        self.money_unit = f"{{{currency or 'money'}}}"

    def money(self, amount: float, per: str) -> Amount:
        """Money per area, per hour, or in all where `per` is empty; an acre costs its share of the hectare."""
        shown = self.show.unit(per) if per else ""
        factor = convert(1, shown, per) if per else 1.0
        return Amount(value=round(amount * factor, 2) + 0.0, unit=self.money_unit + (f"/{shown}" if shown else ""))

    def at(self, at: At) -> dict[str, Any]:
        """Return the fields of `AtSpeed`."""
        cost = at.cost
        return {
            "ground_speed": self.show.amount(at.ground_speed_km_h, SPEED),
            "loss": self.show.amount(at.loss_kg_ha, MASS),
            "loss_share": self.show.estimate(at.loss_pct, at.loss_low_pct, at.loss_high_pct, "%"),
            "area_rate": self.show.amount(at.area_rate_ha_h, RATE),
            "cost": CostSplit(
                machine=self.money(cost.machine, AREA),
                delay=self.money(cost.delay, AREA),
                loss=self.money(cost.loss, AREA),
                total=self.money(cost.total, AREA),
            ),
            "extrapolated": at.extrapolated,
        }

    def best(self, best: Best) -> BestSpeedOut:
        """Return the best speed."""
        show, speed = self.show, best.at.ground_speed_km_h
        left_out = None
        if best.left_out_low_km_h is not None:
            # leaving one out may move the range to one side of the best of all
            left_out = show.estimate(speed, best.left_out_low_km_h, best.left_out_high_km_h, SPEED)
        return BestSpeedOut(
            **self.at(best.at),
            edge=best.edge,
            flat=show.estimate(speed, best.flat_low_km_h, best.flat_high_km_h, SPEED),
            flat_share=show.amount(best.flat_pct, "%"),
            left_out=left_out,
            grain_throughput=show.amount(best.grain_t_h, "t/h"),
            straw_throughput=show.amount(best.straw_and_chaff_t_h, "t/h"),
            field_efficiency=show.amount(best.field_efficiency_pct, "%"),
        )

    def step(self, step: Step) -> StepOut:
        """Return what another speed changes."""
        hours, total = step.hours_on_area, step.total_on_area
        return StepOut(
            code=step.code,
            name=self.show.text(f"speed.step_{step.code}"),
            from_speed=self.show.amount(step.from_km_h, SPEED),
            to_speed=self.show.amount(step.to_km_h, SPEED),
            time=self.money(step.time_per_ha, AREA),
            loss=self.money(step.loss_per_ha, AREA),
            total=self.money(step.total_per_ha, AREA),
            hours_on_area=None if hours is None else self.show.amount(hours, "h"),
            total_on_area=None if total is None else self.money(total, ""),
        )

    def capacity(self, capacity: Capacity) -> CapacityOut:
        """Return the capacity at a stated loss."""
        how, level = capacity.level_proof, Quantity(capacity.level_pct, "%")
        figures = {
            "ground_speed": (capacity.ground_speed_km_h, SPEED),
            "grain_throughput": (capacity.grain_t_h, "t/h"),
            "straw_throughput": (capacity.straw_and_chaff_t_h, "t/h"),
            "area_rate": (capacity.area_rate_ha_h, RATE),
        }
        return CapacityOut(
            loss_level=self.show.amount(capacity.level_pct, "%"),
            scope="machine",
            evidence=None if how is None else self.show.evidence_part(how),
            reached=capacity.reached,
            text=self.show.note(Text(f"speed.capacity_{capacity.reached}", {"level": level})).text,
            extrapolated=capacity.extrapolated,
            **{name: self.show.amount(value, unit) for name, (value, unit) in figures.items() if value is not None},
        )

    def test(self, test: TestResult) -> DropTestOut:
        """Return a drop test beside the curve."""
        show, header = self.show, test.header_loss_kg_ha
        return DropTestOut(
            ground_speed=show.amount(test.ground_speed_km_h, SPEED),
            machine_loss=show.amount(test.machine_loss_kg_ha, MASS),
            header_loss=None if header is None else show.amount(header, MASS),
            loss=show.amount(test.loss_kg_ha, MASS),
            loss_share=show.amount(test.loss_pct, "%"),
            below=test.below,
            fitted=AtSpeed(**self.at(test.at)),
        )

    def form(self, form: FormResult) -> CurveForm:
        """Return a form that was fitted."""
        return CurveForm(
            code=form.form,
            name=self.show.text(f"curve.{form.form}"),
            chosen=form.chosen,
            coefficients=[float(f"{one:.6g}") for one in form.coefficients],
            misfit=None if form.score is None else served(form.score, "1"),
            best_speed=self.show.amount(form.best_speed_km_h, SPEED),
            cost=self.money(form.cost_per_ha, AREA),
        )

    def hour(self, hour: Hour) -> HourOut:
        """Return what an hour costs."""
        share, how = hour.delay_share_per_day, hour.delay_proof
        return HourOut(
            origin=hour.origin,
            machine=self.money(hour.machine_per_h, "h"),
            delay=self.money(hour.delay_per_h, "h"),
            parts=[
                HourPartOut(
                    code=part.code,
                    name=self.show.text(f"cost.{part.code}"),
                    amount=self.money(part.per_h, "h"),
                    counted=part.counted,
                    evidence=None if part.proof is None else self.show.evidence_part(part.proof),
                )
                for part in hour.parts
            ],
            delay_share_per_day=None if share is None else self.show.amount(share * 100, "%"),
            delay_evidence=None if how is None else self.show.evidence_part(how),
        )

    def engine(self, engine: Engine) -> EngineOut:
        """Return engine power and fuel."""
        return EngineOut(
            power=self._interval(engine.power_kw, "kW"),
            power_share=self._interval(engine.share_pct, "%"),
            speed_limit=self.show.amount(engine.limit_km_h, SPEED),
            limits=engine.limit_counts,
            fuel_per_hour=self.show.amount(engine.fuel_l_h, "L/h"),
            fuel_per_area=self.show.amount(engine.fuel_l_ha, "L/har"),
            machine=[
                MachineUsed(
                    code=item.code,
                    name=self.show.text(f"machine.{item.code}"),
                    amount=self.show.amount(item.value.value, item.value.unit),
                    origin=item.origin,
                )
                for item in engine.items
            ],
            power_evidence=self.show.evidence_part(engine.power_proof),
            fuel_evidence=self.show.evidence_part(engine.fuel_proof),
        )

    def _interval(self, interval: Interval, unit: str) -> Estimate:
        return self.show.estimate(interval.value, interval.low, interval.high, unit)
