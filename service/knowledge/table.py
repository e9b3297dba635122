"""The knowledge table: everything that was read, found by name.

Inside: look-ups and their refusals. Outside: reading and checking, and any computation on figures.
"""

import unicodedata
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Final, Literal, TypeVar

from service.errors import NotCovered, OutOfRange, UnknownName
from service.knowledge.coefficients import EquilibriumTable
from service.knowledge.influence import InfluenceTable
from service.knowledge.machine_schema import (
    MachineClassEntry,
    MachineDefaults,
    MachinesFile,
    PowerModel,
    SieveConversion,
    SizeBand,
    Specific,
)
from service.knowledge.schema import (
    CropFile,
    LocalText,
    Response,
    ResponsesFile,
    SettingRow,
    SourceRecord,
    Task,
    VocabularyEntry,
)
from service.knowledge.schema_economics import EconomicsFile, Timeliness
from service.knowledge.schema_hauling import HaulingFile
from service.knowledge.schema_monitor import MonitorFile
from service.knowledge.schema_refinement import RefinementFile
from service.knowledge.schema_relearn import RelearnFile
from service.knowledge.schema_residue import ResidueFile
from service.knowledge.schema_window import HarvestWindowFile

Found = TypeVar("Found")
MoistureBand = Literal["too_dry", "dry", "best", "damp", "too_wet"]

_UMLAUTS: Final = str.maketrans({"ä": "ae", "ö": "oe", "ü": "ue"})


def name_key(name: str) -> str:
    """Reduce a name to what tells it apart: no case, blanks, hyphens or underscores, umlauts spelt out."""
    folded = unicodedata.normalize("NFKC", name).casefold().translate(_UMLAUTS)
    return "".join(character for character in folded if not (character.isspace() or character in "-_"))


def crop_names(crop: CropFile) -> Iterator[str]:
    """Yield every name that a crop goes by: id, names, aliases, code."""
    yield crop.id
    yield crop.names.en
    if crop.names.de is not None:
        yield crop.names.de
    yield from crop.aliases
    if crop.eppo is not None:
        yield crop.eppo.value


@dataclass(frozen=True, eq=False)
class KnowledgeTable:
    """One revision of the table; `revision` ends in +local where further crops are laid over it."""

    revision: str
    digest: str
    released: str
    crops: dict[str, CropFile]
    sources: dict[str, SourceRecord]
    vocabulary: dict[str, VocabularyEntry]
    machines: MachinesFile
    responses: ResponsesFile
    economics: EconomicsFile
    influence: InfluenceTable
    hauling: HaulingFile
    equilibrium: EquilibriumTable
    monitor: MonitorFile | None = None
    window: HarvestWindowFile | None = None
    relearn: RelearnFile | None = None
    residue: ResidueFile | None = None
    refinement: RefinementFile | None = None

    def crop(self, name: str, field: str = "crop") -> CropFile:
        """Find a crop by id, name in any language, alias or EPPO code.

        Raises
        ------
        UnknownName
            If nothing is called so; carries the nearest names and the ids.
        """
        try:
            return self._crops_by_name[name_key(name)]
        except KeyError:
            candidates = sorted({n.lower() for crop in self.crops.values() for n in crop_names(crop)})
            raise UnknownName(field, name, sorted(self.crops), candidates) from None

    def check_revision(self, revision: str | None) -> None:
        """Refuse another revision than the one that is held, or raise UnknownName."""
        if revision not in (None, self.revision):
            raise UnknownName("revision", str(revision), [self.revision])

    def covers(self, crop: CropFile, task: Task, machine_class: str) -> None:
        """Refuse a task that the table cannot do for this crop and class.

        Raises
        ------
        NotCovered
            With the reason that the crop file gives.
        """
        coverage = crop.coverage[task]
        if coverage.level == "none" or machine_class not in coverage.classes:
            why = coverage.why or LocalText(en=f"{machine_class} is not covered")
            raise NotCovered("crop", task, crop.id, why)

    def has_row(self, crop: CropFile, setting: str, machine_class: str, use: str | None = None) -> bool:
        """Say whether there is a row for this setting, class and use, or for any use."""
        return self._row(crop, setting, machine_class, use) is not None

    def row(self, crop: CropFile, setting: str, machine_class: str, use: str | None = None) -> SettingRow:
        """Return the row of a setting; one for this use wins over one for any use.

        Raises
        ------
        NotCovered
            If there is none, with the reason that the crop file gives.
        """
        row = self._row(crop, setting, machine_class, use)
        if row is None:
            why = crop.coverage["starting_settings"].why
            missing = LocalText(en=f"no row for {setting} with {machine_class}")
            raise NotCovered("crop", "starting_settings", crop.id, why or missing)
        return row

    def response(self, crop: CropFile, quantity: str, factor: str, machine_class: str) -> Response | None:
        """Return how a quantity answers a factor: the crop's own, else its group's, else the general one."""
        for scope in (f"crop {crop.id}", f"group {crop.group}", ""):
            found = self._responses.get((scope, quantity, factor, machine_class))
            if found is not None:
                return found
        return None

    def machine_class(self, name: str, field: str = "machine_class") -> MachineClassEntry:
        """Find a machine class by id, or raise UnknownName."""
        return _find(self._classes, name, field)

    def band(self, name: str, field: str = "size_band") -> SizeBand:
        """Find a size band by id, or raise UnknownName."""
        return _find(self._bands, name, field)

    def band_for_power(self, power_kw: float, field: str = "engine_power_kw") -> SizeBand:
        """Find the size band of an engine power; a limit between two bands belongs to the upper one.

        Raises
        ------
        OutOfRange
            If no band reaches so far.
        """
        bands = self.machines.band
        for band in bands:
            if band.power_from_kw <= power_kw < band.power_to_kw:
                return band
        if power_kw == bands[-1].power_to_kw:
            return bands[-1]
        raise OutOfRange(field, power_kw, bands[0].power_from_kw, bands[-1].power_to_kw, "kW")

    def defaults(self, class_id: str, band_id: str) -> MachineDefaults:
        """Return the usual dimensions of a class in a size band, or raise UnknownName."""
        self.machine_class(class_id)
        self.band(band_id)
        return self._defaults[class_id, band_id]

    def specific(self, class_id: str) -> Specific:
        """Return the figures of a class that do not depend on size, or raise UnknownName."""
        return _find(self._specific, class_id, "machine_class")

    def sieve_factor(self, sieve: str, design: str) -> SieveConversion:
        """Return the conversion of a sieve design; UnknownName for one this sieve does not come in."""
        return _find(self._sieves.get(sieve, {}), design, f"{sieve}_sieve_design")

    def power_model(self, name: str) -> PowerModel:
        """Return a power model by id, or raise UnknownName."""
        return _find(self._power, name, "power")

    def timeliness(self, crop: CropFile) -> Timeliness | None:
        """Return what a day of delay costs in this crop, None where no source tells."""
        return next((row for row in self.economics.timeliness if row.crop == crop.id), None)

    def moisture_band(self, crop: CropFile, moisture_pct: float) -> MoistureBand:
        """Say where a grain moisture lies in the crop's window; the ends belong to the better side.

        Raises
        ------
        OutOfRange
            If the moisture is not within 0 <= x <= 100.
        """
        if not 0 <= moisture_pct <= 100:
            raise OutOfRange("moisture_pct", moisture_pct, 0, 100, "%")
        window = crop.moisture
        if moisture_pct < window.floor.value:
            return "too_dry"
        if moisture_pct < window.best_low.value:
            return "dry"
        if moisture_pct <= window.best_high.value:
            return "best"
        return "damp" if moisture_pct <= window.ceiling.value else "too_wet"

    def _row(self, crop: CropFile, setting: str, machine_class: str, use: str | None) -> SettingRow | None:
        own = self._rows.get((crop.id, setting, machine_class, use))
        return own or self._rows.get((crop.id, setting, machine_class, None))

    @cached_property
    def _rows(self) -> dict[tuple[str, str, str, str | None], SettingRow]:
        return {
            (crop.id, row.setting, machine_class, row.use): row
            for crop in self.crops.values()
            for row in crop.row
            for machine_class in row.classes
        }

    @cached_property
    def _responses(self) -> dict[tuple[str, str, str, str], Response]:
        # one index for three scopes: "crop wheat", "group cereal", and "" for every group
        scoped = [(f"crop {crop.id}", response) for crop in self.crops.values() for response in crop.response]
        for response in self.responses.response:
            scoped += [(f"group {group}", response) for group in response.groups] or [("", response)]
        return {(scope, r.quantity, r.factor, c): r for scope, r in scoped for c in r.classes}

    @cached_property
    def _crops_by_name(self) -> dict[str, CropFile]:
        return {name_key(name): crop for crop in self.crops.values() for name in crop_names(crop)}

    @cached_property
    def _classes(self) -> dict[str, MachineClassEntry]:
        return {entry.id: entry for entry in self.machines.machine_class}

    @cached_property
    def _bands(self) -> dict[str, SizeBand]:
        return {band.id: band for band in self.machines.band}

    @cached_property
    def _defaults(self) -> dict[tuple[str, str], MachineDefaults]:
        return {(c, entry.band): entry for entry in self.machines.defaults for c in entry.classes}

    @cached_property
    def _specific(self) -> dict[str, Specific]:
        return {c: entry for entry in self.machines.specific for c in entry.classes}

    @cached_property
    def _sieves(self) -> dict[str, dict[str, SieveConversion]]:
        designs: dict[str, dict[str, SieveConversion]] = {}
        for entry in self.machines.sieve:
            designs.setdefault(entry.sieve, {})[entry.design] = entry
        return designs

    @cached_property
    def _power(self) -> dict[str, PowerModel]:
        return {entry.id: entry for entry in self.machines.power}


def _find(entries: Mapping[str, Found], name: str, field: str) -> Found:
    try:
        return entries[name]
    except KeyError:
        raise UnknownName(field, name, sorted(entries)) from None
