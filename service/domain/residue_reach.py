"""The stream of straw or chaff that reaches as far as trays found.

Inside: drag and discharge speed fitted to a measured reach, drag alone fitted at a speed that is known. Outside:
the flight (`residue_flight.py`), figures of lone pieces (the knowledge table).

A dense stream carries air along and throws further than a lone piece does. The lone piece is therefore
only where the search starts: its drag is calibrated on the measured pattern.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from service.domain.ranges import above, within
from service.domain.residue_flight import FALL_MAX_M_S, SPEED_MAX_M_S, Stream, reaches_m
from service.errors import OutOfRange

Pairs = Callable[[list[float]], tuple[Sequence[float], Sequence[float]]]
_SEARCH: Final = 24
LIGHTEST_M_S: Final = 0.2


@dataclass(frozen=True, slots=True)
class Calibrated:
    """The stream that reaches as far as was measured, and the reach of a lone piece at the assumed speed.

    `adapted` is `drag` where drag alone explains the reach, `slower` or `faster` where the discharge speed
    had to differ from the assumed one.
    """

    stream: Stream
    reach_m: float
    lone_reach_m: float
    adapted: str


def calibrated(
    reach_m: float,
    lone_fall_speed_m_s: float,
    discharge_speed_m_s: float,
    height_m: float,
    most_gain: float,
    fastest_m_s: float,
) -> Calibrated:
    """Stream whose reach in still air is the measured one.

    Parameters
    ----------
    reach_m : float
        Distance of throw that was measured, above 0 to 40. [m]
    lone_fall_speed_m_s : float
        Terminal velocity of a lone piece, above 0 to 15. [m/s]
    discharge_speed_m_s : float
        Assumed speed at which the material leaves the machine, above 0 to 120. [m/s]
    height_m : float
        Height of the discharge, above 0. [m]
    most_gain : float
        Effective terminal velocity that the stream may show before a higher speed is assumed, over that of
        a lone piece, 1 to 5. [1]
    fastest_m_s : float
        Highest speed that is assumed, the assumed one to 120. [m/s]

    Returns
    -------
    Calibrated
        The stream, and how it was adapted.

    Raises
    ------
    OutOfRange
        If an input lies outside its range, or nothing flies so far at the highest speed.

    Notes
    -----
    A stream that reaches further than a lone piece shows less drag: its effective terminal velocity is
    raised up to `most_gain`, then the discharge speed up to `fastest_m_s`, then again the former. One that
    reaches less far left more slowly: the discharge speed is lowered.

    References
    ----------
    One parameter fitted to one measurement.

    Examples
    --------
    >>> found = calibrated(5.13, 3.35, 25.0, 1.5, 2.5, 40.0)
    >>> found.adapted, round(found.stream.fall_speed_m_s, 1)
    ('drag', 4.9)
    """
    above("reach_m", reach_m, 0, "m")
    within("reach_m", reach_m, 0, 40, "m")
    above("lone_fall_speed_m_s", lone_fall_speed_m_s, 0, "m/s")
    within("lone_fall_speed_m_s", lone_fall_speed_m_s, 0, 15, "m/s")
    within("most_gain", most_gain, 1, 5, "1")
    within("fastest_m_s", fastest_m_s, discharge_speed_m_s, SPEED_MAX_M_S, "m/s")
    dense = lone_fall_speed_m_s * most_gain
    alone, furthest = reaches_m([lone_fall_speed_m_s, dense], [discharge_speed_m_s], height_m)
    if alone <= reach_m <= furthest:
        fall = _fitted(reach_m, lone_fall_speed_m_s, dense, lambda falls: (falls, [discharge_speed_m_s]), height_m)
        return Calibrated(Stream(fall, discharge_speed_m_s, height_m), reach_m, alone, "drag")
    if reach_m < alone:
        speed = _fitted(reach_m, 1e-3, discharge_speed_m_s, lambda speeds: ([lone_fall_speed_m_s], speeds), height_m)
        return Calibrated(Stream(lone_fall_speed_m_s, speed, height_m), reach_m, alone, "slower")
    if reach_m <= reaches_m([dense], [fastest_m_s], height_m)[0]:
        speed = _fitted(reach_m, discharge_speed_m_s, fastest_m_s, lambda speeds: ([dense], speeds), height_m)
        return Calibrated(Stream(dense, speed, height_m), reach_m, alone, "faster")
    fall = _fitted(reach_m, dense, FALL_MAX_M_S, lambda falls: (falls, [fastest_m_s]), height_m)
    return Calibrated(Stream(fall, fastest_m_s, height_m), reach_m, alone, "faster")


def drag_at(reach_m: float, discharge_speed_m_s: float, height_m: float) -> Stream:
    """Stream of a given discharge speed whose reach in still air is the measured one, whatever its drag.

    Parameters
    ----------
    reach_m : float
        Distance of throw that was measured, above 0 to 40. [m]
    discharge_speed_m_s : float
        Speed at which the material leaves the machine, above 0 to 120. [m/s]
    height_m : float
        Height of the discharge, above 0. [m]

    Returns
    -------
    Stream
        The stream; its terminal velocity is an effective one.

    Raises
    ------
    OutOfRange
        If an input lies outside its range, or nothing flies so far, or not so short, at this speed.

    References
    ----------
    One parameter fitted to one measurement.

    Examples
    --------
    >>> round(drag_at(2.601252, 15.0, 1.5).fall_speed_m_s, 2)
    3.35
    """
    above("reach_m", reach_m, 0, "m")
    within("reach_m", reach_m, 0, 40, "m")
    (least,) = reaches_m([LIGHTEST_M_S], [discharge_speed_m_s], height_m)
    if reach_m < least:
        raise OutOfRange("reach_m", reach_m, least, None, "m", reason="short_of_any_throw")
    fall = _fitted(reach_m, LIGHTEST_M_S, FALL_MAX_M_S, lambda falls: (falls, [discharge_speed_m_s]), height_m)
    return Stream(fall, discharge_speed_m_s, height_m)


def _fitted(reach: float, low: float, high: float, pairs: Pairs, height: float) -> float:
    """Argument between two ends at which the reach, which rises with it, is the wanted one."""
    for _ in range(2):  # each round narrows the bracket twentyfold
        grid = np.geomspace(low, high, _SEARCH)
        reaches = reaches_m(*pairs(list(grid)), height)
        if reaches[-1] < reach:
            raise OutOfRange("reach_m", reach, None, reaches[-1], "m", reason="beyond_any_throw")
        place = min(max(int(np.searchsorted(reaches, reach)), 1), _SEARCH - 1)
        low, high = float(grid[place - 1]), float(grid[place])
    return float(np.interp(reach, reaches, grid))
