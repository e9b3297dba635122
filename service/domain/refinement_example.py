"""An invented cooperative, small enough for the examples of these pages.

Inside: six members, one setting, one outcome, two cells; figures made up. Outside: everything real; the
figures of the method stand in the knowledge table.
"""

import numpy as np

from service.domain.refinement_coding import features
from service.domain.refinement_fit import Fit, fit
from service.domain.refinement_statistics import accumulate
from service.domain.refinement_types import (
    ContributorRule,
    Gate,
    Layout,
    LearningModel,
    Method,
    Outcome,
    Records,
    RowRule,
    Spread,
)

METHOD = Method(
    model=LearningModel(
        log_offset_pct=0.05,
        session_ratio=0.5,
        contributor_ratio=0.5,
        curvature=0.5,
        all_cells_sd=Spread(level=1.0, slope=0.7, curvature=0.2, condition=0.5, choice=0.4),
        own_cell_sd=Spread(level=0.3, slope=0.2, curvature=0.1, condition=0.15, choice=0.1),
        noise_freedom=20.0,
    ),
    rows=RowRule(freedom=4.0, stray_square=9.0, stray_weight=0.02, coded_limit=1.2),
    contributors=ContributorRule(
        largest_share=0.25,
        slope_sd=0.15,
        freedom=4.0,
        set_aside_level=0.999,
        most_set_aside=0.25,
        least_records=3.0,
        starts=30,
        rounds=3,
    ),
    gate=Gate(
        least_contributors=5,
        least_records=40.0,
        early_probability=0.9,
        mature_probability=0.7,
        mature_records=200.0,
        caution=1.0,
        least_gain=0.01,
        largest_move=0.25,
        draws=400,
        interval_factor=1.2,
    ),
    half_life_seasons=3.0,
    seed=11,
)
OUTCOMES = (Outcome("loss", price=1.0, usual_pct=1.0, noise_log_sd=0.2),)
CELLS = ("damp", "dry")


def invented_records() -> Records:
    """Records of pairs: each member measures at the start of the table and a little above, eight times.

    Returns
    -------
    Records
        Losses fall by about a fifth; no two members have the same level.

    Raises
    ------
    OutOfRange
        Never; the shapes fit.

    References
    ----------
    Invented.

    Examples
    --------
    >>> len(invented_records().session)
    96
    """
    layout, count = Layout(("drum",)), 96
    place = np.arange(count)
    settings = np.where(place % 2 == 1, 0.3, 0.0)
    contributor = place // 16
    level = np.linspace(-0.3, 0.3, 6)[contributor]
    wave = 0.1 * np.sin(1.7 * place)  # readings scatter, the same for ever
    return Records(
        layout=layout,
        contributors=("a", "b", "c", "d", "e", "f"),
        machines=("m",),
        cells=CELLS,
        outcomes=("loss",),
        contributor=contributor,
        machine=np.zeros(count, dtype=np.int64),
        cell=place // 2 % 2,
        session=place // 2,
        season=np.full(count, 2026),
        features=features(layout, settings[:, None], np.zeros((count, 0))),
        log_amounts=(level - 0.7 * settings + wave)[:, None],
    )


def invented_fit() -> Fit:
    """What these records teach.

    Returns
    -------
    Fit
        Beliefs of both cells.

    Raises
    ------
    OutOfRange
        Never; the figures are sound.
    UnknownName
        Never; the names are those of the records.

    References
    ----------
    Invented.

    Examples
    --------
    >>> invented_fit().setup.equations.contributors
    ('a', 'b', 'c', 'd', 'e', 'f')
    """
    records = invented_records()
    sums = accumulate(records, np.ones((len(records.session), 1)), METHOD.model.session_ratio)
    return fit(sums, CELLS, OUTCOMES, METHOD)
