"""Parts that several answers share. Names of fields and their meaning are kept through all of /v1.

Lists of names are open strings with examples: a client must take a name it does not know, so that a
new setting or place is no break. A field that does not apply is left out; nothing is null.
"""

from datetime import datetime

from pydantic import BaseModel, ConfigDict, Field
from pydantic.types import JsonValue


class Part(BaseModel):
    """Base of everything that an answer is made of: complete, finite, unchanging."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


class Amount(Part):
    """A number with its unit."""

    value: float
    unit: str = Field(description="UCUM code.", examples=["m/s", "mm", "{rev}/min"])


class Estimate(Part):
    """A number with its unit and, where known, the range it lies in."""

    value: float
    low: float | None = None
    high: float | None = None
    unit: str = Field(description="UCUM code.", examples=["t/h", "%"])


class YieldAmount(Part):
    """A yield; in bushels the mass of the legal bushel stands beside it."""

    value: float
    unit: str = Field(description="UCUM code.", examples=["t/har", "[bu_us]/[acr_us]"])
    bushel_mass: Amount | None = Field(None, description="Legal mass of the bushel that was counted with.")


class Place(Part):
    """Where a figure stands."""

    id: str = Field(description="Source; see `sources` of the answer or `GET /v1/sources`.")
    at: str = Field(description="Place in the source.")


class Evidence(Part):
    """How a figure is known."""

    basis: str = Field(
        description="Where the number comes from.", examples=["published", "converted", "computed", "expert"]
    )
    known: str = Field(
        description="Whether its page was read, or the figure recalled or worked out.",
        examples=["read", "read_secondhand", "memory", "computed", "derived", "practice"],
    )
    sources: list[Place]


class Named(Part):
    """An id with its name in the reader's language."""

    id: str
    name: str


class Note(Part):
    """A text by its stable code; `params` fill it, so that a client may word it itself."""

    code: str
    text: str
    params: dict[str, JsonValue] | None = None


class Knowledge(Part):
    """The state of the knowledge table that the answer rests on."""

    revision: str = Field(examples=["2026.11.1"])
    digest: str = Field(description="Digest over every value of the table.")


class LocalTableOut(Part):
    """The published local table that was laid over the base table."""

    organisation: str
    number: int = Field(description="Published revisions of an organisation are counted from 1.")
    digest: str = Field(description="Digest of the published table.")
    base_revision: str = Field(description="Revision of the base table that it was learnt against.")
    published_at: datetime | None = None


class Reference(Part):
    """A source that an answer cites."""

    id: str
    kind: str = Field(examples=["standard", "handbook", "extension", "paper", "press", "data", "notes", "practice"])
    authors: str
    title: str
    year: int | None = None
    publisher: str | None = None
    where: str | None = Field(None, description="Address or DOI.")
    opened: bool = Field(description="Whether the page itself was read.")
    note: str | None = None


class Answer(Part):
    """Base of every answer under /v1."""

    knowledge: Knowledge
