"""Look-ups in hauling.toml, and the rules that tie it to the crops.

Inside: the curve of a crop, findings on a topic, faults across entries. Outside: shape of the file
(`schema_hauling.py`), formulas.
"""

from collections import Counter
from collections.abc import Iterator
from typing import Final

from service.knowledge.schema import CropFile
from service.knowledge.schema_hauling import BulkDensity, Finding, HaulingFile, Topic
from service.knowledge.tree import HAULING, KnowledgeTree, fault

FIGURE_UNITS: Final = {
    "unloading_rate": "L/s",
    "reduced_share": "%",
    "docking": "s",
    "call_level": "%",
    "call_reserve": "%",
    "cart_speed": "km/h",
    "edge_drive_out": "s",
    "edge_drive_back": "s",
    "turning_efficiency": "%",
    "time_variation": "%",
    "least_room": "%",
    "enough": "%",
    "plan_flat": "%",
}


def density_curve(hauling: HaulingFile, crop: CropFile) -> BulkDensity | None:
    """Return the curve of bulk density over moisture of a crop, None where none was found."""
    return next((one for one in hauling.bulk_density if one.crop == crop.id), None)


def findings(hauling: HaulingFile, *topics: Topic) -> list[Finding]:
    """Return what is known on some topics, in the order of the file."""
    return [one for one in hauling.finding if one.topic in topics]


def hauling_faults(tree: KnowledgeTree) -> Iterator[str]:
    """Yield faults that concern several entries of hauling.toml, or it together with the crops."""
    hauling = tree.hauling
    crops = {crop.id for name, crop in tree.crops.items() if name not in tree.local}
    for row in hauling.bulk_density:
        place = (f"bulk_density {row.id}",)
        if row.crop not in crops:
            yield fault(HAULING, (*place, "crop"), f"there is no crop {row.crop}")
        # rho falls with moisture where the crop's own density is taken to hold
        if row.b <= 2 * row.c * row.at_moisture_pct / 100:
            yield fault(HAULING, (*place, "at_moisture_pct"), "the curve has turned before this moisture")
    for crop, count in Counter(row.crop for row in hauling.bulk_density).items():
        if count > 1:
            yield fault(HAULING, ("bulk_density",), f"crop {crop} stands {count} times")
    for code, count in Counter(one.code for one in hauling.finding).items():
        if count > 1:
            yield fault(HAULING, ("finding",), f"finding {code} stands {count} times")
