"""Pictures inside a report: small copies of the overlays as data addresses, up to a number."""

from __future__ import annotations

import base64
from pathlib import Path

import cv2
import numpy as np

from finmeasure.report.overlay import CLOSE_UPS, overlay_name

MOST_PICTURES = 200
"""More would make a file that browsers and mail no longer carry."""


class PictureShelf:
    """Gives pictures to embed until the number is used up.

    Parameters
    ----------
    folder : Path
        The study's folder of overlays.
    left : int
        How many pictures may still be given.
    """

    def __init__(self, folder: Path, left: int = MOST_PICTURES) -> None:
        self.folder = folder
        self.left = left

    def overlay(self, photo: str, longest_px: int) -> str:
        """Give the overlay of a photo as a data address; empty where there is none or no room."""
        return self._embedded(self.folder / overlay_name(photo), longest_px)

    def fish(self, photo: str, fish: str, longest_px: int, *fin: str) -> str:
        """Give the picture of a fish, or of one of its fins, as a data address or empty."""
        name = overlay_name(photo, fish, *fin)
        return self._embedded(self.folder / CLOSE_UPS / name, longest_px)

    def _embedded(self, file: Path, longest_px: int) -> str:
        if self.left < 1 or not file.is_file():
            return ""
        pixels = cv2.imdecode(np.fromfile(file, np.uint8), cv2.IMREAD_COLOR)
        if pixels is None:
            return ""
        factor = min(1.0, longest_px / max(pixels.shape[:2]))
        small = cv2.resize(pixels, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA)
        _, encoded = cv2.imencode(".jpg", small, [cv2.IMWRITE_JPEG_QUALITY, 78])
        self.left -= 1
        return "data:image/jpeg;base64," + base64.b64encode(encoded.tobytes()).decode()
