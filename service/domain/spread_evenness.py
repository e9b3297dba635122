"""How even readings of equal area are: the indices that spreader tests use.

Inside: variation, uniformity, ratio and deviation of readings. Outside: where the readings lie
(`spread_pattern.py`), from when on an index is good (the knowledge table).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from service.domain.ranges import above, within

HEAVIEST: Final = 1e9


@dataclass(frozen=True, slots=True)
class Uniformity:
    """How even readings are. `max_to_min` is None where one of them is empty."""

    mean: float
    cv_pct: float
    christiansen_pct: float
    max_to_min: float | None
    deviation_index: float


def uniformity(layers: Sequence[float]) -> Uniformity:
    """Evenness of readings of equal area.

    Parameters
    ----------
    layers : sequence of float
        Two readings or more, 0 and above, not all 0. [any]

    Returns
    -------
    Uniformity
        Mean; coefficient of variation with n - 1; Christiansen's coefficient; greatest over least;
        half the mean deviation over the mean, 0 for even and near 0.5 for a narrow strip.

    Raises
    ------
    OutOfRange
        If there are fewer than two readings, one is negative, or all are 0.

    Notes
    -----
    CV = 100 s / mean, CU = 100 (1 - sum |x - mean| / (n mean)), ratio = max / min,
    index = sum |x - mean| / (2 sum x) = (1 - CU / 100) / 2. The formula of the printed distribution
    index was not found; the last one has its range and is ours.

    References
    ----------
    Christiansen's coefficient on straw and husk: Kumhala, F. et al., Plant, Soil and Environment
    51:249-254, 2005. Ratio and index: Allmaras, R. R. et al., Agronomy Journal 77:730-734, 1985.

    Examples
    --------
    >>> found = uniformity([42, 55, 63, 80, 96, 90, 71, 60, 47])
    >>> round(found.cv_pct, 2), round(found.christiansen_pct, 2), round(found.max_to_min, 3)
    (27.82, 77.3, 2.286)
    """
    within("readings", len(layers), 2, 100_000, "1")
    for layer in layers:
        within("layer", layer, 0, HEAVIEST, "1")
    values = np.asarray(layers, dtype=np.float64)
    mean = float(values.mean())
    above("mean", mean, 0, "1")
    deviation = float(np.abs(values - mean).mean()) / mean
    least, most = float(values.min()), float(values.max())
    return Uniformity(
        mean=mean,
        cv_pct=100 * float(values.std(ddof=1)) / mean,
        christiansen_pct=100 * (1 - deviation),
        max_to_min=most / least if least > 0 else None,
        deviation_index=deviation / 2,
    )
