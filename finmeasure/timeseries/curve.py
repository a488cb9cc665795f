"""Regrowth curves: fitted laws, their parameters and the days until a fin is whole."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass

import lmfit
import numpy as np
from numpy.typing import ArrayLike, NDArray

from finmeasure.timeseries.profile import plausible_rates

Vector = NDArray[np.float64]
VISITS_FOR_LAG = 8
USELESS_RATIO = 6.0


def monomolecular(
    days: ArrayLike, start: float, whole: float, rate: float, lag: float = 0.0
) -> Vector:
    """Growth in proportion to what is still missing.

    Parameters
    ----------
    days : array_like of shape (N,)
        Time.
    start, whole : float
        Length at the start and of the whole fin.
    rate : float
        Share of what is missing that grows back per day.
    lag : float
        Days before growth begins.

    Returns
    -------
    ndarray of shape (N,)
        L(t) = start + (whole − start)(1 − exp(−rate (t − lag))).
    """
    grown = np.clip(np.asarray(days, float) - lag, 0.0, None)
    return np.asarray(start + (whole - start) * -np.expm1(-rate * grown))


def logistic(days: ArrayLike, whole: float, shift: float, rate: float) -> Vector:
    """S-shaped alternative: whole / (1 + exp(shift − rate t))."""
    return np.asarray(whole / (1.0 + np.exp(shift - rate * np.asarray(days, float))))


def richards(days: ArrayLike, whole: float, shift: float, rate: float, shape: float) -> Vector:
    """Logistic law with a free bend: whole / (1 + exp(shift − rate t))^(1/shape)."""
    base = 1.0 + np.exp(shift - rate * np.asarray(days, float))
    return np.asarray(whole / base ** (1.0 / shape))


@dataclass(frozen=True, slots=True)
class CurveFit:
    """A law fitted to a series.

    Parameters
    ----------
    law : str
        Name of the law.
    values, us : mapping of str to float
        Parameters and standard uncertainties; 0 for fixed ones.
    rss : float
        Weighted residual sum of squares.
    points, free : int
        Number of points and of free parameters.
    """

    law: str
    values: Mapping[str, float]
    us: Mapping[str, float]
    rss: float
    points: int
    free: int

    @property
    def residual_sd(self) -> float:
        """Residual standard deviation (of weighted residuals)."""
        return math.sqrt(self.rss / max(1, self.points - self.free))

    @property
    def aicc(self) -> float:
        """Akaike's criterion with the correction for few points (Hurvich & Tsai 1989)."""
        k = self.free + 1
        if self.points <= k + 1:
            return math.inf
        likelihood = self.points * math.log(max(self.rss, 1e-300) / self.points)
        return likelihood + 2 * k + 2 * k * (k + 1) / (self.points - k - 1)


LAWS: dict[str, Callable[..., Vector]] = {
    "monomolecular": monomolecular,
    "logistic": logistic,
    "richards": richards,
}


def fit_law(
    law: str,
    days: ArrayLike,
    values: ArrayLike,
    start: Mapping[str, float],
    *,
    fixed: tuple[str, ...] = (),
    u: ArrayLike | None = None,
) -> CurveFit:
    """Fit a law by least squares.

    Parameters
    ----------
    law : {"monomolecular", "logistic", "richards"}
        Which law.
    days, values : array_like of shape (N,)
        The series.
    start : mapping of str to float
        First guess of every parameter.
    fixed : tuple of str
        Parameters that keep their first guess.
    u : array_like of shape (N,), optional
        Standard uncertainties; the points weigh 1/u.

    Raises
    ------
    ValueError
        If the law is unknown or there are fewer points than free parameters.
    """
    if law not in LAWS:
        message = f"Law {law!r} is not known. Allowed: {', '.join(LAWS)}."
        raise ValueError(message)
    model = lmfit.Model(LAWS[law], independent_vars=["days"])
    parameters = model.make_params(**start)
    for name in fixed:
        parameters[name].vary = False
    free = len(start) - len(fixed)
    if np.size(days) < free:
        message = f"{np.size(days)} visits cannot fix {free} parameters. Photograph more visits."
        raise ValueError(message)
    weights = None if u is None else 1.0 / np.asarray(u, float)
    series = np.asarray(values, float)
    time = np.asarray(days, float)
    rough = model.fit(series, parameters, days=time, weights=weights)
    # Central differences: one-sided ones stop short of the certified digits of NIST Rat43.
    tight = {"jac": "3-point", "xtol": 1e-15, "ftol": 1e-15, "gtol": 1e-15, "x_scale": "jac"}
    result = model.fit(
        series, rough.params, days=time, weights=weights, method="least_squares", fit_kws=tight
    )
    if rough.chisqr < result.chisqr:
        result = rough
    return CurveFit(
        law=law,
        values=dict(result.best_values),
        us={name: float(p.stderr or 0.0) for name, p in result.params.items()},
        rss=float(result.chisqr),
        points=int(np.size(days)),
        free=free,
    )


@dataclass(frozen=True, slots=True)
class Estimate:
    """A figure with a 95 % interval; `known` is false where the interval says nothing."""

    value: float
    low: float
    high: float

    @property
    def known(self) -> bool:
        """Whether the interval is narrow enough to be of use."""
        finite = math.isfinite(self.low) and math.isfinite(self.high)
        return finite and self.low > 0 and self.high / self.low <= USELESS_RATIO

    def __str__(self) -> str:
        """Give the figure with its interval, or say that it cannot be given."""
        if not self.known:
            return "not enough data to say"
        return f"{self.value:.3g} ({self.low:.3g} to {self.high:.3g})"


@dataclass(frozen=True, slots=True, eq=False)
class Regrowth:
    """Regrowth of one fin of one fish.

    Parameters
    ----------
    fit : CurveFit
        The law that was kept.
    rate : Estimate
        Share of what is missing that grows back per day.
    days_to : mapping of int to Estimate
        Days until 50, 90 and 95 % of what was missing at the start has grown back.
    alternative : CurveFit, optional
        The logistic law, fitted from 8 visits on.
    """

    fit: CurveFit
    rate: Estimate
    days_to: Mapping[int, Estimate]
    alternative: CurveFit | None = None


def fit_regrowth(
    days: ArrayLike, ratios: ArrayLike, us: ArrayLike, *, whole: float, whole_u: float
) -> Regrowth:
    """Fit regrowth of fin length / SL towards a declared whole length.

    Parameters
    ----------
    days, ratios, us : array_like of shape (N,)
        Visits, fin length / SL and its standard uncertainty.
    whole, whole_u : float
        Reference of the whole fin and its standard uncertainty.

    Returns
    -------
    Regrowth
        With a lag only from 8 visits on, because fewer cannot tell a lag from a slow start. The
        intervals are profile likelihood intervals, the whole length being uncertain too.

    Raises
    ------
    ValueError
        If there are fewer than three visits.

    References
    ----------
    Profile likelihood: Venzon & Moolgavkar 1988, Appl. Stat. 37:87-94.
    """
    day, ratio, u = (np.asarray(a, float) for a in (days, ratios, us))
    if day.size < 3:
        message = f"{day.size} visits were given; a regrowth curve needs at least 3."
        raise ValueError(message)
    with_lag = day.size >= VISITS_FOR_LAG
    fit = _fit_once(day, ratio, u, whole, ("whole",) if with_lag else ("whole", "lag"))
    rates, lags = plausible_rates(
        day, ratio, u, whole=(whole, whole_u), best=fit.values, with_lag=with_lag
    )
    days_to = {
        share: _estimate(
            fit.values["lag"] + _days(share, fit.values["rate"]),
            lags + np.array([_days(share, rate) for rate in rates]),
        )
        for share in (50, 90, 95)
    }
    alternative = None
    if with_lag:
        start = {"whole": whole, "shift": 0.0, "rate": 2 * max(fit.values["rate"], 1e-3)}
        alternative = fit_law("logistic", day, ratio, start, fixed=("whole",), u=u)
    return Regrowth(fit, _estimate(fit.values["rate"], rates), days_to, alternative)


def _days(share: int, rate: float) -> float:
    """Days until a share of what was missing is back; infinite where nothing grows."""
    return math.log(100.0 / (100.0 - share)) / rate if rate > 0 else math.inf


def _fit_once(
    day: Vector, ratio: Vector, u: Vector, whole: float, fixed: tuple[str, ...]
) -> CurveFit:
    """Fit the monomolecular law from a first guess by the half-way time."""
    start = {
        "start": float(ratio[0]),
        "whole": whole,
        "rate": math.log(2) / max(float(np.ptp(day)) / 2, 1e-6),
    }
    # The sum of squares has a dip per interval between visits as the lag moves through them.
    lags = (day[0],) if "lag" in fixed else tuple(day[: day.size // 2] + 0.5)
    fits = [
        fit_law("monomolecular", day, ratio, {**start, "lag": lag}, fixed=fixed, u=u)
        for lag in lags
    ]
    return min(fits, key=lambda fit: fit.rss)


def _estimate(value: float, plausible: Vector) -> Estimate:
    """Span all values that the data allow; the best one is always among them."""
    every = np.append(plausible, value)
    return Estimate(float(value), float(every.min()), float(every.max()))
