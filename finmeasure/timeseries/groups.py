"""Shoals without names, and tanks as the unit of a treatment."""

from __future__ import annotations

import math
import warnings
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike
from scipy import stats

from finmeasure.timeseries.change import Change


def change_of_group(first: ArrayLike, later: ArrayLike) -> Change:
    """Change of a group's mean between visits, when the fish have no names.

    Parameters
    ----------
    first, later : array_like of shape (N,) and (M,)
        One value (fin length / SL) per fish and visit; the fish need not be the same.

    Returns
    -------
    Change
        In percent of the first mean; its uncertainty comes from the spread between fish, and is
        widened for few fish so that 1.96 u is the Welch interval.

    Raises
    ------
    ValueError
        If a visit has fewer than two fish.
    """
    before, after = np.asarray(first, float), np.asarray(later, float)
    if min(before.size, after.size) < 2:
        message = (
            f"{before.size} and {after.size} fish were measured; at least 2 per visit are needed "
            "to see how much fish differ."
        )
        raise ValueError(message)
    result = stats.ttest_ind(after, before, equal_var=False)
    interval = result.confidence_interval(0.95)
    half_width = (interval.high - interval.low) / 2
    scale = 100.0 / before.mean()
    # The share of the first mean's own scatter that the ratio carries besides the difference.
    ratio = after.mean() / before.mean()
    spread_first = before.std(ddof=1) / math.sqrt(before.size)
    spread_later = after.std(ddof=1) / math.sqrt(after.size)
    widening = math.hypot(spread_later, ratio * spread_first) / math.hypot(
        spread_later, spread_first
    )
    return Change(
        float((after.mean() - before.mean()) * scale), float(half_width / 1.96 * scale * widening)
    )


@dataclass(frozen=True, slots=True)
class ArmComparison:
    """Slopes of treated tanks against others.

    Parameters
    ----------
    difference, low, high : float
        Difference of the mean slopes (percent per day) and its 95 % interval; NaN where unknown.
    freedom : float
        Welch's degrees of freedom.
    sentence : str
        The verdict in words.
    """

    difference: float
    low: float
    high: float
    freedom: float
    sentence: str


def slopes_per_tank(frame: pd.DataFrame) -> dict[str, float]:
    """Mean slope of each tank from the slopes of its fish.

    Parameters
    ----------
    frame : DataFrame
        Columns tank, fish, day, value.
    """
    per_fish = {
        (tank, fish): float(np.polyfit(part["day"], part["value"], 1)[0])
        for (tank, fish), part in frame.groupby(["tank", "fish"])
        if np.ptp(part["day"]) > 0
    }
    tanks: dict[str, list[float]] = {}
    for (tank, _fish), slope in per_fish.items():
        tanks.setdefault(str(tank), []).append(slope)
    return {tank: float(np.mean(slopes)) for tank, slopes in tanks.items()}


def compare_arms(slopes: Mapping[str, float], treated: Mapping[str, bool]) -> ArmComparison:
    """Compare treated and other tanks; a treatment is given per tank, so tanks are counted.

    Parameters
    ----------
    slopes : mapping of tank to float
        See :func:`slopes_per_tank`.
    treated : mapping of tank to bool
        Which tanks were treated.
    """
    arms = [
        np.array([slope for tank, slope in slopes.items() if treated[tank] is arm])
        for arm in (True, False)
    ]
    if min(arm.size for arm in arms) < 2:
        sentence = (
            f"{arms[0].size} treated and {arms[1].size} other tanks: the tanks differ, the cause "
            "cannot be told. At least 2 tanks of each are needed."
        )
        return ArmComparison(math.nan, math.nan, math.nan, math.nan, sentence)
    result = stats.ttest_ind(arms[0], arms[1], equal_var=False)
    low, high = result.confidence_interval(0.95)
    difference = float(arms[0].mean() - arms[1].mean())
    word = "faster" if low > 0 else "slower" if high < 0 else "neither faster nor slower to be seen"
    sentence = f"Treated tanks: {word} ({difference:+.3g}, 95 % {low:.3g} to {high:.3g})."
    return ArmComparison(difference, float(low), float(high), float(result.df), sentence)


@dataclass(frozen=True, slots=True)
class MixedDescription:
    """Mean course of named fish and how much fish differ (random intercept and slope)."""

    intercept: float
    slope: float
    intercept_u: float
    slope_u: float
    intercept_sd: float
    slope_sd: float
    correlation: float
    residual_sd: float


def describe_named_fish(frame: pd.DataFrame) -> MixedDescription:
    """Fit value ~ day with a random intercept and slope per fish (REML).

    Parameters
    ----------
    frame : DataFrame
        Columns fish, day, value.

    Raises
    ------
    ValueError
        If the model finds no solution.

    References
    ----------
    statsmodels MixedLM.
    """
    import statsmodels.formula.api as formula

    model = formula.mixedlm("value ~ day", frame, groups=frame["fish"], re_formula="~day")
    with warnings.catch_warnings():
        # A spread of zero between fish lies on the edge of what the model allows.
        warnings.simplefilter("ignore")
        result = model.fit(reml=True, method=["lbfgs", "powell"])
    if not result.converged:
        message = "The mixed-effects model finds no solution for these fish. More visits may help."
        raise ValueError(message)
    covariance = np.asarray(result.cov_re)
    spread = np.sqrt(np.diag(covariance))
    return MixedDescription(
        intercept=float(result.fe_params["Intercept"]),
        slope=float(result.fe_params["day"]),
        intercept_u=float(result.bse_fe["Intercept"]),
        slope_u=float(result.bse_fe["day"]),
        intercept_sd=float(spread[0]),
        slope_sd=float(spread[1]),
        correlation=float(covariance[0, 1] / (spread[0] * spread[1])),
        residual_sd=float(math.sqrt(result.scale)),
    )
