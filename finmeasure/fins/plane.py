"""The plane in which a fin is measured: that of the card in millimetres, else the photo's own."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from finmeasure.scale.calibration import Scale

Points = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Plane:
    """Both ways between photo pixels near one place and the plane of measurement.

    Parameters
    ----------
    scale : Scale, optional
        None keeps pixels as the unit.
    centre_px : ndarray of shape (2,), pixels (x, y)
        Where the fin is.
    """

    scale: Scale | None
    centre_px: Points

    def from_px(self, points_px: Points) -> Points:
        """Map photo points, shape (N, 2), to the plane."""
        return points_px if self.scale is None else self.scale.to_mm(points_px)

    def to_px(self, points: Points) -> Points:
        """Map points of the plane, shape (N, 2), back to the photo."""
        return points if self.scale is None else self.scale.to_px(points)

    @property
    def unit_per_px(self) -> float:
        """Length in the plane of one photo pixel at the fin, mean of all directions."""
        if self.scale is None:
            return 1.0
        return float(np.sqrt(abs(np.linalg.det(self.scale.mm_per_px_at([self.centre_px])[0]))))
