"""Few machines served by few: combine harvesters that wait for carts, exact for exponential times.

Inside: the queue of a finite source with one or more servers. Outside: servers that drive away with what
they took (`hauling_chain`), times that are not exponential (`hauling_simulation`), costs.

A source works, calls, waits for a free server and is served; a server is busy with one source at a time.
"""

from dataclasses import dataclass

from service.domain.ranges import above, within
from service.errors import OutOfRange

MOST_SOURCES = 200


@dataclass(frozen=True, slots=True)
class FiniteSourceQueue:
    """Steady state of the queue."""

    none_down_share: float  # of the time in which every source works
    all_servers_busy_share: float  # of the time
    mean_waiting: float  # sources that wait for a server
    mean_down: float  # sources that wait or are served
    wait_h: float  # for a server, mean over calls
    down_h: float  # wait and service, mean over calls
    working_share: float  # of the sources' time


def finite_source_queue(sources: int, servers: int, working_h: float, service_h: float) -> FiniteSourceQueue:
    """Return the steady state of a queue in which few sources call for few servers.

    Parameters
    ----------
    sources : int
        Sources that call, 1 to 200. [1]
    servers : int
        Servers, 1 or more. [1]
    working_h : float
        Mean time from the end of a service to the next call, above 0. [h]
    service_h : float
        Mean time of a service, above 0. [h]

    Returns
    -------
    FiniteSourceQueue
        Shares of the time [1], mean numbers [1], and times per call [h].

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    p_n / p_(n-1) = (N - n + 1) r / min(n, c), with r the mean service over the mean working time. Both
    times exponential, which is pessimistic for tanks that fill evenly. Sums are taken with each term over
    the largest, so that many sources overflow nothing.

    References
    ----------
    Anderson, D. R., Sweeney, D. J., Williams, T. A. et al. An Introduction to Management Science, chapter
    on waiting lines, finite calling population, pp. 477-478.

    Examples
    --------
    Matches the printed example: six machines, a call in 20 h, two hours a service, one server.

    >>> queue = finite_source_queue(6, 1, 20.0, 2.0)
    >>> round(queue.none_down_share, 4), round(queue.mean_waiting, 4), round(queue.wait_h, 3)
    (0.4845, 0.3297, 1.279)
    """
    within("sources", sources, 1, MOST_SOURCES, "1")
    if servers < 1:
        raise OutOfRange("servers", servers, 1, None, "1")
    above("working_h", working_h, 0, "h")
    above("service_h", service_h, 0, "h")
    ratio = service_h / working_h
    terms = [1.0]
    for down in range(1, sources + 1):
        terms.append(terms[-1] * (sources - down + 1) * ratio / min(down, servers))
        # only their proportions count
        if terms[-1] > 1e200:
            terms = [term / terms[-1] for term in terms]
    whole = sum(terms)
    shares = [term / whole for term in terms]
    mean_down = sum(down * share for down, share in enumerate(shares))
    mean_waiting = sum((down - servers) * share for down, share in enumerate(shares) if down > servers)
    # Little: calls an hour times the time of each are the sources in that state
    calls_per_h = sum((sources - down) * share for down, share in enumerate(shares)) / working_h
    return FiniteSourceQueue(
        none_down_share=shares[0],
        all_servers_busy_share=sum(shares[servers:]),
        mean_waiting=mean_waiting,
        mean_down=mean_down,
        wait_h=mean_waiting / calls_per_h,
        down_h=mean_down / calls_per_h,
        working_share=calls_per_h * working_h / sources,
    )
