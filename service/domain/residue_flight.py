"""Flight of straw and chaff from the spreader to the ground, in crosswind and on a side slope.

Inside: the path of a piece with quadratic drag in three dimensions, where it lands, how far wind and slope
move each place of a still-air pattern. Outside: which piece has the reach of a measured pattern
(`residue_reach.py`), what becomes of the layer (`spread_change.py`).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.integrate import solve_ivp

from service.domain.aerodynamics import GRAVITY_M_S2
from service.domain.ranges import above, within
from service.errors import Contradiction

Floats = NDArray[np.float64]
STEEPEST_DEG: Final = 30.0
WIND_MAX_M_S: Final = 60.0
SPEED_MAX_M_S: Final = 120.0
FALL_MAX_M_S: Final = 75.0
ANGLES_DEG: Final = tuple(float(angle) for angle in range(-90, 91, 15))
# steps short enough that a cubic between two of them is exact to a millimetre
_STEP_S: Final = 0.05


@dataclass(frozen=True, slots=True)
class Stream:
    """How a material leaves the machine and falls: what drag it shows, how fast and from how high it starts."""

    fall_speed_m_s: float
    discharge_speed_m_s: float
    height_m: float


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


def reaches_m(
    fall_speeds_m_s: Sequence[float], discharge_speeds_m_s: Sequence[float], height_m: float
) -> tuple[float, ...]:
    """How far pieces fly in still air.

    Parameters
    ----------
    fall_speeds_m_s : sequence of float
        Terminal velocities, above 0 to 75; a single one goes with all speeds. [m/s]
    discharge_speeds_m_s : sequence of float
        Speeds at the start, level, above 0 to 120; a single one goes with all terminal velocities. [m/s]
    height_m : float
        Height of the discharge, above 0 to 10. [m]

    Returns
    -------
    tuple of float
        Distance in the direction of the discharge. [m]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    References
    ----------
    Quadratic drag of a body at its terminal velocity.

    Examples
    --------
    >>> [round(one, 2) for one in reaches_m([3.35, 7.5], [25.0], 1.5)]
    [3.17, 7.81]
    """
    falls, speeds = np.broadcast_arrays(
        np.asarray(fall_speeds_m_s, dtype=np.float64), np.asarray(discharge_speeds_m_s, dtype=np.float64)
    )
    for fall, speed in zip(falls, speeds, strict=True):
        _check(Stream(float(fall), float(speed), height_m))
    sideways, calm = np.full(falls.shape, math.pi / 2), np.zeros(falls.shape)
    return tuple(_landed(falls.copy(), speeds.copy(), sideways, calm, height_m, 0.0).tolist())


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
    within("fall_speed_m_s", stream.fall_speed_m_s, 0, FALL_MAX_M_S, "m/s")
    above("discharge_speed_m_s", stream.discharge_speed_m_s, 0, "m/s")
    within("discharge_speed_m_s", stream.discharge_speed_m_s, 0, SPEED_MAX_M_S, "m/s")
    above("height_m", stream.height_m, 0, "m")
    within("height_m", stream.height_m, 0, 10, "m")


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
