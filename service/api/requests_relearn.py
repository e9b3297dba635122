"""What a request for relearning and one for belt slip may hold.

Which fittings, events and tasks there are is the knowledge table's to say (`GET /v1/relearn-tasks`); those
written here are examples.
"""

import datetime
from typing import Annotated, Literal

from pydantic import Field

from service.api.days import Day
from service.api.fields import Given, Name, Number, Truth
from service.api.requests import RequestModel
from service.knowledge.schema import ClassId

_DATE = "Day it was, instead of hours or beside them; needs `today`."
_HOURS = "Machine hours since."
_METER = "What the hour meter showed then, instead of `hours_ago`; needs `hours_now`."


class MachineEventRequest(RequestModel):
    """Something that happened to the machine. Without a time it counts as since everything that was done."""

    event: Annotated[str, Name()] = Field(
        description="Event by id; see `GET /v1/relearn-tasks`.", examples=["belt_replaced", "new_crop", "season_start"]
    )
    part: Annotated[str | None, Name()] = Field(
        None, description="What it happened to, where the event has parts; without it all of them.", examples=["fan"]
    )
    hours_ago: Annotated[float | None, Number("hours_ago")] = Field(None, description=_HOURS)
    at_hours: Annotated[float | None, Number("at_hours")] = Field(None, description=_METER)
    date: Annotated[datetime.date | None, Day()] = Field(None, description=_DATE)


class LastDoneRequest(RequestModel):
    """When a task was done last, or that it never was."""

    task: Annotated[str, Name()] = Field(
        description="Task by id; see `GET /v1/relearn-tasks`.", examples=["sieve_end_stops", "yield_weighed"]
    )
    hours_ago: Annotated[float | None, Number("hours_ago")] = Field(None, description=_HOURS)
    at_hours: Annotated[float | None, Number("at_hours")] = Field(None, description=_METER)
    date: Annotated[datetime.date | None, Day()] = Field(None, description=_DATE)
    never: Annotated[bool, Truth()] = Field(
        default=False, description="True where it was never done on this machine, so far as is known."
    )


class RelearnRequest(RequestModel):
    """What a machine has, what happened to it, and what was done when."""

    machine_class: Annotated[ClassId | None, Given()] = Field(
        None, description="Threshing and separating principle; rules out fittings that such machines have not."
    )
    fitted: list[Annotated[str, Name()]] = Field(
        [],
        max_length=50,
        description="What the machine has, by id; see `GET /v1/relearn-tasks`.",
        examples=[["sieve_actuators", "yield_sensor"]],
    )
    not_fitted: list[Annotated[str, Name()]] = Field(
        [],
        max_length=50,
        description="What it has not. What is in neither list is unknown, and the answer says so.",
        examples=[["spreader_actuators"]],
    )
    events: list[MachineEventRequest] = Field(
        max_length=50,
        description="All that happened since things were done last, perhaps nothing; what is left out did not.",
    )
    last_done: list[LastDoneRequest] = Field(
        [], max_length=50, description="When tasks were done last, each once. A task that is left out is unknown."
    )
    hours_now: Annotated[float | None, Number("hours_now")] = Field(
        None, description="What the hour meter shows now.", examples=[1240.0]
    )
    today: Annotated[datetime.date | None, Day()] = Field(
        None, description="The day that dates are counted back from.", examples=["2026-07-20"]
    )


class BeltSlipRequest(RequestModel):
    """Shaft speeds of a belt drive, and one way to what they should be."""

    driven_rpm: Annotated[float, Number("driven_rpm")] = Field(
        description="Speed of the driven shaft as measured; 0 where it stands.", examples=[1062.0]
    )
    driver_rpm: Annotated[float | None, Number("driver_rpm")] = Field(
        None, description="Speed of the driving shaft, measured at the same time."
    )
    load: Literal["empty", "loaded"] = Field(description="Whether it was measured running empty or in full crop.")
    expected_driven_rpm: Annotated[float | None, Number("expected_driven_rpm")] = Field(
        None, description="What the driven shaft should turn at. This, `speed_ratio`, or both diameters."
    )
    expected_driver_rpm: Annotated[float | None, Number("expected_driver_rpm")] = Field(
        None,
        description="Speed of the driving shaft that `expected_driven_rpm` belongs to; without it, that measured now.",
    )
    expected_from: Literal["manual", "empty_run"] = Field(
        "manual", description="Whether the expected speeds stand in a manual, or were measured running empty before."
    )
    speed_ratio: Annotated[float | None, Number("speed_ratio")] = Field(
        None, description="Revolutions of the driven shaft for one of the driving shaft, without slip."
    )
    driver_diameter_mm: Annotated[float | None, Number("driver_diameter_mm")] = Field(
        None, description="Effective diameter of the pulley that drives; of both pulleys or none."
    )
    driver_diameter_in: Annotated[float | None, Number("driver_diameter_in")] = Field(
        None, description="The same as `driver_diameter_mm` in inches."
    )
    driven_diameter_mm: Annotated[float | None, Number("driven_diameter_mm")] = Field(
        None, description="Effective diameter of the pulley that is driven."
    )
    driven_diameter_in: Annotated[float | None, Number("driven_diameter_in")] = Field(
        None, description="The same as `driven_diameter_mm` in inches."
    )
    drive: Literal["fixed", "variable"] = Field(
        "fixed", description="`variable`: the pulleys change their effective diameters, so these tell nothing."
    )
    speed_error_pct: Annotated[float | None, Number("speed_error_pct")] = Field(
        None, description="Standard error of each speed that was measured; without it the table's."
    )
    diameter_error_pct: Annotated[float | None, Number("diameter_error_pct")] = Field(
        None, description="Standard error of each diameter; without it the table's."
    )
    transmitted_power_kw: Annotated[float | None, Number("transmitted_power_kw")] = Field(
        None, description="Power that the belt carries, if known: what slip turns into heat."
    )
    transmitted_power_hp: Annotated[float | None, Number("transmitted_power_hp")] = Field(
        None, description="The same as `transmitted_power_kw` in horsepower."
    )
