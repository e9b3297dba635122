"""Sums of records put together, taken apart and faded.

Inside: arithmetic on whole `CellStatistics`, and their digest. Outside: making them from records
(`refinement_statistics`), turning them to another base table (`refinement_coding`).
"""

import hashlib
import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from service.domain.ranges import within
from service.domain.refinement_statistics import collected, exact
from service.domain.refinement_types import Array, CellStatistics, StatisticKey
from service.errors import OutOfRange


def added(one: CellStatistics, other: CellStatistics) -> CellStatistics:
    """Sums over the records of both.

    Parameters
    ----------
    one, other : CellStatistics
        Sums over different records, of one layout and coding.

    Returns
    -------
    CellStatistics
        Their sums.

    Raises
    ------
    OutOfRange
        If the layouts differ or a sum grows beyond what is exact.

    References
    ----------
    Definition.

    Examples
    --------
    >>> from service.domain.refinement_statistics import no_statistics
    >>> from service.domain.refinement_types import Layout
    >>> nothing = no_statistics(Layout(("drum",)))
    >>> added(nothing, nothing).keys
    ()
    """
    return _combined(one, other, np.add)


def taken_off(whole: CellStatistics, part: CellStatistics) -> CellStatistics:
    """Sums over the records of the whole that are not of the part, exactly as if they had never been.

    Parameters
    ----------
    whole : CellStatistics
        Sums over all records.
    part : CellStatistics
        Sums over some of them, whole sessions.

    Returns
    -------
    CellStatistics
        The rest; rows in which no session is left are gone.

    Raises
    ------
    OutOfRange
        If the layouts differ.

    References
    ----------
    Definition.

    Examples
    --------
    >>> from service.domain.refinement_statistics import no_statistics
    >>> from service.domain.refinement_types import Layout
    >>> nothing = no_statistics(Layout(("drum",)))
    >>> taken_off(nothing, nothing).keys
    ()
    """
    rest = _combined(whole, part, np.subtract)
    return _rows(rest, rest.sessions > 0)


def without_contributor(statistics: CellStatistics, contributor: str) -> CellStatistics:
    """Sums over the records of all others.

    Parameters
    ----------
    statistics : CellStatistics
        Sums over all records.
    contributor : str
        Who is left out.

    Returns
    -------
    CellStatistics
        The rest.

    References
    ----------
    Definition.

    Examples
    --------
    >>> from service.domain.refinement_statistics import no_statistics
    >>> from service.domain.refinement_types import Layout
    >>> without_contributor(no_statistics(Layout(("drum",))), "a").keys
    ()
    """
    return _rows(statistics, np.array([key.contributor != contributor for key in statistics.keys], dtype=bool))


def faded(statistics: CellStatistics, season: int, half_life_seasons: float) -> CellStatistics:
    """Sums of all seasons as one, older ones with less weight.

    Parameters
    ----------
    statistics : CellStatistics
        Sums by season, none after `season`.
    season : int
        The season in which they are read.
    half_life_seasons : float
        Seasons after which a record counts half, > 0; infinite for no fading. [1]

    Returns
    -------
    CellStatistics
        One row for each contributor, machine, cell and outcome, of this season.

    Raises
    ------
    OutOfRange
        If the half-life is not above 0 or a row is of a later season.

    Notes
    -----
    Sums of a season a years ago are multiplied by 2^(-a / half-life).

    References
    ----------
    Ibrahim, J. G., Chen, M.-H. (2000). Power prior distributions for regression models. Statistical Science
    15, 46-60. Recalled.

    Examples
    --------
    >>> from service.domain.refinement_statistics import no_statistics
    >>> from service.domain.refinement_types import Layout
    >>> faded(no_statistics(Layout(("drum",))), 2026, 3.0).keys
    ()
    """
    if not half_life_seasons > 0:
        raise OutOfRange("half_life_seasons", half_life_seasons, 0, None, "1", reason="not_above")
    rows: dict[StatisticKey, Array] = {}
    for key, sums in zip(statistics.keys, statistics.sums, strict=True):
        within("season", season - key.season, 0, math.inf, "1")
        now = key._replace(season=season)
        share = 2.0 ** (-(season - key.season) / half_life_seasons)
        rows[now] = rows[now] + share * sums if now in rows else share * sums
    return collected(statistics.layout, list(rows.items()))


def digest(statistics: CellStatistics) -> str:
    """Fingerprint of sums, by which a draft says what it was made from.

    Parameters
    ----------
    statistics : CellStatistics
        The sums.

    Returns
    -------
    str
        SHA-256 over layout, keys and sums.

    References
    ----------
    National Institute of Standards and Technology, FIPS 180-4 (2015), Secure Hash Standard.

    Examples
    --------
    >>> from service.domain.refinement_statistics import no_statistics
    >>> from service.domain.refinement_types import Layout
    >>> digest(no_statistics(Layout(("drum",))))[:18]
    'sha256:9e190b70d88'
    """
    text = repr((statistics.layout.settings, statistics.layout.conditions, [tuple(key) for key in statistics.keys]))
    # minus zero and zero are one number and must have one fingerprint
    content = text.encode() + (statistics.sums + 0.0).astype("<f8").tobytes()
    return "sha256:" + hashlib.sha256(content).hexdigest()


def _combined(one: CellStatistics, other: CellStatistics, how: Callable[[Array, Array], Array]) -> CellStatistics:
    if one.layout != other.layout:
        raise OutOfRange("layout", str(other.layout), reason="layout")
    rows = dict(zip(one.keys, one.sums, strict=True))
    for key, sums in zip(other.keys, other.sums, strict=True):
        rows[key] = how(rows.get(key, np.zeros(one.layout.width)), sums)
    return exact(collected(one.layout, list(rows.items())))


def _rows(statistics: CellStatistics, kept: np.ndarray[tuple[int, ...], np.dtype[np.bool_]]) -> CellStatistics:
    keys = tuple(key for key, keep in zip(statistics.keys, kept, strict=True) if keep)
    return replace(statistics, keys=keys, sums=statistics.sums[kept])
