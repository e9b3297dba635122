"""What a reviewer sends: prices, decisions, the revision to go back to; and what a paired test is asked for."""

from typing import Annotated, Literal

from pydantic import Field

from service.api.fields import Given, Name, Number, Whole
from service.api.requests import ReaderQuery, RequestModel
from service.knowledge.schema import ClassId


class RefinementRequest(RequestModel):
    """What one percent of each outcome costs, in percent of the crop's worth; what is left out is as usual."""

    loss_price: Annotated[float | None, Number("loss_price")] = Field(
        None, description="Of grain that is lost; 1 where it is worth what the rest is worth.", examples=[1.0]
    )
    broken_price: Annotated[float | None, Number("broken_price")] = Field(
        None, description="Of broken kernels: what the buyer takes off for one percent.", examples=[0.35]
    )
    foreign_matter_price: Annotated[float | None, Number("foreign_matter_price")] = Field(
        None, description="Of foreign matter: what the buyer takes off for one percent.", examples=[0.4]
    )


class DecisionRequest(RequestModel):
    """What becomes of one row."""

    row: Annotated[str, Name(120)] = Field(description="`id` of the row.", examples=["wheat.hybrid.best"])
    decision: Literal["accept", "refuse"] = Field(description="A later decision takes the place of an earlier one.")
    reason: Annotated[str | None, Name(400, lines=True)] = Field(
        None, description="Why; needed to refuse. For those who review after you."
    )


class DecisionsRequest(RequestModel):
    """What becomes of rows of a draft; all of it is done, or nothing."""

    decisions: list[DecisionRequest] = Field(min_length=1, max_length=200, description="Each row once.")


class RestoreRequest(RequestModel):
    """Which revision is to hold again."""

    number: Annotated[int, Whole("number")] = Field(description="Number of an earlier revision.", examples=[1])


class PairedTestsQuery(ReaderQuery):
    """For which crop and machine."""

    crop: Annotated[str, Name()] = Field(
        description="Crop by id, name, alias or EPPO code; see `GET /v1/crops`.", examples=["wheat"]
    )
    machine_class: ClassId = Field(description="Threshing and separating principle.", examples=["hybrid"])
    moisture_band: Annotated[Literal["dry", "best", "damp"] | None, Given()] = Field(
        None, description="Only this band of grain moisture."
    )
