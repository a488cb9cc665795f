"""Size grade and fin condition of a box: shares with intervals."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import stats
from statsmodels.stats.proportion import proportion_confint


@dataclass(frozen=True, slots=True)
class Share:
    """A share of fish with its 95 % interval (Wilson)."""

    count: int
    of: int
    low: float
    high: float

    @property
    def value(self) -> float:
        """The share itself."""
        return self.count / self.of

    def __str__(self) -> str:
        """Give count and share in words for a report."""
        limits = f"{100 * self.low:.0f} to {100 * self.high:.0f} %"
        return f"{self.count} of {self.of} ({limits})"


def share_of(count: int, of: int) -> Share:
    """Share with its interval.

    Raises
    ------
    ValueError
        If no fish were counted, or more than there are.

    References
    ----------
    Wilson 1927, J. Am. Stat. Assoc. 22:209-212.
    """
    if not 0 <= count <= of or of == 0:
        message = f"{count} of {of} fish were given; the count must lie between 0 and the total."
        raise ValueError(message)
    low, high = proportion_confint(count, of, method="wilson")
    return Share(count, of, float(low), float(high))


@dataclass(frozen=True, slots=True)
class SizeGrade:
    """Fish against the grade that was paid for.

    Parameters
    ----------
    under : Share
        Fish whose length lies under the grade.
    surely_under : int
        Fish that lie under it by more than 1.645 standard uncertainties.
    """

    under: Share
    surely_under: int


def size_grade(lengths_mm: ArrayLike, us_mm: ArrayLike, grade_from_mm: float) -> SizeGrade:
    """Count fish under a paid grade.

    Parameters
    ----------
    lengths_mm, us_mm : array_like of shape (N,)
        Length and standard uncertainty of each fish.
    grade_from_mm : float
        Lower end of the grade.
    """
    length, u = np.asarray(lengths_mm, float), np.asarray(us_mm, float)
    sure = length + float(stats.norm.ppf(0.95)) * u < grade_from_mm
    return SizeGrade(share_of(int((length < grade_from_mm).sum()), length.size), int(sure.sum()))


def condition_shares(states: Sequence[str]) -> dict[str, Share]:
    """Share of fins in each state (whole, notched, split, clamped), the commonest first."""
    counts = {state: states.count(state) for state in dict.fromkeys(states)}
    ranked = sorted(counts, key=lambda state: -counts[state])
    return {state: share_of(counts[state], len(states)) for state in ranked}


def fin_state(values: dict[str, float | None], spread: str) -> str:
    """State of one fin: clamped, notched, split, whole or cannot tell.

    Parameters
    ----------
    values : dict
        ``notch_count`` and ``split_count``; None where they were not measured.
    spread : str
        How the fin is held; empty where its edge was not traced.

    Examples
    --------
    >>> fin_state({"notch_count": 1.0, "split_count": 0.0}, "spread")
    'notched'
    """
    if spread == "clamped":
        return "clamped"
    if values.get("notch_count") is None:
        return "cannot tell"
    if values["notch_count"]:
        return "notched"
    return "split" if values.get("split_count") else "whole"
