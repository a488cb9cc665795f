"""One upright photo in memory."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True)
class PhotoMetadata:
    """What a photo file says about itself, without decoding its pixels.

    Parameters
    ----------
    width_px, height_px : int
        Upright size, after the EXIF orientation.
    taken_at : datetime, optional
        The camera's local time, without a zone.
    camera : str
        Maker and model, or empty.
    focal_35mm : float, optional
        Focal length that a 36 mm wide film would need for the same view, millimetres.
    orientation : int
        EXIF orientation 1–8.
    """

    width_px: int
    height_px: int
    taken_at: datetime | None = None
    camera: str = ""
    focal_35mm: float | None = None
    orientation: int = 1


@dataclass(frozen=True, slots=True, eq=False)
class Photo:
    """An upright photo.

    Parameters
    ----------
    pixels : ndarray of shape (H, W, 3), uint8, RGB
        Upright.
    sha256 : str
        Of the file's bytes, 64 hexadecimal digits.
    metadata : PhotoMetadata
        Size, time and camera.
    """

    pixels: NDArray[np.uint8]
    sha256: str
    metadata: PhotoMetadata
