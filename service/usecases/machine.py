"""The machine a question is about: given dimensions, class defaults for the rest, contradictions refused."""

from dataclasses import dataclass

from service.domain.types import Quantity
from service.errors import Contradiction, UnknownName
from service.knowledge.machine_schema import MachineClassEntry, MachineDefaults, SizeBand, Specific
from service.knowledge.schema import CropFile, Figure
from service.knowledge.table import KnowledgeTable
from service.usecases.provenance import proof
from service.usecases.settings_types import MachineItem, Origin, SettingsQuestion

DEFAULT_BAND = "medium"
HEADERS = ("reel", "row_crop", "pickup")
# question field -> (figure of the class defaults, unit)
DIMENSIONS = {
    "engine_power_kw": ("engine_power", "kW"),
    "machine_mass_t": ("machine_mass", "t"),
    "drum_diameter_mm": ("drum_diameter", "mm"),
    "separation_rotor_diameter_mm": ("separation_rotor_diameter", "mm"),
    "channel_width_mm": ("channel_width", "mm"),
    "separation_area_m2": ("separation_area", "m2"),
    "cleaning_area_m2": ("cleaning_area", "m2"),
    "tank_volume_l": ("tank_volume", "L"),
    "unloading_rate_l_s": ("unloading_rate", "L/s"),
    "cut_width_m": ("cut_width", "m"),
}


# areas that grow with the channel behind a drum: a given channel width scales their defaults
ACROSS_THE_CHANNEL = frozenset({"separation_area_m2", "cleaning_area_m2"})


@dataclass(frozen=True, slots=True)
class Machine:
    """What is known of the machine; `size` holds every dimension of `DIMENSIONS` that applies."""

    entry: MachineClassEntry
    band: SizeBand
    specific: Specific
    header: str
    size: dict[str, float]
    items: tuple[MachineItem, ...]


def fit_machine(table: KnowledgeTable, question: SettingsQuestion, crop: CropFile) -> Machine:
    """Fill the question's machine with the defaults of its class and size band.

    Raises
    ------
    UnknownName
        If the class, the band or the header is not known.
    Contradiction
        If dimensions, class, band, header and crop exclude each other.
    """
    entry = table.machine_class(question.machine_class)
    band = _band(table, question)
    defaults = table.defaults(entry.id, band.id)
    header = _header(question, crop)
    _refuse_contradictions(question, entry.id)
    wider = 1.0
    if question.channel_width_mm is not None and entry.thresher == "drum":
        wider = question.channel_width_mm / defaults.channel_width.value
    size: dict[str, float] = {}
    items = []
    for field, (name, unit) in DIMENSIONS.items():
        figure = _default(defaults, name, header)
        if figure is None:
            continue
        given: float | None = getattr(question, field)
        origin: Origin = "default" if given is None else "request"
        value = figure.value if given is None else given
        if given is None and field in ACROSS_THE_CHANNEL and wider != 1:
            origin, value = "scaled", value * wider
        size[field] = value
        items.append(MachineItem(name, Quantity(value, unit), origin, None if origin == "request" else proof(figure)))
    return Machine(entry, band, table.specific(entry.id), header, size, tuple(items))


def _band(table: KnowledgeTable, question: SettingsQuestion) -> SizeBand:
    """Size band from engine power where given, else as named, else medium."""
    if question.engine_power_kw is None:
        return table.band(question.size_band or DEFAULT_BAND)
    by_power = table.band_for_power(question.engine_power_kw)
    if question.size_band is not None and table.band(question.size_band).id != by_power.id:
        raise Contradiction(
            ["size_band", "engine_power_kw"],
            "reason.size_band_power",
            band=question.size_band,
            power=Quantity(question.engine_power_kw, "kW"),
            fits=by_power.id,
        )
    return by_power


def _header(question: SettingsQuestion, crop: CropFile) -> str:
    """Header of the question, else the crop's usual one."""
    if question.header is None:
        return crop.header
    if question.header not in HEADERS:
        raise UnknownName("header", question.header, HEADERS)
    if question.header not in (crop.header, *crop.other_headers):
        raise Contradiction(
            ["header", "crop"], "reason.header_crop", header=question.header, crop=crop.names, usual=crop.header
        )
    return question.header


def _default(defaults: MachineDefaults, name: str, header: str) -> Figure | None:
    if name == "cut_width" and header == "row_crop":
        return defaults.cut_width_row_crop
    figure: Figure | None = getattr(defaults, name)
    return figure


def _refuse_contradictions(question: SettingsQuestion, machine_class: str) -> None:
    if question.separation_rotor_diameter_mm is not None and machine_class != "hybrid":
        raise Contradiction(
            ["separation_rotor_diameter_mm", "machine_class"], "reason.no_separation_rotor", machine_class=machine_class
        )
    low, high = question.fan_speed_min_rpm, question.fan_speed_max_rpm
    if (low is None) != (high is None):
        raise Contradiction(["fan_speed_min_rpm", "fan_speed_max_rpm"], "reason.fan_range_half")
    if low is not None and high is not None and low >= high:
        raise Contradiction(["fan_speed_min_rpm", "fan_speed_max_rpm"], "reason.fan_range_order", low=low, high=high)
    if question.upper_sieve_design == "round_hole":
        raise Contradiction(["upper_sieve_design"], "reason.upper_round_hole")
