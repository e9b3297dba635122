"""What a ground-loss question says beside its frames: yield, kernel mass, strip, price, work rate.

Inside: reading and refusing these. Outside: the frames (`ground_loss_frames`).
"""

from dataclasses import dataclass
from typing import Final, Literal

from service.domain.kernel_counts import kernels_ft2_per_bu_ac, rule_kernel_mass_g
from service.domain.losses import bushels_per_tonne, concentration_factor
from service.domain.machine import area_rate_ha_h
from service.domain.types import Interval, Message, Quantity
from service.errors import Contradiction, InvalidInput, NotCovered, OutOfRange
from service.knowledge.schema import CropFile
from service.knowledge.table import KnowledgeTable
from service.units import mass_kg_ha
from service.usecases.conditions import yield_of
from service.usecases.loss_types import LossQuestion
from service.usecases.provenance import proof
from service.usecases.settings_types import Proof

SQUARE_FOOT_M2: Final = 0.3048**2
RULE_FITS_PCT: Final = 20.0  # published rules of one crop lie as far apart, because kernel mass does
_Z: Final = 1.96
_WIDE: Final = 1.8  # highest over lowest kernel mass; one type of seed spans less
_UNBELIEVABLE: Final = 3.0  # a kernel mass this many times outside the crop's range is a slip of the unit


@dataclass(frozen=True, slots=True)
class KernelMass:
    """Thousand-kernel mass in use, g, with 95 % limits."""

    limits: Interval
    origin: Literal["request", "default", "rule"]
    proof: Proof | None
    warnings: tuple[Message, ...]


@dataclass(frozen=True, slots=True)
class Terms:
    """Everything but the frames. `strip` is discharge width over cut width, with 95 % limits."""

    crop: CropFile
    header: str
    yield_t_ha: float
    bushel_lb: float | None
    kernel_mass: KernelMass
    concentration: float
    strip: Interval
    price_per_t: float | None
    area_rate_ha_h: float | None


def read_terms(table: KnowledgeTable, question: LossQuestion) -> Terms:
    """Read and check a question.

    Raises
    ------
    UnknownName
        If crop or machine class is not known.
    NotCovered
        If the table cannot assess losses of this crop or class.
    Contradiction, InvalidInput, OutOfRange
        If statements exclude each other, something is missing, or a figure cannot be.
    """
    crop = table.crop(question.crop)
    _covered(table, crop, question.machine_class)
    if question.concentration_scope == "everything":
        raise InvalidInput("concentration_scope", reason="loss.concentration_everything")
    if question.discharge_width_m > question.cut_width_m:
        cut, strip = Quantity(question.cut_width_m, "m"), Quantity(question.discharge_width_m, "m")
        raise Contradiction(["discharge_width_m", "cut_width_m"], "loss.discharge_wider", cut=cut, discharge=strip)
    return Terms(
        crop=crop,
        header=_header(crop, question.header),
        yield_t_ha=yield_of(crop, question.yield_t_ha, question.yield_bu_ac),
        bushel_lb=crop.physical.bushel_mass.value if crop.physical.bushel_mass else None,
        kernel_mass=_kernel_mass(crop, question),
        concentration=concentration_factor(question.cut_width_m, question.discharge_width_m),
        strip=_strip(question),
        price_per_t=_price_per_t(crop, question),
        area_rate_ha_h=_area_rate(table, question),
    )


def _covered(table: KnowledgeTable, crop: CropFile, machine_class: str | None) -> None:
    if machine_class is not None:
        table.covers(crop, "ground_loss", table.machine_class(machine_class).id)
        return
    coverage = crop.coverage["ground_loss"]
    if coverage.level == "none":
        raise NotCovered("crop", "ground_loss", crop.id, coverage.why)


def _header(crop: CropFile, given: str | None) -> str:
    """Header of the question, else the crop's usual one."""
    header = crop.header if given is None else given
    if header not in (crop.header, *crop.other_headers):
        raise Contradiction(["header", "crop"], "reason.header_crop", header=header, crop=crop.names, usual=crop.header)
    return header


def _strip(question: LossQuestion) -> Interval:
    share = question.discharge_width_m / question.cut_width_m
    error = _Z * question.discharge_width_error_pct / 100
    # a strip cannot be wider than the cut
    return Interval(share, max(0.0, share * (1 - error)), min(1.0, share * (1 + error)))


def _kernel_mass(crop: CropFile, question: LossQuestion) -> KernelMass:
    own, rule = question.thousand_kernel_mass_g, question.rule_kernels_per_ft2_per_bu_ac
    if own is not None and rule is not None:
        first, second = "thousand_kernel_mass_g", "rule_kernels_per_ft2_per_bu_ac"
        raise Contradiction([first, second], "reason.both_given", first=first, second=second)
    if own is not None:
        return _own_mass(crop, own, question.thousand_kernel_mass_error_pct)
    return _default_mass(crop) if rule is None else _rule_mass(crop, rule)


def kernel_mass_of(crop: CropFile, own_g: float | None, error_pct: float) -> KernelMass:
    """Kernel mass that was weighed, with its standard error, or that of the table."""
    return _default_mass(crop) if own_g is None else _own_mass(crop, own_g, error_pct)


def usual_mass(crop: CropFile) -> Interval:
    """Kernel mass of the table with its range; a missing end is taken as far off as published rules lie apart."""
    figure = crop.physical.thousand_kernel_mass
    low = figure.low if figure.low is not None else figure.value * (1 - RULE_FITS_PCT / 100)
    high = figure.high if figure.high is not None else figure.value * (1 + RULE_FITS_PCT / 100)
    return Interval(figure.value, low, high)


def _default_mass(crop: CropFile) -> KernelMass:
    usual = usual_mass(crop)
    facts = {"crop": crop.names, "mass": Quantity(usual.value, "g"), **_range(usual)}
    warnings = [Message("loss.kernel_mass_default", facts)]
    if usual.high > _WIDE * usual.low:
        warnings.append(Message("loss.kernel_mass_wide", {"crop": crop.names, **_range(usual)}))
    return KernelMass(usual, "default", proof(crop.physical.thousand_kernel_mass), tuple(warnings))


def _own_mass(crop: CropFile, mass_g: float, error_pct: float) -> KernelMass:
    usual = usual_mass(crop)
    least, most = usual.low / _UNBELIEVABLE, usual.high * _UNBELIEVABLE
    if not least <= mass_g <= most:
        raise OutOfRange("thousand_kernel_mass_g", mass_g, least, most, "g", reason="loss.kernel_mass_unbelievable")
    error = _Z * error_pct / 100
    limits = Interval(mass_g, max(0.0, mass_g * (1 - error)), mass_g * (1 + error))
    if usual.low <= mass_g <= usual.high:
        return KernelMass(limits, "request", None, ())
    facts = {"crop": crop.names, "mass": Quantity(mass_g, "g"), **_range(usual)}
    return KernelMass(limits, "request", None, (Message("loss.kernel_mass_unusual", facts),))


def _rule_mass(crop: CropFile, kernels_ft2: float) -> KernelMass:
    """Kernel mass that the rule implies; its uncertainty stays the crop's, for nobody weighed these kernels."""
    field, usual = "rule_kernels_per_ft2_per_bu_ac", usual_mass(crop)
    if crop.physical.bushel_mass is None:
        raise InvalidInput(field, reason="loss.rule_no_bushel", crop=crop.names)
    bushel_lb = crop.physical.bushel_mass.value
    implied = rule_kernel_mass_g(kernels_ft2, SQUARE_FOOT_M2, mass_kg_ha(1, bushel_lb))
    fitting = round(kernels_ft2_per_bu_ac(usual.value, bushel_lb), 1)
    facts = {"crop": crop.names, "implied": Quantity(implied, "g"), "fitting": fitting, **_range(usual)}
    if not usual.low <= implied <= usual.high:
        raise Contradiction([field, "crop"], "loss.rule_mass_outside", **facts)
    ratio = implied / usual.value
    warnings = (
        ()
        if fits(ratio)
        else (Message("loss.rule_far", {**facts, "usual": Quantity(usual.value, "g"), "ratio": ratio}),)
    )
    return KernelMass(
        Interval(implied, usual.low, usual.high), "rule", proof(crop.physical.thousand_kernel_mass), warnings
    )


def fits(ratio: float) -> bool:
    """Say whether a rule is as near as published rules of one crop are to each other."""
    return abs(ratio - 1) <= RULE_FITS_PCT / 100


def _range(usual: Interval) -> dict[str, object]:
    return {"low": Quantity(usual.low, "g"), "high": Quantity(usual.high, "g")}


def _price_per_t(crop: CropFile, question: LossQuestion) -> float | None:
    if question.price_per_t is not None and question.price_per_bu is not None:
        first, second = "price_per_t", "price_per_bu"
        raise Contradiction([first, second], "reason.both_given", first=first, second=second)
    if question.price_per_bu is None:
        return question.price_per_t
    if crop.physical.bushel_mass is None:
        raise InvalidInput("price_per_bu", reason="loss.price_no_bushel", crop=crop.names)
    return question.price_per_bu * bushels_per_tonne(crop.physical.bushel_mass.value)


def _area_rate(table: KnowledgeTable, question: LossQuestion) -> float | None:
    speed, rate = question.ground_speed_km_h, question.area_rate_ha_h
    if rate is not None and speed is not None:
        first, second = "area_rate_ha_h", "ground_speed_km_h"
        raise Contradiction([first, second], "reason.both_given", first=first, second=second)
    if speed is None:
        if question.field_efficiency_pct is not None:
            raise InvalidInput("field_efficiency_pct", reason="loss.efficiency_without_speed")
        return rate
    usual = table.machines.driving.field_efficiency.value
    efficiency = usual if question.field_efficiency_pct is None else question.field_efficiency_pct
    return area_rate_ha_h(speed, question.cut_width_m, efficiency)
