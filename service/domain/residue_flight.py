"""Flight of straw and chaff from the spreader to the ground, in crosswind and on a side slope.

Inside: the path of a piece with quadratic drag in three dimensions, where it lands, the reach that a
measured still-air pattern shows and the piece that has it, how far wind and slope move each place of the
pattern. Outside: what becomes of the layer (`spread_change.py`), figures of straw and chaff (the
knowledge table).

A dense stream carries air along and throws further than a lone piece does. The lone piece is therefore
only where the search starts: its drag is calibrated on the measured pattern.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.integrate import solve_ivp

from service.domain.aerodynamics import GRAVITY_M_S2
from service.domain.ranges import above, within
from service.errors import Contradiction, OutOfRange

Floats = NDArray[np.float64]
Pairs = Callable[[list[float]], tuple[Sequence[float], Sequence[float]]]
STEEPEST_DEG: Final = 30.0
WIND_MAX_M_S: Final = 60.0
SPEED_MAX_M_S: Final = 120.0
ANGLES_DEG: Final = tuple(float(angle) for angle in range(-90, 91, 15))
# steps short enough that a cubic between two of them is exact to a millimetre
_STEP_S: Final = 0.05
_SEARCH: Final = 24


@dataclass(frozen=True, slots=True)
class Stream:
    """How a material leaves the machine and falls: what drag it shows, how fast and from how high it starts."""

    fall_speed_m_s: float
    discharge_speed_m_s: float
    height_m: float


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


def still_path_m(fall_speed_m_s: float, discharge_speed_m_s: float, seconds: float) -> float:
    """Way of a piece through still air without gravity.

    Parameters
    ----------
    fall_speed_m_s : float
        Terminal velocity, above 0. [m/s]
    discharge_speed_m_s : float
        Speed at the start, 0 or more. [m/s]
    seconds : float
        Time since the start, 0 or more. [s]

    Returns
    -------
    float
        Way. [m]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    x = l ln(1 + v0 t / l), l = vt^2 / g.

    References
    ----------
    Closed solution of dv/dt = -v^2 / l.

    Examples
    --------
    >>> round(still_path_m(3.35, 25.0, 0.5), 3)
    2.836
    """
    above("fall_speed_m_s", fall_speed_m_s, 0, "m/s")
    within("discharge_speed_m_s", discharge_speed_m_s, 0, SPEED_MAX_M_S, "m/s")
    within("seconds", seconds, 0, 1e6, "s")
    length = fall_speed_m_s**2 / GRAVITY_M_S2
    return length * math.log1p(discharge_speed_m_s * seconds / length)


def landing_m(
    fall_speed_m_s: float,
    discharge_speed_m_s: float,
    height_m: float,
    *,
    angle_deg: float = 90.0,
    crosswind_m_s: float = 0.0,
    slope_deg: float = 0.0,
) -> float:
    """Place across the travel at which a piece lands.

    Parameters
    ----------
    fall_speed_m_s : float
        Terminal velocity, above 0. [m/s]
    discharge_speed_m_s : float
        Speed at which it leaves the machine, level, above 0 to 120. [m/s]
    height_m : float
        Height of the discharge, above 0. [m]
    angle_deg : float
        Direction from straight back, -90 (left) to 90 (right). [deg]
    crosswind_m_s : float
        Wind across the travel, -60 to 60; to the right is positive. [m/s]
    slope_deg : float
        Slope across, -30 to 30; falling to the right is positive. [deg]

    Returns
    -------
    float
        Distance to the right of the discharge, along the ground. [m]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    dv/dt = -(g / vt^2) |v - w| (v - w) + g. On a slope the machine leans with it: gravity has a part
    g sin a to the low side, and the discharge is level with the machine.

    References
    ----------
    Quadratic drag of a body at its terminal velocity; solved with an embedded Runge-Kutta method.

    Examples
    --------
    >>> round(landing_m(3.35, 25.0, 1.5), 2), round(landing_m(3.35, 25.0, 1.5, crosswind_m_s=3.0), 2)
    (3.17, 5.39)
    """
    stream = Stream(fall_speed_m_s, discharge_speed_m_s, height_m)
    return landings_m(stream, [angle_deg], [crosswind_m_s], slope_deg)[0][0]


def landings_m(
    stream: Stream, angles_deg: Sequence[float], crosswinds_m_s: Sequence[float], slope_deg: float
) -> tuple[tuple[float, ...], ...]:
    """Places at which pieces of many directions land in many winds.

    Parameters
    ----------
    stream : Stream
        What leaves the machine.
    angles_deg : sequence of float
        Directions from straight back, -90 (left) to 90 (right). [deg]
    crosswinds_m_s : sequence of float
        Winds across the travel, -60 to 60; to the right is positive. [m/s]
    slope_deg : float
        Slope across, -30 to 30; falling to the right is positive. [deg]

    Returns
    -------
    tuple of tuple of float
        For each wind the landings of all directions. [m]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    As `landing_m`, all pieces in one integration.

    References
    ----------
    Quadratic drag of a body at its terminal velocity.

    Examples
    --------
    >>> left, right = landings_m(Stream(3.35, 25.0, 1.5), [-90.0, 90.0], [0.0], 0.0)[0]
    >>> round(left + right, 9)
    0.0
    """
    _check(stream)
    for angle in angles_deg:
        within("angle_deg", angle, -90, 90, "deg")
    for wind in crosswinds_m_s:
        within("crosswind_m_s", wind, -WIND_MAX_M_S, WIND_MAX_M_S, "m/s")
    within("slope_deg", slope_deg, -STEEPEST_DEG, STEEPEST_DEG, "deg")
    within("pieces", len(angles_deg) * len(crosswinds_m_s), 1, 10_000, "1")
    angles = np.radians(np.tile(np.asarray(angles_deg, dtype=np.float64), len(crosswinds_m_s)))
    winds = np.repeat(np.asarray(crosswinds_m_s, dtype=np.float64), len(angles_deg))
    falls = np.full_like(winds, stream.fall_speed_m_s)
    starts = np.full_like(winds, stream.discharge_speed_m_s)
    found = _landed(falls, starts, angles, winds, stream.height_m, math.radians(slope_deg))
    rows = found.reshape(len(crosswinds_m_s), len(angles_deg))
    return tuple(tuple(float(one) for one in row) for row in rows)


def calibrated(
    reach_m: float,
    lone_fall_speed_m_s: float,
    discharge_speed_m_s: float,
    height_m: float,
    most_gain: float,
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
        Highest effective terminal velocity that the stream may show, over that of a lone piece, 1 to 5. [1]

    Returns
    -------
    Calibrated
        The stream, and how it was adapted.

    Raises
    ------
    OutOfRange
        If an input lies outside its range, or no speed up to 120 m/s reaches so far.

    Notes
    -----
    A stream that reaches further than a lone piece shows less drag: its effective terminal velocity is
    raised up to `most_gain`, and only then the discharge speed. One that reaches less far left more
    slowly: the discharge speed is lowered.

    References
    ----------
    One parameter fitted to one measurement.

    Examples
    --------
    >>> found = calibrated(5.13, 3.35, 25.0, 1.5, 2.5)
    >>> found.adapted, round(found.stream.fall_speed_m_s, 1)
    ('drag', 4.9)
    """
    above("reach_m", reach_m, 0, "m")
    within("reach_m", reach_m, 0, 40, "m")
    above("lone_fall_speed_m_s", lone_fall_speed_m_s, 0, "m/s")
    within("lone_fall_speed_m_s", lone_fall_speed_m_s, 0, 15, "m/s")
    within("most_gain", most_gain, 1, 5, "1")
    lone = Stream(lone_fall_speed_m_s, discharge_speed_m_s, height_m)
    _check(lone)
    dense = lone_fall_speed_m_s * most_gain
    alone, furthest = (float(one) for one in _reach([lone_fall_speed_m_s, dense], [discharge_speed_m_s], height_m))
    if alone <= reach_m <= furthest:
        fall = _fitted(reach_m, lone.fall_speed_m_s, dense, lambda falls: (falls, [discharge_speed_m_s]), height_m)
        return Calibrated(Stream(fall, discharge_speed_m_s, height_m), reach_m, alone, "drag")
    if reach_m < alone:
        speed = _fitted(reach_m, 1e-3, discharge_speed_m_s, lambda speeds: ([lone_fall_speed_m_s], speeds), height_m)
        return Calibrated(Stream(lone_fall_speed_m_s, speed, height_m), reach_m, alone, "slower")
    speed = _fitted(reach_m, discharge_speed_m_s, SPEED_MAX_M_S, lambda speeds: ([dense], speeds), height_m)
    return Calibrated(Stream(dense, speed, height_m), reach_m, alone, "faster")


def shifts_m(
    landed_still_m: Sequence[float], landed_m: Sequence[float], positions_m: Sequence[float]
) -> tuple[float, ...]:
    """How far wind and slope move each place of a still-air pattern.

    Parameters
    ----------
    landed_still_m : sequence of float
        Landings of some directions in still air, rising. [m]
    landed_m : sequence of float, as many
        Landings of the same directions in wind and on the slope. [m]
    positions_m : sequence of float
        Places of the still-air pattern. [m]

    Returns
    -------
    tuple of float
        Shift of each place; right is positive. Beyond the outermost direction that of the outermost. [m]

    Raises
    ------
    Contradiction
        If there are not as many landings, or those in still air do not rise.

    Notes
    -----
    What landed at x in still air left in the direction that lands there, and is moved as it is.

    References
    ----------
    Linear interpolation.

    Examples
    --------
    >>> shifts_m([-2.0, 0.0, 2.0], [-1.0, 0.6, 3.0], [-5.0, 1.0])
    (1.0, 0.8)
    """
    still, now = np.asarray(landed_still_m, dtype=np.float64), np.asarray(landed_m, dtype=np.float64)
    if len(still) != len(now):
        raise Contradiction(("landed_still_m", "landed_m"), "lengths_differ")
    if bool((np.diff(still) <= 0).any()):
        raise Contradiction(("landed_still_m",), "not_rising")
    return tuple(np.interp(positions_m, still, now - still).tolist())


def _check(stream: Stream) -> None:
    above("fall_speed_m_s", stream.fall_speed_m_s, 0, "m/s")
    within("fall_speed_m_s", stream.fall_speed_m_s, 0, 75, "m/s")
    above("discharge_speed_m_s", stream.discharge_speed_m_s, 0, "m/s")
    within("discharge_speed_m_s", stream.discharge_speed_m_s, 0, SPEED_MAX_M_S, "m/s")
    above("height_m", stream.height_m, 0, "m")
    within("height_m", stream.height_m, 0, 10, "m")


def _reach(falls: Sequence[float], speeds: Sequence[float], height: float) -> Floats:
    """Reach in still air of every pair; a single fall speed or speed goes with all."""
    fall, speed = np.broadcast_arrays(np.asarray(falls, dtype=np.float64), np.asarray(speeds, dtype=np.float64))
    sideways = np.full(fall.shape, math.pi / 2)
    return _landed(fall.copy(), speed.copy(), sideways, np.zeros(fall.shape), height, 0.0)


def _fitted(reach: float, low: float, high: float, pairs: Pairs, height: float) -> float:
    """Argument between two ends at which the reach, which rises with it, is the wanted one."""
    for _ in range(2):  # each round narrows the bracket twentyfold
        grid = np.geomspace(low, high, _SEARCH)
        reaches = _reach(*pairs(list(grid)), height)
        if reaches[-1] < reach:
            raise OutOfRange("reach_m", reach, None, float(reaches[-1]), "m", reason="beyond_any_throw")
        place = min(max(int(np.searchsorted(reaches, reach)), 1), _SEARCH - 1)
        low, high = float(grid[place - 1]), float(grid[place])
    return float(np.interp(reach, reaches, grid))


def _landed(falls: Floats, speeds: Floats, angles: Floats, winds: Floats, height: float, slope: float) -> Floats:
    count = len(falls)
    drag = GRAVITY_M_S2 / falls**2
    aside, down = GRAVITY_M_S2 * math.sin(slope), GRAVITY_M_S2 * math.cos(slope)

    def motion(_: float, state: Floats) -> Floats:
        x, y, z = state[3 * count :].reshape(3, count)
        relative = x - winds
        slowed = drag * np.sqrt(relative**2 + y**2 + z**2)
        return np.concatenate((x, y, z, aside - slowed * relative, -slowed * y, -slowed * z - down))

    def all_landed(_: float, state: Floats) -> float:
        return float(state[2 * count : 3 * count].max())

    all_landed.terminal = True  # type: ignore[attr-defined]
    none = np.zeros(count)
    start = np.concatenate((none, none, none + height, speeds * np.sin(angles), speeds * np.cos(angles), none))
    longest = 600 * (1 + height)  # a piece at a hundredth of a metre per second
    path = solve_ivp(motion, (0.0, longest), start, rtol=1e-6, atol=1e-8, max_step=_STEP_S, events=all_landed)
    x, _, z, x_speed, _, z_speed = path.y.reshape(6, count, -1)
    return _crossing(path.t, x, z, x_speed, z_speed)


def _crossing(times: Floats, x: Floats, z: Floats, x_speed: Floats, z_speed: Floats) -> Floats:
    """Where each piece comes to the ground: cubic through both ends of the step in which it does."""
    pieces = np.arange(len(z))
    after = np.argmax(z <= 0, axis=1)
    after = np.where(z[pieces, after] <= 0, after, z.shape[1] - 1)
    before = after - 1
    step = times[after] - times[before]

    def cubic(share: Floats, value: Floats, speed: Floats) -> Floats:
        s2, s3 = share**2, share**3
        found: Floats = (
            (2 * s3 - 3 * s2 + 1) * value[pieces, before]
            + (s3 - 2 * s2 + share) * step * speed[pieces, before]
            + (3 * s2 - 2 * s3) * value[pieces, after]
            + (s3 - s2) * step * speed[pieces, after]
        )
        return found

    low, high = np.zeros(len(z)), np.ones(len(z))
    for _ in range(40):
        middle = (low + high) / 2
        above_ground = cubic(middle, z, z_speed) > 0
        low, high = np.where(above_ground, middle, low), np.where(above_ground, high, middle)
    return cubic(high, x, x_speed)
