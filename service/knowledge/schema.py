"""What a knowledge file may hold: one frozen pydantic model per kind of entry.

Inside: shape, names and rules that concern one entry alone. Outside: machines (`machine_schema.py`),
rules that concern several entries or files (`checks.py`), reading (`load.py`), look-ups (`table.py`).
"""

from typing import Annotated, Literal

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, model_validator

from service.units import UNITS

Number = Annotated[float, Field(strict=True, allow_inf_nan=False)]
Slug = Annotated[str, Field(pattern=r"^[a-z][a-z0-9_]*$", max_length=40)]
RowId = Annotated[str, Field(pattern=r"^[a-z0-9_]+(\.[a-z0-9_]+)+$", max_length=120)]
Text = Annotated[str, Field(min_length=1, max_length=1200)]

ClassId = Literal["walker", "hybrid", "axial", "twin_axial"]
Use = Literal["feed", "milling", "malting", "seed"]
Straw = Literal["dry", "normal", "tough", "green"]
Priority = Literal["balanced", "loss", "sample", "output", "straw"]
Stand = Literal["upright", "leaning", "lodged"]
SieveDesign = Literal["standard_lip", "deep_lip", "round_hole"]
Group = Literal["cereal", "maize", "oilseed", "pulse", "small_seed", "sunflower", "rice", "sorghum"]
Basis = Literal["published", "converted", "computed", "expert"]
# read: the page was read; read_secondhand: read in a transcription of the named source; memory:
# recalled, page not read; computed: arithmetic on a named formula; derived: our inference from
# figures read; practice: common practice of the trade, no source
Known = Literal["read", "read_secondhand", "memory", "computed", "derived", "practice"]
Task = Literal["starting_settings", "ground_loss"]
Factor = Literal[
    "grain_moisture",  # points above the crop's reference moisture
    "yield_ratio",  # yield / the crop's reference yield
    "slope_along",  # degrees, uphill positive
    "slope_across",  # degrees, size only
    "straw_condition",
    "use",
    "priority",
    "stand",
]
LEVELS: dict[str, tuple[str, ...]] = {
    "straw_condition": ("dry", "normal", "tough", "green"),
    "use": ("feed", "milling", "malting", "seed"),
    "priority": ("balanced", "loss", "sample", "output", "straw"),
    "stand": ("upright", "leaning", "lodged"),
}


def _known_unit(code: str) -> str:
    if code not in UNITS:
        raise ValueError(f"unit {code!r} is not one of {', '.join(sorted(UNITS))}")
    return code


def _one_or_many(value: object) -> object:
    return [value] if isinstance(value, dict) else value


Unit = Annotated[str, AfterValidator(_known_unit)]


class Entry(BaseModel):
    """Base of every entry: unknown keys are faults, nothing changes after loading."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class LocalText(Entry):
    """A text in English and, where written, German."""

    en: Text
    de: Text | None = None


class Citation(Entry):
    """Where a figure stands: a source id and the place in it."""

    id: Annotated[str, Field(pattern=r"^[a-z0-9][a-z0-9-]*$", max_length=60)]
    at: Text


class Printed(Entry):
    """The figure exactly as on the page; the loader converts it again and compares.

    `of` names the stored figure it belongs to. A rotational speed needs `diameter_mm`.
    """

    of: Literal["value", "start", "low", "high"]
    text: Text
    value: Number
    unit: Unit
    diameter_mm: Number | None = None


Citations = Annotated[list[Citation], BeforeValidator(_one_or_many), Field(min_length=1)]


class Ends(Entry):
    """How low and high are known, where that differs from the value or start itself."""

    basis: Basis
    known: Known
    source: Citations


class Evidence(Entry):
    """How a figure is known; every entry with numbers carries this."""

    basis: Basis
    known: Known
    source: Citations
    note: Text | None = None
    printed: list[Printed] = []


class Figure(Evidence):
    """One number with its range where one is known: low <= value <= high."""

    value: Number
    low: Number | None = None
    high: Number | None = None
    unit: Unit
    ends: Ends | None = None

    @model_validator(mode="after")
    def _ordered(self) -> "Figure":
        if self.low is not None and self.low > self.value:
            raise ValueError(f"low {self.low} is above value {self.value}")
        if self.high is not None and self.high < self.value:
            raise ValueError(f"value {self.value} is above high {self.high}")
        return self


class Derived(Entry):
    """A row computed from another row: start, low and high times `factor`, at most `cap`."""

    row: RowId
    factor: Number
    cap: Number | None = None


class SettingRow(Evidence):
    """Start, low and high of one setting for some machine classes and, where given, one use.

    Basis, mark and sources are those of `start`; `ends` has those of low and high where they differ.
    """

    id: RowId
    setting: Slug
    classes: Annotated[list[ClassId], Field(min_length=1)]
    use: Use | None = None
    low: Number
    start: Number
    high: Number
    unit: Unit
    ends: Ends | None = None
    derived: Derived | None = None

    @model_validator(mode="after")
    def _ordered(self) -> "SettingRow":
        if not self.low <= self.start <= self.high:
            raise ValueError(f"low {self.low} <= start {self.start} <= high {self.high} does not hold")
        return self


class Response(Evidence):
    """How a quantity moves with one condition.

    Numeric factors have `knots` (factor, change): straight lines between, flat outside, zero change
    at the reference. Named factors have `levels` (name, change). `mode` says whether a change is in
    percent of the base start or in `unit`.
    """

    id: RowId
    quantity: Slug
    factor: Factor
    mode: Literal["percent", "absolute"]
    unit: Unit
    classes: list[ClassId] = ["walker", "hybrid", "axial", "twin_axial"]
    groups: list[Group] = []  # in responses.toml; empty means every group. Not allowed in a crop file
    knots: list[tuple[Number, Number]] = []
    levels: dict[str, Number] = {}

    @model_validator(mode="after")
    def _shape(self) -> "Response":
        named = self.factor in LEVELS
        if named == bool(self.knots) or (not named) == bool(self.levels):
            raise ValueError(f"{self.factor} needs {'levels' if named else 'knots'} and nothing else")
        if named and set(self.levels) - set(LEVELS[self.factor]):
            raise ValueError(f"levels of {self.factor} are {', '.join(LEVELS[self.factor])}")
        xs = [x for x, _ in self.knots]
        if xs != sorted(set(xs)):
            raise ValueError("knots must rise without repeating")
        if (self.mode == "percent") != (self.unit == "%"):
            raise ValueError("mode percent goes with unit %, mode absolute with the unit of the quantity")
        return self


class TradeMoisture(Figure):
    """The moisture at which a market pays the full mass; market is `us`, `ca`, `eu`, `au` or `int`."""

    market: Literal["us", "ca", "eu", "au", "int"]


class MoistureWindow(Entry):
    """Grain moistures, wet basis: below `floor` and above `ceiling` advice is refused."""

    floor: Figure
    best_low: Figure
    best_high: Figure
    ceiling: Figure

    @model_validator(mode="after")
    def _ordered(self) -> "MoistureWindow":
        v = [self.floor.value, self.best_low.value, self.best_high.value, self.ceiling.value]
        if not v[0] < v[1] <= v[2] < v[3]:
            raise ValueError(f"floor < best_low <= best_high < ceiling does not hold: {v}")
        return self


class KernelAir(Entry):
    """How the kernel's terminal velocity is computed.

    measured: `velocity` at `at_moisture_pct` plus `slope` per point of moisture, times
    (kernel mass / `kernel_mass`)^(1/6). sphere: from mass and `density` with the drag of a sphere.
    shaped: the same with the drag of a body of `sphericity`.
    """

    method: Literal["measured", "sphere", "shaped"]
    velocity: Figure | None = None
    slope_m_s_per_point: Figure | None = None
    at_moisture_pct: Number | None = None
    density: Figure | None = None
    sphericity: Figure | None = None

    @model_validator(mode="after")
    def _complete(self) -> "KernelAir":
        need = {
            "measured": ("velocity", "slope_m_s_per_point", "at_moisture_pct"),
            "sphere": ("density",),
            "shaped": ("density", "sphericity"),
        }[self.method]
        for name in ("velocity", "slope_m_s_per_point", "at_moisture_pct", "density", "sphericity"):
            if (getattr(self, name) is not None) != (name in need):
                raise ValueError(f"method {self.method} needs {', '.join(need)} and nothing else; {name} is wrong")
        return self


class Physical(Entry):
    """Physical figures of a crop."""

    thousand_kernel_mass: Figure
    bulk_density: Figure
    bushel_mass: Figure | None = None  # legal bushel, [lb_av]
    straw_to_grain: Figure  # above-ground straw without chaff, per grain, dry matter
    chaff_to_grain: Figure
    straw_intake_share: Figure  # of the straw that goes through the machine, rest is stubble, %
    chaff_terminal_velocity: Figure
    kernel_air: KernelAir
    reference_moisture: Figure  # the rows hold at this grain moisture, %
    reference_yield: Figure  # the rows hold at this yield, t/har


class DamageSensitivity(Entry):
    """1 tough to 5 fragile."""

    grade: Annotated[int, Field(ge=1, le=5, strict=True)]
    basis: Basis
    known: Known
    source: Citations


class Targets(Entry):
    """Usual loss targets, percent of yield by C11 of the loss notes: loss / (harvested + loss)."""

    machine_loss: Figure
    header_loss: Figure
    total_loss: Figure


class KernelRule(Evidence):
    """A published count rule: `kernels` on `area` equal `loss`; kept as a cross-check only."""

    text: Text
    kernels: Number
    area_m2: Number
    loss_kg_ha: Number


class Coverage(Entry):
    """What the table can answer for this crop, and why not more."""

    level: Literal["complete", "partial", "none"]
    classes: list[ClassId] = ["walker", "hybrid", "axial", "twin_axial"]
    why: LocalText | None = None

    @model_validator(mode="after")
    def _reason(self) -> "Coverage":
        if self.level != "complete" and self.why is None:
            raise ValueError(f"level {self.level} needs a why")
        return self


class OutsideCode(Entry):
    """A code of another catalogue, and how it is known."""

    value: Annotated[str, Field(pattern=r"^[A-Z0-9]{5,6}$")]
    known: Known
    source: Citations


class UseCeiling(Entry):
    """The highest grain moisture for one use, below the crop's own ceiling."""

    use: Use
    ceiling: Figure


class CropFile(Entry):
    """One crop: names, codes, physics, coverage, setting rows, its own responses."""

    id: Slug
    group: Group
    names: LocalText
    aliases: list[Annotated[str, Field(min_length=2, max_length=40)]] = []
    eppo: OutsideCode | None = None
    header: Literal["reel", "row_crop"]
    other_headers: list[Literal["reel", "row_crop", "pickup"]] = []  # also in use for this crop
    damage: DamageSensitivity
    physical: Physical
    trade_moisture: list[TradeMoisture]
    moisture: MoistureWindow
    use_ceiling: list[UseCeiling] = []
    targets: Targets
    power: Literal["small_grain", "maize"]
    kernel_rule: list[KernelRule] = []
    coverage: dict[Task, Coverage]
    row: list[SettingRow] = []
    response: list[Response] = []


class SourceRecord(Entry):
    """A source: who, what, when, where."""

    id: Annotated[str, Field(pattern=r"^[a-z0-9][a-z0-9-]*$", max_length=60)]
    kind: Literal["standard", "handbook", "extension", "paper", "press", "data", "notes", "practice"]
    authors: Text
    title: Text
    year: Annotated[int, Field(ge=1900, le=2100, strict=True)] | None = None
    publisher: Text | None = None
    where: Text | None = None  # address or DOI
    opened: bool  # whether the page itself was read
    note: Text | None = None


class When(Entry):
    """Conditions of a rule; an empty list means any."""

    moisture_band: list[Literal["dry", "best", "damp"]] = []
    straw_condition: list[Straw] = []
    priority: list[Priority] = []
    groups: list[Group] = []
    thresher: list[Literal["drum", "rotor"]] = []


class FirstTry(Evidence):
    """Which setting to try first.

    Rules are read in order; the first that fits names the ladder. Of that ladder the first rung that
    fits and has room in its range holds, so that a reason never turns into another one.
    """

    id: RowId
    ladder: Slug
    when: When
    setting: Slug
    direction: Literal["up", "down"]
    step: Number
    unit: Unit
    why: Slug  # message code first_try.<why>


class ChecklistItem(Entry):
    """A line of the warm-up list or a caution; text is message code <list>.<code>."""

    code: Slug
    classes: list[ClassId] = ["walker", "hybrid", "axial", "twin_axial"]
    known: Known
    source: Citations
    list: Literal["checklist", "caution"]


class ResponsesFile(Entry):
    """responses.toml: responses shared by groups, first-try rules, checklist."""

    response: list[Response]
    first_try: list[FirstTry]
    checklist: list[ChecklistItem]


class VocabularyEntry(Entry):
    """A quantity: canonical name, unit, physical range, meaning, and the signs that must hold."""

    id: Slug
    unit: Unit
    minimum: Number
    maximum: Number
    names: LocalText
    meaning: LocalText
    setting: bool = False  # whether it is a machine setting that answers list
    ddi: Annotated[int, Field(ge=1, le=65535, strict=True)] | None = None  # ISO 11783-11 setpoint entry
    # factor -> sign of the change with a rising factor (numeric), or with the level order given
    monotone: dict[Factor, Literal["rises", "falls"]] = {}


class VocabularyFile(Entry):
    """vocabulary.toml."""

    quantity: list[VocabularyEntry]


class SourcesFile(Entry):
    """sources.toml."""

    source: list[SourceRecord]


class RevisionFile(Entry):
    """revision.toml."""

    id: Annotated[str, Field(pattern=r"^\d{4}\.\d{1,2}\.\d+$")]
    parent: str | None = None
    released: Annotated[str, Field(pattern=r"^\d{4}-\d{2}-\d{2}$")]
    digest: Annotated[str, Field(pattern=r"^sha256:[0-9a-f]{64}$")]
