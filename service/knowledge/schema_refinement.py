"""What refinement.toml may hold.

Inside: shape of the file. Outside: rules across its entries (`refinement.py`).
"""

from service.knowledge.schema import Entry, Evidence, Figure, Slug


class RefinementFigures(Entry):
    """Figures of the method; settings are coded, amounts are logarithms."""

    log_offset: Figure
    loss_scatter: Figure
    broken_scatter: Figure
    foreign_matter_scatter: Figure
    loss_usual: Figure
    broken_usual: Figure
    foreign_matter_usual: Figure
    loss_price: Figure
    broken_price: Figure
    foreign_matter_price: Figure
    scatter_freedom: Figure
    session_ratio: Figure
    contributor_ratio: Figure
    curvature: Figure
    all_cells_level_sd: Figure
    all_cells_slope_sd: Figure
    all_cells_curvature_sd: Figure
    all_cells_condition_sd: Figure
    all_cells_choice_sd: Figure
    own_cell_level_sd: Figure
    own_cell_slope_sd: Figure
    own_cell_curvature_sd: Figure
    own_cell_condition_sd: Figure
    own_cell_choice_sd: Figure
    row_freedom: Figure
    stray_square: Figure
    stray_weight: Figure
    coded_limit: Figure
    largest_share: Figure
    contributor_slope_sd: Figure
    contributor_freedom: Figure
    set_aside_level: Figure
    most_set_aside: Figure
    least_tested_records: Figure
    starts: Figure
    rounds: Figure
    least_contributors: Figure
    least_records: Figure
    early_probability: Figure
    mature_probability: Figure
    mature_records: Figure
    caution: Figure
    least_gain: Figure
    largest_move: Figure
    draws: Figure
    interval_factor: Figure
    half_life: Figure
    moisture_scale: Figure
    pairs_asked: Figure


class NotRefined(Evidence):
    """A setting that is left to the base table."""

    setting: Slug


class RefinementFile(Entry):
    """refinement.toml."""

    figures: RefinementFigures
    not_refined: list[NotRefined]
