"""Change of one fin between visits, with what this set-up can see at all."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike
from scipy import stats
from statsmodels.stats.multitest import multipletests

from finmeasure.timeseries.allometry import ISOMETRIC, Allometry

Verdict = Literal["changed", "no change to be seen", "cannot tell"]
# 5 % false alarms and 5 % misses: 2 × 1.645 standard uncertainties (methods: 3.29 u).
DETECTION_FACTOR = 2.0 * float(stats.norm.ppf(0.95))
FALSE_DISCOVERY_RATE = 0.05
#: Spread of a fin's length between photos from posture and curl (assumed, common practice, no
#: source), and how many photos this assumption counts for beside a series' own repeats.
ASSUMED_POSTURE_REL = 0.015
ASSUMED_PHOTOS = 10


@dataclass(frozen=True, slots=True)
class VisitValue:
    """Fin length / SL of one fish at one visit, the mean over its photos.

    Parameters
    ----------
    day : float
        Days since the first visit.
    ratio, u : float
        Fin length / SL and its standard uncertainty, posture included.
    sl_mm : float
        Mean standard length; NaN without a scale.
    photos : int
        Photos that went into the mean.
    """

    day: float
    ratio: float
    u: float
    sl_mm: float
    photos: int


def visit_value(
    day: float, ratios: ArrayLike, us: ArrayLike, *, sl_mm: ArrayLike, posture_rel: float
) -> VisitValue:
    """Mean of one fish's photos of one visit.

    Bend, yaw and folding only shorten, equally on every visit, so the mean of the photos keeps
    the change unbiased, where the longest of several would invent erosion.

    Parameters
    ----------
    ratios, us, sl_mm : array_like of shape (N,)
        Fin length / SL, its standard uncertainty, and SL of each photo.
    posture_rel : float
        Relative standard deviation between photos of one visit that marks do not explain.
    """
    ratio = np.asarray(ratios, float)
    mean = float(ratio.mean())
    marks = float(np.sqrt((np.asarray(us, float) ** 2).sum())) / ratio.size
    posture = posture_rel * mean / math.sqrt(ratio.size)
    # Without a scale there is no length, and growth cannot be taken out.
    lengths = np.asarray(sl_mm, float)
    return VisitValue(day, mean, math.hypot(marks, posture), float(lengths.mean()), ratio.size)


@dataclass(frozen=True, slots=True)
class Change:
    """Change in percent of length relative to SL; −10 = a tenth shorter.

    Parameters
    ----------
    percent, u : float
        Change and its standard uncertainty, percent.
    """

    percent: float
    u: float

    @property
    def interval(self) -> tuple[float, float]:
        """95 % interval, percent."""
        return self.percent - 1.96 * self.u, self.percent + 1.96 * self.u

    @property
    def minimal_detectable(self) -> float:
        """Smallest change that is found in 95 of 100 cases, percent (3.29 u)."""
        return DETECTION_FACTOR * self.u

    @property
    def p_value(self) -> float:
        """Two-sided probability of such a change where there is none."""
        return float(2 * stats.norm.sf(abs(self.percent) / self.u))


def change_since(first: VisitValue, later: VisitValue, allometry: Allometry = ISOMETRIC) -> Change:
    """Change from one visit to another, growth of the body taken out.

    Parameters
    ----------
    first, later : VisitValue
        The visit to compare with, and the one to judge.
    allometry : Allometry
        Growth of a whole fin with the body.

    Returns
    -------
    Change
        100 (ratio now × (SL now / SL first)^(1−b) / ratio first − 1).
    """
    grown = _growth(first.sl_mm, later.sl_mm)
    expected = later.ratio * math.exp(grown * (1.0 - allometry.exponent)) / first.ratio
    relative = math.hypot(first.u / first.ratio, later.u / later.ratio, grown * allometry.u)
    return Change(100.0 * (expected - 1.0), 100.0 * expected * relative)


def _growth(first_mm: float, later_mm: float) -> float:
    """Logarithm of the growth in length; 0 where a length is unknown."""
    if math.isnan(first_mm) or math.isnan(later_mm):
        return 0.0
    return math.log(later_mm / first_mm)


def erosion_against(
    reference: VisitValue, now: VisitValue, allometry: Allometry = ISOMETRIC
) -> Change:
    """Percent of a fin that is missing against a declared whole reference.

    Returns
    -------
    Change
        `percent` is positive where tissue is missing.
    """
    change = change_since(reference, now, allometry)
    return Change(-change.percent, change.u)


def verdicts(changes: Sequence[Change]) -> list[Verdict]:
    """One verdict per change, false alarms held at 5 % of the alarms of the whole family.

    Parameters
    ----------
    changes : sequence of Change
        All fins and intervals that are judged together.

    Returns
    -------
    list of {"changed", "no change to be seen", "cannot tell"}
        ``changed``: Benjamini–Hochberg at q = 0.05; ``no change to be seen``: the 95 % interval
        lies within ± the minimal detectable change; else ``cannot tell``.

    References
    ----------
    Benjamini & Hochberg 1995, J. R. Stat. Soc. B 57:289-300.
    """
    if not changes:
        return []
    p_values = [change.p_value for change in changes]
    found = multipletests(p_values, alpha=FALSE_DISCOVERY_RATE, method="fdr_bh")[0]
    return [
        "changed" if hit else _unchanged(change) for change, hit in zip(changes, found, strict=True)
    ]


def _unchanged(change: Change) -> Verdict:
    """Tell a seen "no change" from a series too noisy to tell."""
    low, high = change.interval
    limit = change.minimal_detectable
    return "no change to be seen" if -limit <= low and high <= limit else "cannot tell"


def posture_spread(visits: Sequence[tuple[ArrayLike, ArrayLike]]) -> float:
    """Relative spread between photos of one visit beyond that of the marks.

    Parameters
    ----------
    visits : sequence of (ratios, us)
        Fin length / SL and standard uncertainty of the photos of each fish and visit.

    Returns
    -------
    float
        Relative standard deviation. The assumed one (see the method page) counts as much as ten
        photos, so that few repeats neither promise too much nor frighten.
    """
    squares, freedom, marks = 0.0, 0, 0.0
    for ratios, us in visits:
        ratio = np.asarray(ratios, float)
        if ratio.size > 1:
            relative = ratio / ratio.mean()
            squares += float(((relative - 1) ** 2).sum())
            freedom += ratio.size - 1
            marks += float(((np.asarray(us, float) / ratio) ** 2).mean()) * (ratio.size - 1)
    seen = max(0.0, squares - marks)
    known = ASSUMED_PHOTOS * ASSUMED_POSTURE_REL**2 + seen
    return math.sqrt(known / (ASSUMED_PHOTOS + freedom))
