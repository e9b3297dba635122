"""Combine harvesters and haulers that drive away with each tank: exact for exponential times.

Inside: the Markov chain of combines that fill, wait and load, and of haulers that load and are away.
Outside: haulers that take several tanks, mixed sizes, a queue at the store, times that vary less
(`hauling_simulation`).

With no time away the chain is the queue of `finite_source_queue`.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.domain.finite_source_queue import finite_source_queue
from service.domain.ranges import INF, above, within

MOST_COMBINES = 20
MOST_HAULERS = 40


@dataclass(frozen=True, slots=True)
class HaulingChain:
    """Steady state of the chain."""

    filling_share: float  # of the combines' time: cutting between two unloadings
    loading_share: float  # of the combines' time: a hauler alongside
    waiting_share: float  # of the combines' time: tank full, no hauler
    wait_h: float  # per tank
    tanks_per_h: float  # of all combines together
    hauler_idle_share: float  # of the haulers' time, waiting for a full tank


def hauling_chain(combines: int, haulers: int, fill_h: float, load_h: float, away_h: float) -> HaulingChain:
    """Return the steady state of combines and haulers, one tank a trip.

    Parameters
    ----------
    combines : int
        Combine harvesters, 1 to 20. [1]
    haulers : int
        Haulers, 1 to 40. [1]
    fill_h : float
        Mean time of filling a tank, above 0. [h]
    load_h : float
        Mean time that combine and hauler stand or drive side by side, above 0. [h]
    away_h : float
        Mean time from leaving the combine to being ready for the next one, 0 or more. [h]

    Returns
    -------
    HaulingChain
        Shares of the time [1], wait per tank [h] and tanks per hour [1/h].

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    States (i, k): i combines wait or load, k haulers are away. Of the i combines min(i, c - k) load.
    i rises at (N - i) / fill; loading ends at min(i, c - k) / load, which takes one from i and adds one to
    k; k falls at k / away. All times exponential. The balance equations are solved as they stand.

    References
    ----------
    Balance equations of a Markov chain in continuous time; with away_h = 0 those of Anderson, D. R.,
    Sweeney, D. J., Williams, T. A. et al., An Introduction to Management Science, pp. 477-478.

    Examples
    --------
    One combine and one hauler, an hour each: fill and trip overlap, the longer of two exponential times
    of an hour is 1.5 h on average, so a cycle takes 2.5 h.

    >>> round(hauling_chain(1, 1, 1.0, 1.0, 1.0).filling_share, 6)
    0.4
    """
    within("combines", combines, 1, MOST_COMBINES, "1")
    within("haulers", haulers, 1, MOST_HAULERS, "1")
    above("fill_h", fill_h, 0, "h")
    above("load_h", load_h, 0, "h")
    within("away_h", away_h, 0, INF, "h")
    # a way this short changes no digit, but its rate would drown all others
    if away_h <= 1e-9 * min(fill_h, load_h):
        queue = finite_source_queue(combines, haulers, fill_h, load_h)
        filling, loading = combines - queue.mean_down, queue.mean_down - queue.mean_waiting
        return _chain(combines, haulers, filling, loading, queue.mean_waiting, 0.0, filling / fill_h)
    shares = _balance(combines, haulers, 1 / fill_h, 1 / load_h, 1 / away_h)
    busy, gone = np.meshgrid(np.arange(combines + 1), np.arange(haulers + 1), indexing="ij")
    loading_at = np.minimum(busy, haulers - gone)
    filling, loading = float(np.sum(shares * (combines - busy))), float(np.sum(shares * loading_at))
    away = float(np.sum(shares * gone))
    # the same by each of the three, from the largest number it is the least rounded
    _, tanks_per_h = max((filling, filling / fill_h), (loading, loading / load_h), (away, away / away_h))
    waiting = float(np.sum(shares * (busy - loading_at)))
    return _chain(combines, haulers, filling, loading, waiting, away, tanks_per_h)


def haulers_needed(cycle_min: float, load_min: float) -> int:
    """Haulers without which a steady flow of grain would pile up.

    Parameters
    ----------
    cycle_min : float
        Time of a hauler from one load to the next, loading included, above 0. [min]
    load_min : float
        Time in which the combines fill one hauler, above 0. [min]

    Returns
    -------
    int
        Least number of haulers. [1]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    The whole number not below cycle / load. A bound for times that never vary; real ones do.

    References
    ----------
    Flow balance.

    Examples
    --------
    A load of 24 t at 43.2 t/h fills in 33.3 min, a round takes 73 min:

    >>> haulers_needed(73, 24 / 43.2 * 60)
    3
    """
    above("cycle_min", cycle_min, 0, "min")
    above("load_min", load_min, 0, "min")
    # forgives the binary form of a decimal: 30 over 10 is three, not four
    exact = cycle_min / load_min
    whole = round(exact)
    return max(1, whole if abs(exact - whole) < 1e-9 * exact else int(exact) + 1)


def _balance(combines: int, haulers: int, fill: float, load: float, back: float) -> NDArray[np.float64]:
    """Solve the balance equations for the share of the time in each state."""
    width = haulers + 1
    states = (combines + 1) * width
    flow = np.zeros((states, states))
    for busy in range(combines + 1):
        for gone in range(width):
            here = busy * width + gone
            if busy < combines:
                flow[here, here + width] = (combines - busy) * fill
            loading = min(busy, haulers - gone)
            if loading:
                flow[here, here - width + 1] = loading * load
            if gone:
                flow[here, here - 1] = gone * back
    np.fill_diagonal(flow, -flow.sum(axis=1))
    equations = flow.T
    # one balance follows from the others; the shares add up to one instead
    equations[-1, :] = 1.0
    wanted = np.zeros(states)
    wanted[-1] = 1.0
    # at the corners of the state space shares are far below the rounding of the rest
    shares: NDArray[np.float64] = np.clip(np.linalg.solve(equations, wanted), 0.0, 1.0)
    return shares.reshape(combines + 1, width)


def _chain(
    combines: int, haulers: int, filling: float, loading: float, waiting: float, away: float, tanks_per_h: float
) -> HaulingChain:
    return HaulingChain(
        filling_share=filling / combines,
        loading_share=loading / combines,
        waiting_share=waiting / combines,
        wait_h=waiting / tanks_per_h,
        tanks_per_h=tanks_per_h,
        hauler_idle_share=max(0.0, 1 - (loading + away) / haulers),
    )
