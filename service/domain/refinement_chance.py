"""Chance that is the same on every machine and for ever: normal draws and shuffles from a seed.

Inside: both, from raw bits. Outside: what they are used for. The bits of a named generator never change,
what a library makes of them may; so that is done here.
"""

import hashlib
from typing import Final

import numpy as np
from scipy.special import ndtri

from service.domain.ranges import INF, within
from service.domain.refinement_types import Array, Places

_BITS: Final = 53  # of a double


def normal_draws(seed: int, name: str, count: int) -> Array:
    """Draws of a standard normal variable.

    Parameters
    ----------
    seed : int
        Seed, >= 0.
    name : str
        What they are for; another name has other draws.
    count : int
        How many, >= 0.

    Returns
    -------
    ndarray, shape (count,)
        The draws. [1]

    Raises
    ------
    OutOfRange
        If the seed or the count is negative.

    Notes
    -----
    Inverse of the distribution function at (k + 1/2) / 2^53, k the upper 53 bits of each raw number of
    the generator PCG64, seeded with SHA-256 of seed and name.

    References
    ----------
    O'Neill, M. E. (2014). PCG: a family of simple fast space-efficient statistically good algorithms for
    random number generation. Harvey Mudd College, HMC-CS-2014-0905.

    Examples
    --------
    >>> bool(abs(normal_draws(1, "example", 40_000).mean()) < 0.02)
    True
    """
    found: Array = ndtri(_uniform(seed, name, count))
    return found


def shuffled(seed: int, name: str, count: int) -> Places:
    """Numbers from 0 in random order.

    Parameters
    ----------
    seed : int
        Seed, >= 0.
    name : str
        What they are for.
    count : int
        How many, >= 0.

    Returns
    -------
    ndarray, shape (count,)
        0 to count - 1, each once. [1]

    Raises
    ------
    OutOfRange
        If the seed or the count is negative.

    Notes
    -----
    The order of as many uniform draws.

    References
    ----------
    As `normal_draws`.

    Examples
    --------
    >>> sorted(shuffled(1, "example", 4).tolist())
    [0, 1, 2, 3]
    """
    return np.argsort(_uniform(seed, name, count), kind="stable")


def _uniform(seed: int, name: str, count: int) -> Array:
    within("seed", seed, 0, INF, "1")
    within("count", count, 0, INF, "1")
    words = np.frombuffer(hashlib.sha256(f"{seed}/{name}".encode()).digest(), dtype="<u4")
    raw = np.random.PCG64(np.random.SeedSequence(words.tolist())).random_raw(count)
    return ((raw >> np.uint64(64 - _BITS)).astype(np.float64) + 0.5) * 2.0**-_BITS
