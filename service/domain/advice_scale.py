"""Amounts of what is wrong on one scale: 1 is the limit of what is tolerable.

Inside: a grade told by a person, and a measured percentage, as log amounts. Outside: what is
tolerable (the knowledge table), what follows from an amount (`advice_model`).
"""

import math

from service.domain.ranges import above, within

_AT_ONE, _RATIO = 0.8, 1.6
_ABSENT = -2.0  # grades below 1; absent stands for everything below, so lower than one grade less
_FLOOR = 0.02  # share of the tolerable that no field measurement tells from nothing


def severity_log_amount(severity: float) -> float:
    """Log amount that a grade stands for.

    Parameters
    ----------
    severity : float
        0 absent, 1 seen but acceptable, 2 more than acceptable, 5 unbearable; 0 <= x <= 5. [1]

    Returns
    -------
    float
        Logarithm of the amount relative to what is tolerable. [1]

    Raises
    ------
    OutOfRange
        If the grade lies outside its range.

    Notes
    -----
    Amount = 0.8 x 1.6^(severity - 1): each grade is 60 % more, the limit lies between 1 and 2.
    Absent stands for everything that is not seen and counts two grades below 1.

    References
    ----------
    Our scale; grades of equal ratio, as in graded counts.

    Examples
    --------
    >>> round(severity_log_amount(1.0), 3)
    -0.223
    """
    within("severity", severity, 0, 5, "1")
    grade = severity - 1 if severity > 0 else _ABSENT
    return math.log(_AT_ONE) + grade * math.log(_RATIO)


def measured_log_amount(measured_pct: float, tolerable_pct: float) -> float:
    """Log amount of a measured percentage.

    Parameters
    ----------
    measured_pct : float
        What was measured, 0 <= x <= 100. [%]
    tolerable_pct : float
        What is tolerable, > 0. [%]

    Returns
    -------
    float
        Logarithm of their ratio, with a fiftieth added so that nothing found stays finite. [1]

    Raises
    ------
    OutOfRange
        If a percentage lies outside its range.

    References
    ----------
    Definition; the fiftieth is ours.

    Examples
    --------
    >>> round(measured_log_amount(1.98, 2.0), 3)
    0.01
    """
    within("measured_pct", measured_pct, 0, 100, "%")
    above("tolerable_pct", tolerable_pct, 0, "%")
    return math.log(measured_pct / tolerable_pct + _FLOOR)
