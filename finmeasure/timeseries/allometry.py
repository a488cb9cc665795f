"""Growth of a fin with the body, so that a growing fish is not called regrown."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import stats


@dataclass(frozen=True, slots=True)
class Allometry:
    """Fin length ∝ SL^exponent; 1 means that the fin keeps its share of the body."""

    exponent: float = 1.0
    u: float = 0.0
    fish: int = 0


ISOMETRIC = Allometry()
#: Where nothing is known: fins keep their share of the body, give or take a fifth (assumed;
#: isometric and negatively allometric fins are both on record, Ellis et al. 2009).
ASSUMED = Allometry(1.0, 0.1)


def fitted_allometry(sl_mm: ArrayLike, fin_mm: ArrayLike) -> Allometry:
    """Fit the exponent on healthy fish by a straight line through the logarithms.

    Parameters
    ----------
    sl_mm, fin_mm : array_like of shape (N,)
        Standard and fin lengths of whole fish.

    Returns
    -------
    Allometry
        :data:`ASSUMED` where fewer than 10 fish, or lengths within a factor of 1.2, are given,
        because the fit would say nothing.

    References
    ----------
    Ellis et al. 2009, Aquaculture 289:283-288 (form L = a SL^b; dorsal and caudal fins of trout
    are negatively allometric).
    """
    length, fin = np.log(np.asarray(sl_mm, float)), np.log(np.asarray(fin_mm, float))
    if length.size < 10 or np.ptp(length) < math.log(1.2):
        return ASSUMED
    line = stats.linregress(length, fin)
    return Allometry(float(line.slope), float(line.stderr), int(length.size))
