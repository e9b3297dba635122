"""Drop tests of a working-speed question: losses in kg/ha, and the curves through them.

Inside: reading and refusing the tests, the range they may be used in, curves of machine loss and of all that
the machine caused. Outside: fitting (`domain.curve_fit`), what a speed costs (`working_speed`).
"""

from collections.abc import Sequence
from dataclasses import dataclass

from service.domain.curve_choice import Candidate, Choice, choose, usable
from service.domain.curve_fit import PARAMETERS, fit
from service.domain.losses import loss_for_share
from service.errors import Contradiction, InvalidInput, OutOfRange, ServiceError
from service.knowledge.schema import CropFile
from service.knowledge.table import KnowledgeTable
from service.units import mass_kg_ha
from service.usecases.working_speed_types import DropTest, FormName, SpeedQuestion

MOST_LOSS_SHARE = 1.0  # of the harvested yield: more is a slip of the unit, not a loss
LEAST_LOSS_KG_HA = 0.001  # a gram on a hectare: nothing was found
LEAST_SPREAD_KM_H = 0.3  # nearer speeds are one speed, read twice


@dataclass(frozen=True, slots=True)
class Reading:
    """One test in kg/ha; `caused` is machine and, where measured, header."""

    speed_km_h: float
    machine: float
    header: float | None
    caused: float
    error: float | None


@dataclass(frozen=True, slots=True)
class Reach:
    """Speeds that were tested, the step beyond them that curves may be used in, and the ends of both."""

    tested_low: float
    tested_high: float
    step: float
    low: float
    high: float

    def beyond_tests(self, speed_km_h: float) -> bool:
        """Say whether a speed lies outside what was tested; rounding of a step does not count."""
        hair = 1e-9 * self.tested_high
        return speed_km_h < self.tested_low - hair or speed_km_h > self.tested_high + hair


def read_tests(crop: CropFile, question: SpeedQuestion, yield_t_ha: float) -> tuple[Reading, ...]:
    """Read every test.

    Raises
    ------
    InvalidInput, Contradiction
        If a loss is missing or given twice, header losses or errors stand in some tests only, losses exceed
        the yield, or too few speeds or losses above zero remain for a curve.
    """
    tests = question.drop_tests
    for kind, reason in (
        ("header_loss", "reason.header_all_or_none"),
        ("machine_loss_error", "reason.error_all_or_none"),
    ):
        given = [place for place, test in enumerate(tests) if _given(test, kind)]
        if 0 < len(given) < len(tests):
            missing = next(place for place in range(len(tests)) if place not in given)
            raise InvalidInput(f"drop_tests.{missing}", reason=reason)
    readings = tuple(
        _reading(crop, f"drop_tests.{place}.", test, yield_t_ha * 1000) for place, test in enumerate(tests)
    )
    speeds = [reading.speed_km_h for reading in readings]
    if max(speeds) - min(speeds) < LEAST_SPREAD_KM_H:
        raise InvalidInput("drop_tests", reason="reason.two_speeds")
    for losses in ([one.machine for one in readings], [one.caused for one in readings]):
        found = {speed for speed, loss in zip(speeds, losses, strict=True) if loss > 0}
        if len(found) < 2:
            raise InvalidInput("drop_tests", reason="reason.two_losses")
    return readings


def _given(test: DropTest, kind: str) -> list[str]:
    names = (f"{kind}_kg_ha", f"{kind}_bu_ac", f"{kind}_pct")
    return [name for name in names if getattr(test, name, None) is not None]


def _one_of(test: DropTest, kind: str, where: str) -> str | None:
    given = _given(test, kind)
    if len(given) > 1:
        first, second = given[:2]
        raise Contradiction([where + first, where + second], "reason.both_given", first=first, second=second)
    return given[0] if given else None


def _reading(crop: CropFile, where: str, test: DropTest, yield_kg_ha: float) -> Reading:
    machine, header = _one_of(test, "machine_loss", where), _one_of(test, "header_loss", where)
    if machine is None:
        fields = ["machine_loss_kg_ha", "machine_loss_bu_ac", "machine_loss_pct"]
        raise InvalidInput(where + fields[0], reason="reason.one_of", fields=fields)
    shares = {name: getattr(test, name) for name in (machine, header) if name is not None and name.endswith("_pct")}
    if sum(shares.values()) >= 100:
        raise InvalidInput(where + next(iter(shares)), reason="reason.loss_above_yield")
    header_kg = 0.0 if header is None or header in shares else _mass(crop, where, test, header)
    machine_kg = 0.0 if machine in shares else _mass(crop, where, test, machine)
    # losses in percent are shares of all that grew: yield, the losses in kg, and each other
    every = loss_for_share(sum(shares.values()), yield_kg_ha + header_kg + machine_kg) if shares else 0.0
    parts = {name: every * share / sum(shares.values()) if every else 0.0 for name, share in shares.items()}
    machine_kg = parts.get(machine, machine_kg)
    header_kg = parts.get(header, header_kg) if header is not None else 0.0
    if machine_kg + header_kg > MOST_LOSS_SHARE * yield_kg_ha:
        raise InvalidInput(where + machine, reason="reason.loss_above_yield")
    if machine_kg < LEAST_LOSS_KG_HA:
        machine_kg = 0.0
    error = _error(test, where, yield_kg_ha + machine_kg + header_kg)
    known_header = None if header is None else header_kg
    return Reading(test.ground_speed_km_h, machine_kg, known_header, machine_kg + header_kg, error)


def _mass(crop: CropFile, where: str, test: DropTest, name: str) -> float:
    value: float = getattr(test, name)
    if not name.endswith("_bu_ac"):
        return value
    if crop.physical.bushel_mass is None:
        raise InvalidInput(where + name, reason="reason.loss_no_bushel", crop=crop.names)
    return mass_kg_ha(value, crop.physical.bushel_mass.value)


def _error(test: DropTest, where: str, grown_kg_ha: float) -> float | None:
    name = _one_of(test, "machine_loss_error", where)
    if name is None:
        return None
    value: float = getattr(test, name)
    if value <= 0:
        raise InvalidInput(where + name, reason="reason.error_zero")
    return value if name.endswith("_kg_ha") else value / 100 * grown_kg_ha


def reach(table: KnowledgeTable, question: SpeedQuestion, readings: Sequence[Reading]) -> Reach:
    """Return the range in which curves may be used: what was tested, and one step beyond.

    The step is the mean distance between the speeds tested, at most what the table allows.
    """
    speeds = sorted({reading.speed_km_h for reading in readings})
    low, high = speeds[0], speeds[-1]
    limit, quantity = table.economics.speed.step_limit.value, table.vocabulary["ground_speed"]
    mean = (high - low) / (len(speeds) - 1)
    step = min(mean, limit) if question.speed_step_km_h is None else question.speed_step_km_h
    return Reach(low, high, step, max(low - step, quantity.minimum), min(high + step, quantity.maximum))


def curve_choice(readings: Sequence[Reading], losses: Sequence[float], reach: Reach, form: FormName | None) -> Choice:
    """Choose the form of the curve through these losses, or take the one that was asked for.

    Raises
    ------
    InvalidInput
        If losses rise so steeply that no curve goes through them.
    Contradiction
        If the form asked for needs more speeds, or falls below zero in the range.
    """
    speeds = [reading.speed_km_h for reading in readings]
    errors = [reading.error for reading in readings if reading.error is not None]
    try:
        choice = choose(speeds, losses, errors, low=reach.low, high=reach.high)
    except OutOfRange as refused:
        if refused.facts["reason"] != "too_steep":
            raise
        raise InvalidInput("drop_tests", reason="reason.too_steep") from None
    if form is None:
        return choice
    if len(set(speeds)) < PARAMETERS[form]:
        raise Contradiction(["form", "drop_tests"], "reason.form_tests", form=form, count=PARAMETERS[form])
    found = [one for one in choice.candidates if one.curve.form == form]
    if not found:
        raise Contradiction(["form", "drop_tests"], "reason.form_below_zero", form=form)
    rest = [one for one in choice.candidates if one.curve.form != form]
    return Choice((*found, *rest), "asked")


def without_each(readings: Sequence[Reading], chosen: Candidate, reach: Reach) -> list[tuple[float, ...]] | None:
    """Return coefficients of the chosen form with each test left out in turn, None where that cannot be told."""
    every = []
    for left in range(len(readings)):
        rest = [one for place, one in enumerate(readings) if place != left]
        errors = [one.error for one in rest if one.error is not None]
        try:
            curve = fit(chosen.curve.form, [one.speed_km_h for one in rest], [one.caused for one in rest], errors)
        except ServiceError:
            return None
        if not usable(curve, reach.low, reach.high):
            return None
        every.append(curve.coefficients)
    return every
