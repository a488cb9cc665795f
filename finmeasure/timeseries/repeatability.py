"""How well the same thing is measured twice: spread, agreement, smallest visible change."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import stats

LIMIT_FACTOR = 1.96 * math.sqrt(2.0)


@dataclass(frozen=True, slots=True)
class Repeatability:
    """Repeatability of one measure under one condition (same person, or different people).

    Parameters
    ----------
    objects, readings : int
        Number of things measured and of readings in all.
    mean : float
        Grand mean, in the unit of the measure.
    sd : float
        Standard deviation of one reading (repeatability standard deviation, ISO 5725), which is
        also the technical error of measurement.
    reliability : float
        Share of the spread that is between objects: 1 − sd² / total variance.
    """

    objects: int
    readings: int
    mean: float
    sd: float
    reliability: float

    @property
    def technical_error_percent(self) -> float:
        """Technical error of measurement in percent of the mean."""
        return 100.0 * self.sd / self.mean

    @property
    def limit(self) -> float:
        """Repeatability limit r: two readings differ by less in 95 % of cases (ISO 5725-6)."""
        return LIMIT_FACTOR * self.sd

    @property
    def minimal_detectable_change(self) -> float:
        """MDC95 of one reading against one, the same figure as :attr:`limit` (1.96 √2 sd)."""
        return self.limit


def within_variance(groups: Mapping[Any, ArrayLike]) -> tuple[float, int]:
    """Pooled variance of repeated readings about the mean of their own object.

    Parameters
    ----------
    groups : mapping of object to array_like
        Readings per object; objects with one reading do not count.

    Returns
    -------
    variance : float
        In the square of the unit; NaN without repeats.
    degrees_of_freedom : int
        Readings minus objects, over objects with repeats.
    """
    repeated = [np.asarray(values, float) for values in groups.values()]
    repeated = [values for values in repeated if values.size > 1]
    freedom = sum(values.size - 1 for values in repeated)
    if not freedom:
        return math.nan, 0
    squares = sum(float(((values - values.mean()) ** 2).sum()) for values in repeated)
    return squares / freedom, freedom


def repeatability(groups: Mapping[Any, ArrayLike]) -> Repeatability:
    """Estimate repeatability from repeated readings of several objects.

    Parameters
    ----------
    groups : mapping of object to array_like
        Readings per object, all in one unit.

    Returns
    -------
    Repeatability
        The standard deviation is sqrt(Σ(ΣM² − (ΣM)²/K) / ΣN(K−1)).

    Raises
    ------
    ValueError
        If no object has two readings.

    References
    ----------
    ISO 5725-2:2019. Technical error of measurement: Goto & Mascie-Taylor 2007, J. Physiol.
    Anthropol. 26:253.

    Examples
    --------
    >>> round(repeatability({1: [1.0, 1.2], 2: [2.0, 1.9], 3: [3.0, 3.3]}).sd, 4)
    0.1528
    """
    variance, freedom = within_variance(groups)
    if not freedom:
        message = (
            f"{len(groups)} objects were given and none was measured twice. "
            "Mark or photograph at least one fish twice."
        )
        raise ValueError(message)
    repeated = [np.asarray(values, float) for values in groups.values() if np.size(values) > 1]
    every = np.concatenate(repeated)
    total = float(every.var(ddof=1))
    return Repeatability(
        objects=len(repeated),
        readings=every.size,
        mean=float(every.mean()),
        sd=math.sqrt(variance),
        reliability=1.0 - variance / total if total else math.nan,
    )


@dataclass(frozen=True, slots=True)
class Agreement:
    """One intraclass correlation with its 95 % interval."""

    name: str
    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class MeanSquares:
    """Two-way mean squares: between objects, within, between observers, and what is left."""

    between: float
    within: float
    observers: float
    error: float


def mean_squares(values: ArrayLike) -> MeanSquares:
    """Mean squares of a full table, shape (objects, observers).

    Raises
    ------
    ValueError
        If there are fewer than two objects or two observers, or a cell is empty.
    """
    table = np.asarray(values, float)
    if table.ndim != 2 or min(table.shape) < 2 or not np.isfinite(table).all():
        message = (
            f"A table of shape {table.shape} was given. At least 2 objects × 2 observers without "
            "gaps are needed: leave out fish that one observer did not mark."
        )
        raise ValueError(message)
    n, k = table.shape
    grand = table.mean()
    by_object = k * ((table.mean(axis=1) - grand) ** 2).sum()
    by_observer = n * ((table.mean(axis=0) - grand) ** 2).sum()
    total = ((table - grand) ** 2).sum()
    return MeanSquares(
        between=float(by_object / (n - 1)),
        within=float((total - by_object) / (n * (k - 1))),
        observers=float(by_observer / (k - 1)),
        error=float((total - by_object - by_observer) / ((n - 1) * (k - 1))),
    )


def intraclass_correlations(values: ArrayLike, level: float = 0.95) -> dict[str, Agreement]:
    """All six intraclass correlations with intervals.

    Parameters
    ----------
    values : array_like of shape (objects, observers)
        Full table.
    level : float
        Two-sided level of the intervals.

    Returns
    -------
    dict of str to Agreement
        Keys ``ICC(1,1)``, ``ICC(2,1)``, ``ICC(3,1)``, ``ICC(1,k)``, ``ICC(2,k)``, ``ICC(3,k)``.

    Raises
    ------
    ValueError
        See :func:`mean_squares`.

    References
    ----------
    Shrout & Fleiss 1979, Psychol. Bull. 86:420-428.
    """
    table = np.asarray(values, float)
    squares = mean_squares(table)
    n, k = table.shape
    one_way = _one_way(squares.between / squares.within, n, k, level=level, both=False)
    consistent = _one_way(squares.between / squares.error, n, k, level=level, both=True)
    absolute = _absolute(squares, n, k, level)
    return {
        "ICC(1,1)": Agreement("ICC(1,1)", *one_way),
        "ICC(2,1)": Agreement("ICC(2,1)", *absolute),
        "ICC(3,1)": Agreement("ICC(3,1)", *consistent),
        "ICC(1,k)": Agreement("ICC(1,k)", *(_of_mean(value, k) for value in one_way)),
        "ICC(2,k)": Agreement("ICC(2,k)", *(_of_mean(value, k) for value in absolute)),
        "ICC(3,k)": Agreement("ICC(3,k)", *(_of_mean(value, k) for value in consistent)),
    }


def _of_mean(single: float, k: int) -> float:
    """Step up from one observer to the mean of k (Spearman–Brown)."""
    return k * single / (1 + (k - 1) * single)


def _one_way(
    ratio: float, n: int, k: int, *, level: float, both: bool
) -> tuple[float, float, float]:
    """ICC and interval from an F ratio; `both` takes observers out of the error."""
    upper = (1 + level) / 2
    error_freedom = (n - 1) * (k - 1) if both else n * (k - 1)
    low = ratio / stats.f.ppf(upper, n - 1, error_freedom)
    high = ratio * stats.f.ppf(upper, error_freedom, n - 1)
    value, below, above = (float((f - 1) / (f + k - 1)) for f in (ratio, low, high))
    return value, below, above


def _absolute(squares: MeanSquares, n: int, k: int, level: float) -> tuple[float, float, float]:
    """ICC(2,1) with the interval of Shrout & Fleiss (their F* with Satterthwaite's freedom)."""
    bms, jms, ems = squares.between, squares.observers, squares.error
    value = (bms - ems) / (bms + (k - 1) * ems + k * (jms - ems) / n)
    ratio = jms / ems
    spread = n * (1 + (k - 1) * value) - k * value
    freedom = ((k - 1) * (n - 1) * (k * value * ratio + spread) ** 2) / (
        (n - 1) * k**2 * value**2 * ratio**2 + spread**2
    )
    upper = (1 + level) / 2
    f_low = stats.f.ppf(upper, n - 1, freedom)
    f_high = stats.f.ppf(upper, freedom, n - 1)
    rest = k * jms + (k * n - k - n) * ems
    low = n * (bms - f_low * ems) / (f_low * rest + n * bms)
    high = n * (f_high * bms - ems) / (rest + n * f_high * bms)
    return float(value), float(low), float(high)


@dataclass(frozen=True, slots=True)
class LimitsOfAgreement:
    """Mean difference of two series and the limits that hold 95 % of differences."""

    bias: float
    sd: float
    low: float
    high: float
    pairs: int


def limits_of_agreement(first: ArrayLike, second: ArrayLike) -> LimitsOfAgreement:
    """Bland–Altman limits of two series of the same objects.

    Parameters
    ----------
    first, second : array_like of shape (N,)
        Readings of the same objects in the same order and unit.

    Raises
    ------
    ValueError
        If fewer than two pairs are given.

    References
    ----------
    Bland & Altman 1986, Lancet 327:307-310 (bias ± 1.96 sd of the differences).
    """
    differences: NDArray[np.float64] = np.asarray(second, float) - np.asarray(first, float)
    if differences.size < 2:
        message = f"{differences.size} pair was given; at least 2 are needed. Mark more fish twice."
        raise ValueError(message)
    bias, sd = float(differences.mean()), float(differences.std(ddof=1))
    return LimitsOfAgreement(bias, sd, bias - 1.96 * sd, bias + 1.96 * sd, differences.size)


@dataclass(frozen=True, slots=True)
class ObserverSpread:
    """Spread of one reading within a person and between people (ISO 5725)."""

    within_sd: float
    between_sd: float

    @property
    def reproducibility_sd(self) -> float:
        """Spread of a reading by anybody: s_R² = s_L² + s_r²."""
        return math.hypot(self.within_sd, self.between_sd)

    @property
    def reproducibility_limit(self) -> float:
        """R: readings of two people differ by less in 95 % of cases."""
        return LIMIT_FACTOR * self.reproducibility_sd


def observer_spread(cells: Mapping[tuple[Any, Any], ArrayLike]) -> ObserverSpread:
    """Split spread into within and between people by the method of moments.

    Parameters
    ----------
    cells : mapping of (object, person) to array_like
        Repeated readings of an object by a person.

    Returns
    -------
    ObserverSpread
        `between_sd` is 0 where the means of people differ by no more than repeats do, and NaN
        where no object was measured by two people.
    """
    within, _ = within_variance(cells)
    means: dict[Any, list[tuple[float, int]]] = {}
    for (thing, _person), values in cells.items():
        array = np.asarray(values, float)
        means.setdefault(thing, []).append((float(array.mean()), array.size))
    by_object = {thing: [mean for mean, _ in pairs] for thing, pairs in means.items()}
    of_means, freedom = within_variance(by_object)
    if not freedom:
        return ObserverSpread(math.sqrt(within), math.nan)
    shared = [size for pairs in means.values() if len(pairs) > 1 for _, size in pairs]
    # Means of K repeats still carry 1/K of the within-person variance.
    noise = (0.0 if math.isnan(within) else within) * float(np.mean(1.0 / np.asarray(shared)))
    return ObserverSpread(math.sqrt(within), math.sqrt(max(0.0, of_means - noise)))
