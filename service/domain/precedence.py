"""Order of things of which some must come before others.

Inside: the one order that keeps every precedence and decides the rest by rank, and finding a circle.
Outside: what the things are.
"""

import heapq
from collections.abc import Mapping, Sequence

from service.errors import Contradiction


def in_order(after: Mapping[str, Sequence[str]]) -> tuple[str, ...]:
    """Names so that each stands behind those it comes after.

    Parameters
    ----------
    after : Mapping
        For each name those that come before it. The order of the keys is the rank of the names; those that
        are no keys are not asked for and bind nobody.

    Returns
    -------
    tuple of str
        Every key once. Wherever several could be next, the first by rank is.

    Raises
    ------
    Contradiction
        If some wait for each other in a circle.

    Notes
    -----
    Kahn's algorithm with a heap: of all orders that keep the precedences, the lexicographically least by rank.

    References
    ----------
    Kahn, A. B. (1962). Topological sorting of large networks. Communications of the ACM 5, 558-562.

    Examples
    --------
    >>> in_order({"weigh": ["width", "speed"], "speed": [], "width": ["speed"]})
    ('speed', 'width', 'weigh')
    """
    names = list(after)
    rank = {name: place for place, name in enumerate(names)}
    missing = {name: len({before for before in after[name] if before in rank}) for name in names}
    free = [rank[name] for name in names if not missing[name]]
    heapq.heapify(free)
    found: list[str] = []
    while free:
        name = names[heapq.heappop(free)]
        found.append(name)
        for other in names:
            if name in after[other]:
                missing[other] -= 1
                if not missing[other]:
                    heapq.heappush(free, rank[other])
    if len(found) < len(names):
        raise Contradiction(circle(after), "waits_in_a_circle")
    return tuple(found)


def circle(after: Mapping[str, Sequence[str]]) -> tuple[str, ...]:
    """A circle of names each of which waits for the next, and the last for the first.

    Parameters
    ----------
    after : Mapping
        For each name those that come before it.

    Returns
    -------
    tuple of str
        The names of one circle, nothing where there is none. It begins with its first by rank.

    Notes
    -----
    Names that nothing keeps waiting are struck until none is left to strike; from any that remain, following
    one that it waits for must come round.

    References
    ----------
    Kahn, A. B. (1962). Topological sorting of large networks. Communications of the ACM 5, 558-562.

    Examples
    --------
    >>> circle({"a": ["b"], "b": ["c"], "c": ["b"]})
    ('b', 'c')
    """
    held = dict(after)
    while struck := [name for name, before in held.items() if not any(one in held for one in before)]:
        for name in struck:
            del held[name]
    if not held:
        return ()
    way = [next(iter(held))]
    while (following := next(one for one in held[way[-1]] if one in held)) not in way:
        way.append(following)
    round_trip = way[way.index(following) :]
    names = list(after)
    start = min(range(len(round_trip)), key=lambda place: names.index(round_trip[place]))
    return tuple(round_trip[start:] + round_trip[:start])
