"""Where a field lies, no closer than about a kilometre.

Inside: rounding to a grid. Outside: whether a place is wanted at all, and what is done with it.
"""

import math
from dataclasses import dataclass
from typing import Final

from service.domain.ranges import within

STEP_DEG: Final = 0.01  # a hundredth of a degree of latitude is 1.11 km


@dataclass(frozen=True, slots=True)
class CoarsePlace:
    """Middle of a grid cell."""

    latitude_deg: float
    longitude_deg: float


def coarse_place(latitude_deg: float, longitude_deg: float) -> CoarsePlace:
    """Nearest point of a grid whose cells are about one kilometre wide at every latitude.

    Parameters
    ----------
    latitude_deg : float
        Latitude, north positive, -90 <= x <= 90. [deg]
    longitude_deg : float
        Longitude, east positive, -180 <= x <= 180. [deg]

    Returns
    -------
    CoarsePlace
        Latitude on whole hundredths of a degree, longitude on whole multiples of them, -90 <= x <= 90 and
        -180 <= x <= 180. [deg]

    Raises
    ------
    OutOfRange
        If an input lies outside its range.

    Notes
    -----
    Meridians draw together towards the poles: the step of longitude is round(1 / cos(latitude)) hundredths
    of a degree, so that a cell keeps about its width and a field at 60 degrees is hidden as well as one at 10.
    Every place of a cell gives the same point: nothing finer can be worked out from what is kept.

    References
    ----------
    None; our own grid. A degree of latitude is 60 nautical miles, that is about 111 km.

    Examples
    --------
    >>> coarse_place(52.4072, 10.8881)
    CoarsePlace(latitude_deg=52.41, longitude_deg=10.88)
    """
    within("latitude_deg", latitude_deg, -90, 90, "deg")
    within("longitude_deg", longitude_deg, -180, 180, "deg")
    latitude = _on_grid(latitude_deg, 1)
    longitude = _on_grid(longitude_deg, _steps(latitude))
    if abs(longitude) > 180:  # the last cell may reach over the 180th meridian
        longitude = round(longitude - math.copysign(360, longitude), 2)
    return CoarsePlace(latitude, longitude)


def _steps(latitude_deg: float) -> int:
    """Hundredths of a degree of longitude in a cell; at the poles all longitudes are one place."""
    most = round(180 / STEP_DEG)
    narrowing = math.cos(math.radians(latitude_deg))
    return most if narrowing * most < 1 else round(1 / narrowing)


def _on_grid(value_deg: float, steps: int) -> float:
    cell = STEP_DEG * steps
    # rounded again: a multiple of a hundredth is no exact binary number; and no negative zero
    return round(round(value_deg / cell) * cell, 2) + 0.0
