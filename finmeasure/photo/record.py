"""One upright photo in memory."""

from __future__ import annotations

import base64
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from finmeasure.notebook import axes_to_draw_on

if TYPE_CHECKING:
    from matplotlib.axes import Axes

SHOWN_PX = 480
"""Longer side of a photo as a notebook shows it."""


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

    def gray(self) -> NDArray[np.uint8]:
        """Give the grey values, shape (H, W), as fin edges are searched in."""
        import cv2

        return np.asarray(cv2.cvtColor(self.pixels, cv2.COLOR_RGB2GRAY), np.uint8)

    def plot(self, axes: Axes | None = None) -> Axes:
        """Show the photo; marks of a reading can be drawn on the axes it gives back.

        Parameters
        ----------
        axes : matplotlib.axes.Axes, optional
            Where to draw; a new figure if None.

        Returns
        -------
        matplotlib.axes.Axes
            In pixels, y down.
        """
        axes = axes_to_draw_on(axes)
        axes.imshow(self.pixels)
        axes.set_axis_off()
        return axes

    def _repr_html_(self) -> str:
        """Show a small copy with size and time."""
        import cv2

        height, width = self.pixels.shape[:2]
        factor = min(1.0, SHOWN_PX / max(height, width))
        size = (max(round(width * factor), 1), max(round(height * factor), 1))
        small = cv2.resize(self.pixels, size, interpolation=cv2.INTER_AREA)
        _, encoded = cv2.imencode(".jpg", cv2.cvtColor(small, cv2.COLOR_RGB2BGR))
        taken = self.metadata.taken_at
        when = f", taken {taken:%Y-%m-%d %H:%M}" if taken is not None else ""
        text = f"photo, {width} × {height} px{when}, SHA-256 {self.sha256[:12]}…"
        data = base64.b64encode(encoded.tobytes()).decode()
        return (
            f'<figure><img alt="photo" src="data:image/jpeg;base64,{data}"/>'
            f"<figcaption>{text}</figcaption></figure>"
        )
