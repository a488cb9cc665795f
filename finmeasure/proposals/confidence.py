"""From the networks' own sureness to probabilities and uncertainties that were checked."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from finmeasure.quantity import Measure

PERCENT = "%"

#: Without calibration nothing is trusted.
_UNKNOWN = {"mass": [0.0, 1.0], "within": [0.0, 0.0], "u_share": [0.2, 0.2]}


@dataclass(frozen=True, slots=True, eq=False)
class Calibration:
    """Tables over the share of a heat map near its peak (`mass`, rising).

    `within` is the probability that the landmark lies within 3 % of standard length of its true
    place, `u_share` its standard uncertainty per axis as a share of that length.
    """

    mass: NDArray[np.float64]
    within: NDArray[np.float64]
    u_share: NDArray[np.float64]

    @classmethod
    def of(cls, manifest: Any) -> Calibration:
        """Read the tables that go with the weights."""
        table = manifest.get("calibration", _UNKNOWN)
        return cls(*(np.asarray(table[name], float) for name in ("mass", "within", "u_share")))

    def within_3_pct(self, mass: NDArray[np.float64]) -> NDArray[np.float64]:
        """Probability that each landmark is right, shape of `mass`."""
        return np.asarray(np.interp(mass, self.mass, self.within))

    def u_of(self, mass: NDArray[np.float64]) -> NDArray[np.float64]:
        """Give the standard uncertainty per axis of each landmark, share of standard length."""
        return np.asarray(np.interp(mass, self.mass, self.u_share))


def widened(rows: Sequence[Measure], manifest: Mapping[str, Any]) -> tuple[Measure, ...]:
    """Give measures from proposals the uncertainty that drawn photos with known truth ask for.

    Parameters
    ----------
    rows : sequence of Measure
        Of one proposed fish, as propagated from its marks.
    manifest : mapping
        Of the weights; ``measures`` holds a factor for each measure, for percentages an
        uncertainty that is added in squares.

    Returns
    -------
    tuple of Measure
        In the same order.
    """
    table = manifest.get("measures", {})
    return tuple(
        row if row.u is None or row.id not in table else replace(row, u=_wider(row, table[row.id]))
        for row in rows
    )


def _wider(row: Measure, needed: float) -> float:
    u = row.u or 0.0
    return math.hypot(u, needed) if row.unit == PERCENT else u * needed


#: Shares of the landmarks, from unsure to sure, that the tables are made of: finer where unsure.
_SHARES = (0.0, 0.02, 0.05, 0.125, 0.25, 0.375, 0.5, 0.625, 0.75, 0.875, 1.0)


def calibrated(mass: NDArray[np.float64], error: NDArray[np.float64]) -> dict[str, list[float]]:
    """Make the tables from landmarks whose errors are known.

    Parameters
    ----------
    mass : ndarray of shape (N,)
    error : ndarray of shape (N, 2)
        Errors per axis, share of standard length.

    Returns
    -------
    dict of str to list of float
        Knots of mass, and at each the probability and the uncertainty, made monotonous; the
        uncertainty is such that 95 % of the errors per axis lie within 1.96 of it.
    """
    order = np.argsort(mass)
    cuts = np.rint(np.array(_SHARES[1:-1]) * len(order)).astype(int)
    groups = [group for group in np.split(order, cuts) if len(group)]
    knots = [float(np.median(mass[group])) for group in groups]
    away = np.hypot(*error.T)
    within = [float((away[group] < 0.03).mean()) for group in groups]
    spread = [float(np.quantile(np.abs(error[group]), 0.95)) / 1.96 for group in groups]
    rising = np.maximum.accumulate(within)
    falling = np.maximum.accumulate(spread[::-1])[::-1]
    return {"mass": knots, "within": rising.tolist(), "u_share": falling.tolist()}
