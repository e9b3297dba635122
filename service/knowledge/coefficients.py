"""Coefficient sets of the equilibrium equations, read strictly from `coefficients/equilibrium.csv`.

Inside: reading, proof that every row is whole and that each crop has exactly one default, look-up.
Outside: the equations (`service.domain.sorption`), crops of the table that use a set.
"""

import csv
import math
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Final, get_args

from service.domain.equilibrium import FORMS
from service.errors import KnowledgeFault, NotCovered
from service.knowledge.schema import Known

FILE: Final = "coefficients/equilibrium.csv"
COLUMNS: Final = (
    "crop",
    "form",
    "A",
    "B",
    "C",
    "default",
    "source",
    "known",
    "seen_in",
    "verified",
    "temperature_low_c",
    "temperature_high_c",
    "note",
)


@dataclass(frozen=True, slots=True)
class CoefficientSet:
    """Coefficients of one form for one crop, and how they are known.

    Attributes
    ----------
    crop, form : str
        Crop or grain class of the set; name of the equation.
    A, B, C : float
        Coefficients, moisture in percent of dry matter. [of the form]
    default : bool
        Whether it is the set to use for this crop.
    source, known, seen_in, verified, note : str
        Publication, how it is known, where a transcription was read, printed figures it reproduces.
    temperature_low_c, temperature_high_c : float or None
        Range of the measurements; None where not stated. [Cel]
    """

    crop: str
    form: str
    A: float
    B: float
    C: float
    default: bool
    source: str
    known: str
    seen_in: str
    verified: str
    temperature_low_c: float | None
    temperature_high_c: float | None
    note: str


@dataclass(frozen=True, slots=True)
class EquilibriumTable:
    """All sets, and the crops for which none was found with the reason."""

    sets: tuple[CoefficientSet, ...]
    missing: Mapping[str, str]

    def of(self, crop: str) -> tuple[CoefficientSet, ...]:
        """Sets of a crop, in file order; none for an unknown crop."""
        return tuple(row for row in self.sets if row.crop == crop)

    def default(self, crop: str) -> CoefficientSet:
        """The set to use for a crop.

        Raises
        ------
        NotCovered
            If the table has no set for it.
        """
        for row in self.of(crop):
            if row.default:
                return row
        why = self.missing.get(crop, "no coefficient set in the table")
        raise NotCovered("crop", "equilibrium_moisture", crop, why)


def read_equilibrium(lines: Iterable[str]) -> EquilibriumTable:
    """Read and prove a table.

    Parameters
    ----------
    lines : iterable of str
        Lines of the file, header first.

    Raises
    ------
    KnowledgeFault
        With every fault: file, row, key.
    """
    reader = csv.DictReader(lines, strict=True)
    if tuple(reader.fieldnames or ()) != COLUMNS:
        raise KnowledgeFault([f"{FILE}: columns must be {', '.join(COLUMNS)}"])
    faults: list[str] = []
    sets: list[CoefficientSet] = []
    missing: dict[str, str] = {}
    for number, row in enumerate(reader, 2):
        wrong = _shape_faults(row)
        faults += [f"{FILE}: row {number}: {fault}" for fault in wrong]
        if wrong:
            continue
        if row["form"]:
            sets.append(_coefficient_set(row))
        else:
            missing[row["crop"]] = row["note"]
    faults += _crop_faults(sets, missing)
    if faults:
        raise KnowledgeFault(faults)
    return EquilibriumTable(tuple(sets), missing)


def _shape_faults(row: Mapping[str, str]) -> list[str]:
    if None in row or None in row.values():
        return [f"needs {len(COLUMNS)} cells"]
    if not row["crop"]:
        return ["crop: missing"]
    if not row["form"]:
        filled = [key for key in COLUMNS if row[key] and key not in {"crop", "note"}]
        return [f"{key}: must be empty without a form" for key in filled] + ["note: missing"] * (not row["note"])
    faults = [f"form: {row['form']!r} is not one of {', '.join(FORMS)}"] * (row["form"] not in FORMS)
    faults += [f"{key}: {row[key]!r} is not a finite number" for key in "ABC" if not _is_number(row[key])]
    faults += [f"default: {row['default']!r} is not 0 or 1"] * (row["default"] not in {"0", "1"})
    faults += ["source: missing"] * (not row["source"])
    faults += [f"known: {row['known']!r} is unknown"] * (row["known"] not in get_args(Known))
    faults += ["seen_in: missing for a transcription"] * (row["known"] == "read_secondhand" and not row["seen_in"])
    ends = [row["temperature_low_c"], row["temperature_high_c"]]
    if any(ends) and not (all(map(_is_number, ends)) and float(ends[0]) < float(ends[1])):
        faults.append("temperature_low_c: must be a number below temperature_high_c, or both empty")
    return faults


def _crop_faults(sets: Iterable[CoefficientSet], missing: Mapping[str, str]) -> list[str]:
    rows = list(sets)
    defaults = Counter(row.crop for row in rows if row.default)
    faults = [
        f"{FILE}: crop {crop}: {defaults[crop]} default sets instead of one"
        for crop in sorted({row.crop for row in rows})
        if defaults[crop] != 1
    ]
    faults += [f"{FILE}: crop {crop}: listed as missing, but has a set" for crop in missing if crop in defaults]
    return faults


def _coefficient_set(row: Mapping[str, str]) -> CoefficientSet:
    low, high = row["temperature_low_c"], row["temperature_high_c"]
    return CoefficientSet(
        crop=row["crop"],
        form=row["form"],
        A=float(row["A"]),
        B=float(row["B"]),
        C=float(row["C"]),
        default=row["default"] == "1",
        source=row["source"],
        known=row["known"],
        seen_in=row["seen_in"],
        verified=row["verified"],
        temperature_low_c=float(low) if low else None,
        temperature_high_c=float(high) if high else None,
        note=row["note"],
    )


def _is_number(text: str) -> bool:
    try:
        return math.isfinite(float(text))
    except ValueError:
        return False
