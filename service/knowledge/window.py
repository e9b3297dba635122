"""Look-ups in harvest_window.toml and the equilibrium table, and the rules that tie them together.

Inside: which coefficient set answers for a crop, how fast it dries, faults across files. Outside: shape
of the files (`schema_window.py`, `coefficients.py`), what waiting costs (economics.toml), formulas.
"""

from collections import Counter
from collections.abc import Iterator
from typing import Final

from service.errors import NotCovered, UnknownName
from service.knowledge.coefficients import CoefficientSet, EquilibriumTable
from service.knowledge.schema import CropFile, Figure
from service.knowledge.schema_window import HarvestWindowFile
from service.knowledge.tree import WINDOW, KnowledgeTree, fault

TASK: Final = "harvest_window"
FIGURE_UNITS: Final = {
    "rate_per_day": "1/d",
    "reading_error": "%",
    "equilibrium_error": "%",
    "rewetting_factor": "1",
    "dew_humidity": "%",
    "dew_gain": "%",
    "rain_error": "%",
    "wet_hours": "h",
    "dry_off_humidity": "%",
    "reading_gap": "h",
    "forecast_days": "d",
    "model_error": "%",
    "share_outside": "%",
    "wind_ratio": "1",
    "fuel_maize": "L/t",
    "drying_energy": "MJ/kg",
    "fuel_heat": "MJ/L",
    "handling_loss": "%",
}


def sets_of(
    table: EquilibriumTable, window: HarvestWindowFile, crop: CropFile, grain: str | None
) -> tuple[CoefficientSet, ...]:
    """Return the coefficient sets to choose from, the default one first.

    Without `grain` these are the sets of every class of the crop. It names one class of the coefficient
    table, and may name one of another crop: borrowing is the caller's decision.

    Raises
    ------
    NotCovered
        If the crop has none and no other was named.
    UnknownName
        If the table has no such class.
    """
    wanted = _grains_of(window, crop) if grain is None else [grain]
    found = [one for name in wanted for one in table.of(name)]
    if not found:
        raise UnknownName("equilibrium_grain", wanted[0], grains(table))
    default = table.default(wanted[0])
    return (default, *(one for one in found if one is not default))


def _grains_of(window: HarvestWindowFile, crop: CropFile) -> list[str]:
    own = own_grains(window, crop)
    if own:
        return own
    for without in window.no_equilibrium:
        if without.crop == crop.id:
            raise NotCovered("crop", TASK, crop.id, without.why.en)
    why = "The table names no equilibrium set for this crop; name one in equilibrium_grain."
    raise NotCovered("crop", TASK, crop.id, why)


def grains(table: EquilibriumTable) -> list[str]:
    """Return every grain class that has a set."""
    return sorted({one.crop for one in table.sets})


def own_grains(window: HarvestWindowFile, crop: CropFile) -> list[str]:
    """Return the grain classes that belong to a crop."""
    return [grain for entry in window.equilibrium if entry.crop == crop.id for grain in entry.grains]


def pace_of(window: HarvestWindowFile, crop: CropFile) -> Figure | None:
    """Return the rate of drying of a crop, None where nothing was found for it."""
    return next((one.rate_per_day for one in window.pace if one.crop == crop.id), None)


def window_faults(tree: KnowledgeTree) -> Iterator[str]:
    """Yield faults that concern harvest_window.toml together with crops and coefficient sets."""
    window = tree.window
    if window is None:
        return
    crops = {crop.id for name, crop in tree.crops.items() if name not in tree.local}
    answered = [entry.crop for entry in window.equilibrium] + [entry.crop for entry in window.no_equilibrium]
    for crop, count in Counter(answered).items():
        if count > 1:
            yield fault(WINDOW, ("equilibrium",), f"crop {crop} is answered {count} times")
    for crop in sorted(crops - set(answered)):
        yield fault(WINDOW, ("equilibrium",), f"crop {crop} has neither grains nor a reason why not")
    paced = [entry.crop for entry in window.pace]
    yield from (fault(WINDOW, ("pace",), f"crop {crop} stands twice") for crop in {*paced} if paced.count(crop) > 1)
    answered += paced
    for crop in sorted(set(answered) - crops):
        yield fault(WINDOW, (), f"there is no crop {crop}")
    known = {one.crop for one in tree.equilibrium.sets}
    for entry in window.equilibrium:
        for grain in entry.grains:
            if grain not in known:
                yield fault(WINDOW, ("equilibrium", entry.crop), f"there is no coefficient set for {grain}")
