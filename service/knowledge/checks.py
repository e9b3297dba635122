"""Rules that concern several entries or files: names, vocabulary, rows, coverage, machines.

Inside: one small function per rule, each yielding faults with file, row and key. Outside: how
figures are known (`evidence.py`), responses (`curves.py`), the revision (`digest.py`).
"""

from collections import Counter
from collections.abc import Iterable, Iterator
from itertools import pairwise
from typing import Final, get_args

from service.knowledge.curves import LEVEL_ORDER, REFERENCE, curve_faults
from service.knowledge.evidence import evidence_faults
from service.knowledge.influence_checks import FIGURE_UNITS as INFLUENCE_UNITS
from service.knowledge.influence_checks import influence_faults
from service.knowledge.machine_schema import MachinesFile, SizeBand
from service.knowledge.monitor import FIGURE_UNITS as MONITOR_UNITS
from service.knowledge.monitor import monitor_faults
from service.knowledge.refinement import FIGURE_UNITS as REFINEMENT_UNITS
from service.knowledge.refinement import refinement_faults
from service.knowledge.relearn_checks import FIGURE_UNITS as RELEARN_UNITS
from service.knowledge.relearn_checks import relearn_faults
from service.knowledge.schema import (
    ClassId,
    Coverage,
    CropFile,
    Figure,
    FirstTry,
    Response,
    SettingRow,
    Task,
    TradeMoisture,
    VocabularyEntry,
)
from service.knowledge.table import crop_names, name_key
from service.knowledge.tree import ECONOMICS, MACHINES, RESPONSES, VOCABULARY, KnowledgeTree, fault, walk
from service.knowledge.window import FIGURE_UNITS as WINDOW_UNITS
from service.knowledge.window import window_faults

CLASSES: Final[tuple[ClassId, ...]] = get_args(ClassId)
# the setting that is computed, and the quantity whose rows it is computed from
COMPUTED: Final = {"cleaning_air_speed": "cleaning_air_share"}
OPTIONAL: Final = frozenset({"sieve_rear_opening"})
COMPANIONS: Final = {"cleaning_air_speed": "fan_level"}  # rows that say a setting in another way, where given
STARTING: Final = ("coverage", "starting_settings")
ROUNDING: Final = 0.0006  # derived rows are stored with three decimals

# formulas take plain numbers, so each figure has one unit
FIGURE_UNITS: Final = {
    "thousand_kernel_mass": "g",
    "bulk_density": "kg/hL",
    "bushel_mass": "[lb_av]",
    "straw_to_grain": "1",
    "chaff_to_grain": "1",
    "straw_intake_share": "%",
    "chaff_terminal_velocity": "m/s",
    "velocity": "m/s",
    "slope_m_s_per_point": "m/s",
    "density": "kg/m3",
    "sphericity": "1",
    "reference_moisture": "%",
    "reference_yield": "t/har",
    "floor": "%",
    "best_low": "%",
    "best_high": "%",
    "ceiling": "%",
    "machine_loss": "%",
    "header_loss": "%",
    "total_loss": "%",
    "engine_power": "kW",
    "machine_mass": "t",
    "drum_diameter": "mm",
    "separation_rotor_diameter": "mm",
    "channel_width": "mm",
    "separation_area": "m2",
    "cleaning_area": "m2",
    "tank_volume": "L",
    "unloading_rate": "L/s",
    "cut_width": "m",
    "cut_width_row_crop": "m",
    "separation_capacity_per_area": "t/(h.m2)",
    "cleaning_capacity_per_area": "t/(h.m2)",
    "fan_air_speed_max": "m/s",
    "fan_speed_ratio_min": "1",
    "rolling_resistance": "1",
    "drive_efficiency": "1",
    "engine_reserve": "1",
    "speed_ceiling": "km/h",
    "field_efficiency": "%",
    "unloading_margin": "1",
    "feed_exponent_low": "1",
    "feed_exponent_high": "1",
    "repair_rf1": "1",
    "repair_rf2": "1",
    "remaining_c1": "1",
    "remaining_c2": "1",
    "remaining_c3": "1",
    "interest": "%",
    "taxes_insurance_housing": "%",
    "fuel_per_rated_power": "L/(kW.h)",
    "oil_over_fuel": "%",
    "step_limit": "km/h",
    "flat_cost": "%",
    "forms_alike": "1",
    "loss_per_day": "1",
}
UNIT_OF: Final = FIGURE_UNITS | MONITOR_UNITS | INFLUENCE_UNITS | WINDOW_UNITS | RELEARN_UNITS | REFINEMENT_UNITS


def tree_faults(tree: KnowledgeTree, *, whole: bool) -> Iterator[str]:
    """Yield every fault across entries; `whole` says that no file had to be left out."""
    yield from vocabulary_faults(tree)
    yield from double_ids(tree)
    yield from crop_name_faults(tree)
    yield from unit_faults(tree)
    yield from machine_faults(tree.machines, {entry.id: entry for entry in tree.vocabulary.quantity})
    for file, crop in tree.crops.items():
        yield from crop_faults(file, crop, tree)
    yield from curve_faults(tree)
    yield from monitor_faults(tree)
    yield from influence_faults(tree)
    yield from window_faults(tree)
    yield from relearn_faults(tree)
    yield from refinement_faults(tree)
    yield from first_try_faults(tree)
    if whole:
        yield from economics_faults(tree)
    yield from evidence_faults(tree, whole=whole)


def economics_faults(tree: KnowledgeTree) -> Iterator[str]:
    """Yield a fault for each row of timeliness whose crop is in no file."""
    crops = {crop.id for crop in tree.crops.values()}
    for row in tree.economics.timeliness:
        if row.crop not in crops:
            yield fault(ECONOMICS, (f"timeliness {row.id}", "crop"), f"there is no crop {row.crop!r}")


def vocabulary_faults(tree: KnowledgeTree) -> Iterator[str]:
    """Yield faults of the vocabulary alone: double ids, empty ranges, signs without an order."""
    yield from _doubles(VOCABULARY, "quantity", "id", (entry.id for entry in tree.vocabulary.quantity))
    for entry in tree.vocabulary.quantity:
        place = (f"quantity {entry.id}",)
        if entry.minimum >= entry.maximum:
            yield fault(VOCABULARY, (*place, "maximum"), f"{entry.maximum:g} is not above minimum {entry.minimum:g}")
        for factor in entry.monotone:
            if factor not in REFERENCE and factor not in LEVEL_ORDER:
                yield fault(VOCABULARY, (*place, "monotone", factor), "the levels of this factor have no order")


def double_ids(tree: KnowledgeTree) -> Iterator[str]:
    """Yield a fault for each id of a row, response or rule that stands twice anywhere."""
    seen: dict[str, str] = {}
    for file, content in tree.files():
        for place, entry in walk(content):
            if isinstance(entry, SettingRow | Response | FirstTry):
                if entry.id in seen:
                    yield fault(file, (*place, "id"), f"the id stands in {seen[entry.id]} already")
                seen.setdefault(entry.id, file)


def crop_name_faults(tree: KnowledgeTree) -> Iterator[str]:
    """Yield faults of crop names: a file named otherwise, or one name for two crops."""
    owner: dict[str, tuple[str, str]] = {}
    for file, crop in tree.crops.items():
        stem = file.rsplit("/", 1)[-1].removesuffix(".toml")
        if stem != crop.id:
            yield fault(file, ("id",), f"{crop.id!r} is not the name of the file")
        clashes: dict[str, str] = {}
        for name in crop_names(crop):
            other_file, _ = owner.setdefault(name_key(name), (file, crop.id))
            if other_file != file:
                clashes.setdefault(name_key(name), f"{name!r} names the crop of {other_file} already")
        for problem in clashes.values():
            yield fault(file, ("aliases",), problem)


def machine_faults(machines: MachinesFile, vocabulary: dict[str, VocabularyEntry]) -> Iterator[str]:
    """Yield faults of machines.toml."""
    yield from band_faults(machines.band)
    yield from _exactly_once("machine_class", [[entry.id] for entry in machines.machine_class], [*CLASSES])
    yield from _exactly_once("specific", [[*entry.classes] for entry in machines.specific], [*CLASSES])
    yield from _exactly_once("power", [[entry.id] for entry in machines.power], ["small_grain", "maize"])
    bands = [band.id for band in machines.band]
    covered = [[f"{c} in {entry.band}" for c in entry.classes] for entry in machines.defaults]
    yield from _exactly_once("defaults", covered, [f"{c} in {band}" for band in bands for c in CLASSES])
    for index, entry in enumerate(machines.defaults):
        if "hybrid" in entry.classes and entry.separation_rotor_diameter is None:
            key = (f"defaults[{index}]", "separation_rotor_diameter")
            yield fault(MACHINES, key, "the key is missing, hybrid machines need it")
    for machine_class in machines.machine_class:
        for setting in machine_class.settings:
            if setting not in vocabulary or not vocabulary[setting].setting:
                place = (f"machine_class {machine_class.id}", "settings")
                yield fault(MACHINES, place, f"{setting!r} is not a setting of the vocabulary")
    yield from sieve_faults(machines)


def band_faults(bands: list[SizeBand]) -> Iterator[str]:
    """Yield a fault where the size bands do not follow each other from 0 without gap or overlap."""
    yield from _doubles(MACHINES, "band", "id", (band.id for band in bands))
    if not bands or bands[0].power_from_kw != 0:
        yield fault(MACHINES, ("band[0]", "power_from_kw"), "the first band begins at 0")
    for band in bands:
        if band.power_from_kw >= band.power_to_kw:
            problem = f"{band.power_to_kw:g} is not above power_from_kw {band.power_from_kw:g}"
            yield fault(MACHINES, (f"band {band.id}", "power_to_kw"), problem)
    for before, band in pairwise(bands):
        if before.power_to_kw != band.power_from_kw:
            what = "gap" if before.power_to_kw < band.power_from_kw else "overlap"
            problem = f"{what} between {before.power_to_kw:g} and {band.power_from_kw:g}"
            yield fault(MACHINES, (f"band {band.id}", "power_from_kw"), problem)


def sieve_faults(machines: MachinesFile) -> Iterator[str]:
    """Yield faults of the sieve conversions: one per sieve and design, the standard lip exactly 1."""
    yield from _doubles(MACHINES, "sieve", "design", (f"{s.sieve} {s.design}" for s in machines.sieve))
    for index, entry in enumerate(machines.sieve):
        place = f"sieve[{index}]"
        if not 0 < entry.factor_low <= entry.factor <= entry.factor_high:
            problem = f"0 < {entry.factor_low:g} <= {entry.factor:g} <= {entry.factor_high:g} does not hold"
            yield fault(MACHINES, (place, "factor"), problem)
        if entry.design == "standard_lip" and (entry.factor_low, entry.factor_high) != (1, 1):
            yield fault(MACHINES, (place, "factor"), "openings are those of the standard lip sieve, its factor is 1")
    standard = {entry.sieve for entry in machines.sieve if entry.design == "standard_lip"}
    for sieve in sorted({"upper", "lower"} - standard):
        yield fault(MACHINES, ("sieve", "design"), f"standard_lip is missing for the {sieve} sieve")


def crop_faults(file: str, crop: CropFile, tree: KnowledgeTree) -> Iterator[str]:
    """Yield faults of one crop file."""
    vocabulary = {entry.id: entry for entry in tree.vocabulary.quantity}
    markets = Counter(entry.market for entry in crop.trade_moisture)
    for market in (market for market, count in markets.items() if count > 1):
        yield fault(file, ("trade_moisture", "market"), f"{market} stands {markets[market]} times")
    for row in crop.row:
        for key, problem in _row_problems(row, vocabulary.get(row.setting)):
            yield fault(file, (f"row {row.id}", key), problem)
    yield from double_rows(file, crop)
    yield from derived_faults(file, crop)
    yield from coverage_faults(file, crop, tree.machines)


def unit_faults(tree: KnowledgeTree) -> Iterator[str]:
    """Yield a fault for each figure that is not in the unit of its name."""
    for file, content in tree.files():
        for place, entry in walk(content):
            if isinstance(entry, TradeMoisture):
                unit = "%"
            elif isinstance(entry, Figure):
                unit = UNIT_OF[place[-1]]
            else:
                continue
            if entry.unit != unit:
                yield fault(file, (*place, "unit"), f"is in {unit}, not in {entry.unit}")


def _row_problems(row: SettingRow, quantity: VocabularyEntry | None) -> Iterator[tuple[str, str]]:
    if quantity is None:
        yield "setting", f"{row.setting!r} is not in the vocabulary"
        return
    if row.unit != quantity.unit:
        yield "unit", f"{row.setting} is in {quantity.unit}, not in {row.unit}"
        return
    for key, value in (("low", row.low), ("start", row.start), ("high", row.high)):
        if not quantity.minimum <= value <= quantity.maximum:
            limits = f"{quantity.minimum:g} to {quantity.maximum:g} {quantity.unit}"
            yield key, f"{value:g} is outside the {limits} of {row.setting}"


def double_rows(file: str, crop: CropFile) -> Iterator[str]:
    """Yield a fault where two rows hold for one setting, class and use."""
    seen: dict[tuple[str, ClassId, str | None], str] = {}
    for row in crop.row:
        for machine_class in row.classes:
            key = (row.setting, machine_class, row.use)
            if key in seen:
                where = f"{row.setting}, {machine_class}, {row.use or 'any use'}"
                yield fault(file, (f"row {row.id}", "classes"), f"{seen[key]} holds for {where} already")
            seen.setdefault(key, row.id)


def derived_faults(file: str, crop: CropFile) -> Iterator[str]:
    """Yield a fault where a derived row is not its origin times the factor."""
    rows = {row.id: row for row in crop.row}
    for row in crop.row:
        if row.derived is None:
            continue
        place = f"row {row.id}"
        origin = rows.get(row.derived.row)
        if origin is None or origin is row:
            yield fault(file, (place, "derived.row"), f"{row.derived.row!r} is no other row of this file")
            continue
        if row.basis in ("published", "converted"):
            yield fault(file, (place, "basis"), f"a derived row is computed or expert, not {row.basis}")
        for key in ("low", "start", "high"):
            expected = getattr(origin, key) * row.derived.factor
            if row.derived.cap is not None:
                expected = min(expected, row.derived.cap)
            if abs(getattr(row, key) - expected) > ROUNDING:
                problem = f"{getattr(row, key):g} is not {getattr(origin, key):g} x {row.derived.factor:g}"
                yield fault(file, (place, key), f"{problem} = {expected:.6g} of {origin.id}")


def coverage_faults(file: str, crop: CropFile, machines: MachinesFile) -> Iterator[str]:
    """Yield faults where the coverage says more or less than the rows."""
    tasks: tuple[Task, ...] = get_args(Task)
    for task in tasks:
        if task not in crop.coverage:
            yield fault(file, ("coverage", task), "the key is missing")
    for name, entry in crop.coverage.items():
        left_out = [c for c in CLASSES if c not in entry.classes]
        if left_out and entry.why is None:
            yield fault(file, ("coverage", name, "why"), f"the key is missing, {', '.join(left_out)} is left out")
    coverage = crop.coverage.get("starting_settings")
    if coverage is None:
        return
    if coverage.level != "none":
        settings = {entry.id: set(entry.settings) for entry in machines.machine_class}
        yield from _rows_beyond_coverage(file, crop, coverage, settings)
        yield from _coverage_beyond_rows(file, crop, coverage, settings)
    elif crop.row:
        yield fault(file, (*STARTING, "level"), f"none, but there are rows, first {crop.row[0].id}")


def _rows_beyond_coverage(
    file: str, crop: CropFile, coverage: Coverage, settings: dict[ClassId, set[str]]
) -> Iterator[str]:
    for row in crop.row:
        for machine_class in row.classes:
            usable = settings.get(machine_class, set())
            usable = usable | {
                other for pairs in (COMPUTED, COMPANIONS) for setting, other in pairs.items() if setting in usable
            }
            if machine_class not in coverage.classes:
                yield fault(file, (f"row {row.id}", "classes"), f"{machine_class} is not in {'.'.join(STARTING)}")
            elif row.setting not in usable:
                yield fault(file, (f"row {row.id}", "setting"), f"{machine_class} has no {row.setting} in {MACHINES}")


def _coverage_beyond_rows(
    file: str, crop: CropFile, coverage: Coverage, settings: dict[ClassId, set[str]]
) -> Iterator[str]:
    for machine_class in coverage.classes:
        present = {row.setting for row in crop.row if machine_class in row.classes and row.use is None}
        missing = sorted(_needed(settings.get(machine_class, set()), crop) - present)
        if coverage.level == "complete" and missing:
            yield fault(
                file, (*STARTING, "level"), f"complete, but {machine_class} has no row for {', '.join(missing)}"
            )
        if not present:
            yield fault(file, (*STARTING, "classes"), f"{machine_class} has no row")


def _needed(settings: set[str], crop: CropFile) -> set[str]:
    needed = {COMPUTED.get(setting, setting) for setting in settings - OPTIONAL}
    if crop.header != "reel":
        needed.discard("reel_index")
    return needed


def first_try_faults(tree: KnowledgeTree) -> Iterator[str]:
    """Yield faults of the first-try rules and the checklist."""
    vocabulary = {entry.id: entry for entry in tree.vocabulary.quantity}
    for rule in tree.responses.first_try:
        place = f"first_try {rule.id}"
        quantity = vocabulary.get(rule.setting)
        if quantity is None or not quantity.setting:
            yield fault(RESPONSES, (place, "setting"), f"{rule.setting!r} is not a setting of the vocabulary")
        elif rule.unit not in (quantity.unit, "%"):
            yield fault(RESPONSES, (place, "unit"), f"{rule.setting} is in {quantity.unit} or %, not in {rule.unit}")
        if rule.step <= 0:
            yield fault(RESPONSES, (place, "step"), f"{rule.step:g} is not above 0, direction says which way")
    yield from _doubles(RESPONSES, "checklist", "code", (f"{i.list}.{i.code}" for i in tree.responses.checklist))


def _doubles(file: str, table: str, key: str, names: Iterable[str]) -> Iterator[str]:
    for name, count in Counter(names).items():
        if count > 1:
            yield fault(file, (f"{table} {name}", key), f"stands {count} times")


def _exactly_once(table: str, given: list[list[str]], wanted: list[str]) -> Iterator[str]:
    counts = Counter(name for names in given for name in names)
    for name in wanted:
        if counts[name] != 1:
            yield fault(MACHINES, (f"{table} {name}",), f"stands {counts[name]} times, not once")
    for name in sorted(set(counts) - set(wanted)):
        yield fault(MACHINES, (f"{table} {name}",), "is not known")
