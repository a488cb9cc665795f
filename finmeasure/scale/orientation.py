"""Turn the coordinates of a reference so that they run as in the photo."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from finmeasure.scale.calibration import Scale

Array = NDArray[np.float64]


def oriented(bare: Scale, origin: Array, stretch: Array) -> Scale:
    """Move the origin, stretch to millimetres and turn, so that x runs to the right of the photo.

    Parameters
    ----------
    bare : Scale
        Mapping to the reference's own coordinates.
    origin : ndarray of shape (2,)
        Point of the reference that becomes (0, 0); `centre_px` is its place in the photo.
    stretch : ndarray of shape (2,)
        Millimetres per unit along each of the reference's own directions.
    """
    centre = bare.to_px([origin])[0]
    left, _, right = np.linalg.svd(np.diag(stretch) @ bare.mm_per_px_at([centre])[0])
    turn, shift = np.eye(3), np.eye(3)
    turn[:2, :2] = (left @ right).T  # the nearest rotation (polar decomposition), undone
    shift[:2, 2] = -origin
    return replace(
        bare,
        pixel_to_mm=turn @ np.diag([*stretch, 1.0]) @ shift @ bare.pixel_to_mm,
        centre_px=(float(centre[0]), float(centre[1])),
    )
