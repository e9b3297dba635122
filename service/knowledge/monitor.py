"""Rules on loss_monitor.toml: one unit for each figure, values that can be, no code twice.

Inside: its faults. Outside: its shape (`schema_monitor`), how its figures are known (`evidence`).
"""

from collections import Counter
from collections.abc import Iterator
from typing import Final

from service.knowledge.schema import Figure
from service.knowledge.tree import MONITOR, KnowledgeTree, fault

FIGURE_UNITS: Final = {
    "fewest_pairs": "1",
    "fewest_pairs_for_bend": "1",
    "pan_error": "%",
    "pan_error_floor": "%",
    "reading_share_ignored": "%",
    "stray_level": "%",
    "bend_level": "%",
    "stray_least_errors": "1",
    "wanted_slope_error": "%",
    "most_pairs": "1",
    "detection_factor": "1",
    "small_seed_mass": "g",
    "sensor_share": "%",
    "scale_share": "%",
    "low_pair_share": "%",
    "speed_margin": "km/h",
    "kernel_mass_change": "%",
}
_FEWEST: Final = {"fewest_pairs": 3, "fewest_pairs_for_bend": 5}
_WHOLE: Final = ("fewest_pairs", "fewest_pairs_for_bend", "most_pairs")


def monitor_faults(tree: KnowledgeTree) -> Iterator[str]:
    """Yield every fault of loss_monitor.toml; a folder may do without the file."""
    if tree.monitor is None:
        return
    for name in FIGURE_UNITS:
        for problem in _problems(name, getattr(tree.monitor.figures, name)):
            yield fault(MONITOR, ("figures", name, "value"), problem)
    codes = {
        "finding": [entry.code for entry in tree.monitor.finding],
        "redo": [entry.code for entry in tree.monitor.redo],
    }
    for table, found in codes.items():
        for code, count in Counter(found).items():
            if count > 1:
                yield fault(MONITOR, (f"{table} {code}", "code"), f"stands {count} times")


def _problems(name: str, figure: Figure) -> Iterator[str]:
    if figure.value <= 0:
        yield f"{figure.value:g} is not above 0"
    if figure.unit == "%" and figure.value > 100:
        yield f"{figure.value:g} % is more than all"
    if figure.value < _FEWEST.get(name, 0):
        yield f"{figure.value:g} is below {_FEWEST[name]}, which the formulas need"
    if name in _WHOLE and figure.value != int(figure.value):
        yield f"{figure.value:g} is not a whole number"
