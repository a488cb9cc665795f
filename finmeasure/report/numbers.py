"""Numbers as people read them: a value and its limits, rounded together."""

from __future__ import annotations

import math

COVERAGE_FACTOR = 1.96
"""Standard uncertainties to limits that hold in 95 of 100 cases (normal distribution)."""


def with_limits(value: float, u: float | None) -> str:
    """Write a value with its 95 % limits.

    The limits keep two significant digits if the first is 1 or 2, else one; the value keeps the
    same decimals (JCGM 100:2008, 7.2.6, allows at most two).

    Parameters
    ----------
    value, u : float
        Value and standard uncertainty in one unit; u may be None.

    Returns
    -------
    str
        Without the unit.

    Examples
    --------
    >>> with_limits(0.31234, 0.004)
    '0.312 ± 0.008'
    >>> with_limits(34.56, 0.41)
    '34.6 ± 0.8'
    >>> with_limits(3.0, None)
    '3'
    """
    if u is None or not math.isfinite(u):
        return f"{value:.4g}"
    limits = COVERAGE_FACTOR * u
    if limits <= 0:
        return f"{value:.4g} ± 0"
    exponent = math.floor(math.log10(limits))
    digits = 2 if limits < 3 * 10.0**exponent else 1
    decimals = max(digits - 1 - exponent, 0)
    return f"{value:.{decimals}f} ± {limits:.{decimals}f}"


UNITS = {"mm": "mm", "mm2": "mm²", "%": "%", "1": ""}
"""Units as shown; a ratio has none."""
