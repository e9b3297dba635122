"""Refusal of numbers outside their range: the one place where the formulas compare with limits.

Inside: the two comparisons every formula needs, both of which refuse NaN and infinity. Outside:
what the limits are; each formula states its own.
"""

import math

from service.errors import OutOfRange

INF = math.inf


def within(field: str, value: float, low: float, high: float, unit: str) -> None:
    """Refuse a value that is not finite or not between two limits, both allowed.

    Parameters
    ----------
    field : str
        Name of the argument that is checked.
    value : float
        The argument. [unit]
    low, high : float
        Lowest and highest allowed value; infinity means no limit. [unit]
    unit : str
        UCUM code for the message.

    Raises
    ------
    OutOfRange
        If the value is not finite or lies outside the limits.

    References
    ----------
    None; a comparison.

    Examples
    --------
    >>> within("moisture_pct", 14.5, 0, 60, "%")
    """
    if not (math.isfinite(value) and low <= value <= high):
        raise OutOfRange(field, value, _limit(low), _limit(high), unit)


def above(field: str, value: float, limit: float, unit: str) -> None:
    """Refuse a value that is not finite or not above a limit; the limit itself is refused.

    Parameters
    ----------
    field : str
        Name of the argument that is checked.
    value : float
        The argument. [unit]
    limit : float
        The value must be greater than this. [unit]
    unit : str
        UCUM code for the message.

    Raises
    ------
    OutOfRange
        If the value is not finite or not above the limit; the reason is `not_above`.

    References
    ----------
    None; a comparison.

    Examples
    --------
    >>> above("width_m", 9.0, 0, "m")
    """
    if not (math.isfinite(value) and value > limit):
        raise OutOfRange(field, value, limit, None, unit, reason="not_above")


def _limit(value: float) -> float | None:
    return value if math.isfinite(value) else None
