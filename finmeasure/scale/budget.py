"""Sources of a scale's uncertainty, put together."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from finmeasure.scale.calibration import BudgetLine, Scale

UNCERTAIN_FROM = 0.01  # a scale worse than this is flagged
WITHHELD_FROM = 0.05  # no lengths from a scale worse than this


def total(lines: Iterable[BudgetLine]) -> float:
    """Root sum of squares of independent relative uncertainties (JCGM 100:2008, 5.1.2)."""
    return math.sqrt(sum(line.u_rel**2 for line in lines))


def with_lines(scale: Scale, lines: Iterable[BudgetLine], *, factor: float = 1.0) -> Scale:
    """Add sources of uncertainty to a scale, and multiply its lengths by a factor.

    Parameters
    ----------
    scale : Scale
        The scale so far.
    lines : iterable of BudgetLine
        Further sources, independent of those it has.
    factor : float
        What lengths in mm are multiplied by.
    """
    budget = scale.budget + tuple(lines)
    return replace(
        scale,
        pixel_to_mm=np.diag([factor, factor, 1.0]) @ scale.pixel_to_mm,
        u_rel=total(budget),
        budget=budget,
    )


def with_flags(scale: Scale, *flags: str) -> Scale:
    """Add flags, each once."""
    return replace(scale, flags=tuple(dict.fromkeys(scale.flags + flags)))


def shares(scale: Scale) -> tuple[tuple[BudgetLine, float], ...]:
    """Give every source of a scale's uncertainty with its share of the variance, largest first.

    Parameters
    ----------
    scale : Scale
        Any.

    Returns
    -------
    tuple of tuple of BudgetLine and float
        The shares add up to 1 (JCGM 100:2008, 5.1.2: variances of independent sources add).

    Examples
    --------
    >>> from finmeasure.scale.bar import bar_scale
    >>> from finmeasure.scale.request import Bar
    >>> [(line.source, round(share, 2)) for line, share in shares(bar_scale(Bar(0, 0, 100, 0, 10)))]
    [('tilt', 0.67), ('click', 0.33), ('reference', 0.0)]
    """
    whole = sum(line.u_rel**2 for line in scale.budget) or 1.0
    found = [(line, line.u_rel**2 / whole) for line in scale.budget]
    return tuple(sorted(found, key=lambda one: -one[1]))
