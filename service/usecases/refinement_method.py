"""The figures of refinement as the formulas take them.

Inside: refinement.toml to the plain records of the domain. Outside: the file itself (`knowledge`), what
is learnt (`domain`), where sums and tables are kept (`store`).
"""

import hashlib
from collections.abc import Mapping
from typing import Final

from service.domain.refinement_types import (
    ContributorRule,
    Gate,
    LearningModel,
    Method,
    Outcome,
    RowRule,
    Spread,
)
from service.errors import UnknownName
from service.knowledge.schema_refinement import RefinementFigures

OUTCOMES: Final = ("loss", "broken", "foreign_matter")
_SEED: Final = 1  # any number; kept, so that drafts can be made again


def refinement_method(figures: RefinementFigures) -> Method:
    """All figures of the method; shares in place of percent."""
    return Method(
        model=LearningModel(
            log_offset_pct=figures.log_offset.value,
            session_ratio=figures.session_ratio.value,
            contributor_ratio=figures.contributor_ratio.value,
            curvature=figures.curvature.value,
            all_cells_sd=_spread(figures, "all_cells"),
            own_cell_sd=_spread(figures, "own_cell"),
            noise_freedom=figures.scatter_freedom.value,
        ),
        rows=RowRule(
            freedom=figures.row_freedom.value,
            stray_square=figures.stray_square.value,
            stray_weight=figures.stray_weight.value,
            coded_limit=figures.coded_limit.value,
        ),
        contributors=ContributorRule(
            largest_share=figures.largest_share.value / 100,
            slope_sd=figures.contributor_slope_sd.value,
            freedom=figures.contributor_freedom.value,
            set_aside_level=figures.set_aside_level.value / 100,
            most_set_aside=figures.most_set_aside.value / 100,
            least_records=figures.least_tested_records.value,
            starts=int(figures.starts.value),
            rounds=int(figures.rounds.value),
        ),
        gate=_gate(figures),
        half_life_seasons=figures.half_life.value,
        seed=_SEED,
    )


def _gate(figures: RefinementFigures) -> Gate:
    return Gate(
        least_contributors=int(figures.least_contributors.value),
        least_records=figures.least_records.value,
        early_probability=figures.early_probability.value / 100,
        mature_probability=figures.mature_probability.value / 100,
        mature_records=figures.mature_records.value,
        caution=figures.caution.value,
        least_gain=figures.least_gain.value / 100,
        largest_move=figures.largest_move.value,
        draws=int(figures.draws.value),
        interval_factor=figures.interval_factor.value,
    )


def refinement_outcomes(figures: RefinementFigures, prices: Mapping[str, float]) -> tuple[Outcome, ...]:
    """What settings are judged by, at an organisation's prices: cost of one percent of each outcome.

    Raises
    ------
    UnknownName
        If a price is for no outcome; an outcome without a price does not count.
    """
    for name in prices:
        if name not in OUTCOMES:
            raise UnknownName("prices", name, OUTCOMES)
    return tuple(
        Outcome(
            name,
            prices[name],
            getattr(figures, f"{name}_usual").value,
            getattr(figures, f"{name}_scatter").value,
        )
        for name in OUTCOMES
        if prices.get(name, 0) > 0
    )


def usual_prices(figures: RefinementFigures) -> dict[str, float]:
    """Return the prices of an organisation that has told none."""
    return {name: getattr(figures, f"{name}_price").value for name in OUTCOMES}


def method_digest(method: Method, outcomes: tuple[Outcome, ...]) -> str:
    """Fingerprint of all figures of the method, by which a draft says how it was made."""
    return "sha256:" + hashlib.sha256(repr((method, outcomes)).encode()).hexdigest()


def _spread(figures: RefinementFigures, of: str) -> Spread:
    parts = ("level", "slope", "curvature", "condition", "choice")
    return Spread(**{part: getattr(figures, f"{of}_{part}_sd").value for part in parts})
