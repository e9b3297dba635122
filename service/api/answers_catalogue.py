"""Answers about the knowledge table itself, and about the service."""

from pydantic import Field

from service.api.answers import Answer, Estimate, Evidence, Named, Part, Reference


class CoverageOut(Part):
    """What the table can answer for a crop, and why not more."""

    level: str = Field(examples=["complete", "partial", "none"])
    classes: list[str]
    why: str | None = None


class CropLine(Part):
    """A crop in the list."""

    id: str
    name: str
    group: str = Field(examples=["cereal", "maize", "oilseed", "pulse"])
    eppo: str | None = Field(None, description="EPPO code. Contains EPPO Codes (www.eppo.int).")
    aliases: list[str]
    coverage: dict[str, CoverageOut] = Field(description="By task.")


class CropList(Answer):
    """Every crop of the table."""

    crops: list[CropLine]


class PrintedOut(Part):
    """The figure exactly as on the page of its source."""

    of: str = Field(description="Figure that it belongs to.", examples=["value", "start", "low", "high"])
    text: str


class FigureOut(Evidence):
    """A figure of the table."""

    value: float
    low: float | None = None
    high: float | None = None
    unit: str = Field(description="UCUM code.")
    ends: Evidence | None = Field(None, description="How low and high are known, where that differs from the value.")
    note: str | None = None
    printed: list[PrintedOut] | None = None


class TradeMoistureOut(FigureOut):
    """Moisture at which a market pays the full mass."""

    market: str = Field(examples=["us", "ca", "eu", "au", "int"])


class MoistureWindowOut(Part):
    """Below `floor` and above `ceiling` advice is refused; between `best_low` and `best_high` is the best time."""

    floor: FigureOut
    best_low: FigureOut
    best_high: FigureOut
    ceiling: FigureOut


class KernelAirOut(Part):
    """How the kernel's terminal velocity is computed."""

    method: str = Field(examples=["measured", "sphere", "shaped"])
    at_moisture: Estimate | None = None
    figures: dict[str, FigureOut]


class DamageOut(Evidence):
    """How easily kernels break: 1 tough to 5 fragile."""

    grade: int


class OutsideCodeOut(Part):
    """A code of another catalogue."""

    value: str
    known: str


class SettingRowOut(Evidence):
    """Start, low and high of a setting for some classes, at the reference moisture and yield."""

    id: str
    setting: str
    name: str
    classes: list[str]
    use: str | None = None
    start: float
    low: float
    high: float
    unit: str = Field(description="UCUM code.")
    ends: Evidence | None = Field(None, description="How low and high are known, where that differs from the start.")
    note: str | None = None
    printed: list[PrintedOut] | None = None


class Knot(Part):
    """A point of a response: change at a value of the factor; straight lines between, flat outside."""

    factor: float
    change: float


class ResponseOut(Evidence):
    """How a quantity moves with one condition."""

    id: str
    quantity: str
    factor: str
    mode: str = Field(examples=["percent", "absolute"])
    unit: str = Field(description="UCUM code of the change.")
    classes: list[str]
    knots: list[Knot] | None = None
    levels: dict[str, float] | None = None
    note: str | None = None


class UseCeilingOut(Part):
    """Highest grain moisture for one use."""

    use: str
    ceiling: FigureOut


class KernelRuleOut(Evidence):
    """A published count rule, kept as a cross-check."""

    text: str


class CropAnswer(Answer):
    """Everything that the table holds on a crop."""

    id: str
    name: str
    group: str
    eppo: OutsideCodeOut | None = Field(None, description="Contains EPPO Codes (www.eppo.int).")
    aliases: list[str]
    header: str = Field(description="Usual header.", examples=["reel", "row_crop"])
    other_headers: list[str] = Field(description="Headers also in use for this crop.")
    damage: DamageOut
    physical: dict[str, FigureOut]
    kernel_air: KernelAirOut
    trade_moisture: list[TradeMoistureOut]
    moisture: MoistureWindowOut
    use_ceilings: list[UseCeilingOut]
    targets: dict[str, FigureOut] = Field(description="Usual loss targets, percent of yield.")
    kernel_rules: list[KernelRuleOut]
    coverage: dict[str, CoverageOut]
    rows: list[SettingRowOut]
    responses: list[ResponseOut] = Field(description="The crop's own; those of its group are shared.")
    sources: list[Reference]


class MachineDefaultsOut(Part):
    """Usual dimensions of some classes in one size band."""

    classes: list[str]
    band: str
    figures: dict[str, FigureOut]


class MachineSpecificOut(Part):
    """Figures of some classes that do not depend on size."""

    classes: list[str]
    figures: dict[str, FigureOut]


class MachineClassOut(Part):
    """A threshing and separating principle."""

    id: str
    name: str
    principle: str
    thresher: str = Field(examples=["drum", "rotor"])
    settings: list[Named]


class SizeBandOut(Part):
    """A band of engine power, the lower end included."""

    id: str
    name: str
    engine_power: Estimate


class SieveConversionOut(Evidence):
    """Opening of a design for the same passage, per opening of the standard lip sieve."""

    sieve: str = Field(examples=["upper", "lower"])
    design: str
    name: str
    factor: float
    factor_low: float
    factor_high: float


class MachineClassList(Answer):
    """Every machine class, with the dimensions that are taken where you give none."""

    machine_classes: list[MachineClassOut]
    size_bands: list[SizeBandOut]
    defaults: list[MachineDefaultsOut]
    specific: list[MachineSpecificOut]
    sieves: list[SieveConversionOut]
    driving: dict[str, FigureOut] = Field(description="Figures for travel, speed limits and expected loss.")
    sources: list[Reference]


class SourceList(Answer):
    """Every source of the table."""

    sources: list[Reference]


class MarkCounts(Part):
    """How many figures stand under each mark."""

    name: str
    total: int
    counts: dict[str, int]


class RevisionLine(Part):
    """A revision of the table that is served."""

    id: str
    digest: str
    released: str


class KnowledgeAnswer(Answer):
    """State of the table, and how its figures are known."""

    released: str = Field(description="Day of the revision.")
    marks: list[MarkCounts] = Field(description="For each crop.")
    shared_marks: list[MarkCounts] = Field(description="For what all crops share.")
    revisions: list[RevisionLine]


class Link(Part):
    """An address of the service."""

    rel: str
    href: str
    title: str


class ClientContract(Part):
    """What a client must know to go on working."""

    api: str = Field(description="Version of the interface.")
    recommended_api: str
    unknown_fields: str = Field(description="What to do with fields that the client does not know.")


class IndexAnswer(Answer):
    """Where everything is."""

    service: str
    version: str
    client: ClientContract
    links: list[Link]


class Health(Part):
    """Whether the process is alive."""

    status: str = Field(examples=["ok"])


class Readiness(Part):
    """Whether the service can answer, and from which revision."""

    status: str = Field(examples=["ready"])
    revision: str
    store: str = Field(description="Whether feedback can be kept.", examples=["none", "ready"])


class Version(Part):
    """What is running."""

    service: str
    api: str
    revision: str
    digest: str


class ProblemPage(Part):
    """What a kind of problem means."""

    type: str
    code: str
    status: int
    title: str
    explanation: str


class ProblemPages(Part):
    """Every kind of problem."""

    problems: list[ProblemPage]
