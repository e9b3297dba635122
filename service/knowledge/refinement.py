"""Rules on refinement.toml: one unit for each figure, values that can be, settings that exist.

Inside: its faults. Outside: its shape (`schema_refinement`), how its figures are known (`evidence`).
"""

from collections import Counter
from collections.abc import Iterator
from typing import Final

from service.knowledge.schema import Figure
from service.knowledge.schema_refinement import RefinementFigures
from service.knowledge.tree import REFINEMENT, KnowledgeTree, fault

FIGURE_UNITS: Final = {
    "log_offset": "%",
    "loss_scatter": "1",
    "broken_scatter": "1",
    "foreign_matter_scatter": "1",
    "loss_usual": "%",
    "broken_usual": "%",
    "foreign_matter_usual": "%",
    "loss_price": "1",
    "broken_price": "1",
    "foreign_matter_price": "1",
    "scatter_freedom": "1",
    "session_ratio": "1",
    "contributor_ratio": "1",
    "curvature": "1",
    "all_cells_level_sd": "1",
    "all_cells_slope_sd": "1",
    "all_cells_curvature_sd": "1",
    "all_cells_condition_sd": "1",
    "all_cells_choice_sd": "1",
    "own_cell_level_sd": "1",
    "own_cell_slope_sd": "1",
    "own_cell_curvature_sd": "1",
    "own_cell_condition_sd": "1",
    "own_cell_choice_sd": "1",
    "row_freedom": "1",
    "stray_square": "1",
    "stray_weight": "1",
    "coded_limit": "1",
    "largest_share": "%",
    "contributor_slope_sd": "1",
    "contributor_freedom": "1",
    "set_aside_level": "%",
    "most_set_aside": "%",
    "least_tested_records": "1",
    "starts": "1",
    "rounds": "1",
    "least_contributors": "1",
    "least_records": "1",
    "early_probability": "%",
    "mature_probability": "%",
    "mature_records": "1",
    "caution": "1",
    "least_gain": "%",
    "largest_move": "1",
    "draws": "1",
    "interval_factor": "1",
    "half_life": "1",
    "moisture_scale": "%",
    "pairs_asked": "1",
}
_FEWEST: Final = {"least_contributors": 5, "pairs_asked": 1, "starts": 1, "rounds": 1, "draws": 100}
_MOST: Final = {"stray_weight": 1, "starts": 1000, "rounds": 100, "draws": 100_000, "pairs_asked": 100}
_WHOLE: Final = ("least_contributors", "starts", "rounds", "draws", "pairs_asked")
_PROBABILITIES: Final = ("early_probability", "mature_probability", "set_aside_level")


def refinement_faults(tree: KnowledgeTree) -> Iterator[str]:
    """Yield every fault of refinement.toml; a folder may do without the file."""
    if tree.refinement is None:
        return
    figures = tree.refinement.figures
    for name in FIGURE_UNITS:
        for problem in _problems(name, getattr(figures, name)):
            yield fault(REFINEMENT, ("figures", name, "value"), problem)
    yield from _order(figures)
    known = {entry.id for entry in tree.vocabulary.quantity}
    for setting, count in Counter(entry.setting for entry in tree.refinement.not_refined).items():
        if setting not in known:
            yield fault(REFINEMENT, ("not_refined", setting), "there is no such setting")
        if count > 1:
            yield fault(REFINEMENT, ("not_refined", setting), f"stands {count} times")


def _problems(name: str, figure: Figure) -> Iterator[str]:
    if figure.value <= 0:
        yield f"{figure.value:g} is not above 0"
    if figure.unit == "%" and figure.value > 100:
        yield f"{figure.value:g} % is more than all"
    if figure.value < _FEWEST.get(name, 0):
        yield f"{figure.value:g} is below {_FEWEST[name]}, the least"
    if figure.value > _MOST.get(name, figure.value):
        yield f"{figure.value:g} is above {_MOST[name]}, the most"
    if name in _WHOLE and figure.value != int(figure.value):
        yield f"{figure.value:g} is not a whole number"
    if name in _PROBABILITIES and not 50 <= figure.value < 100:
        yield f"{figure.value:g} % is not from 50 to below 100"


def _order(figures: RefinementFigures) -> Iterator[str]:
    """Few records ask for more certainty, not less."""
    if figures.early_probability.value < figures.mature_probability.value:
        yield fault(REFINEMENT, ("figures", "early_probability", "value"), "is below mature_probability")
    if figures.mature_records.value < figures.least_records.value:
        yield fault(REFINEMENT, ("figures", "mature_records", "value"), "is below least_records")
