"""Everything about a photo that marking needs, made ready away from the window's thread."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from finmeasure.errors import NotFound
from finmeasure.marking.framing import Box, fish_frame
from finmeasure.photo.reading import read_photo
from finmeasure.photo.record import Photo
from finmeasure.scale.calibration import Scale
from finmeasure.scale.find import find_scale
from finmeasure.scale.request import ScaleRequest


@dataclass(frozen=True, slots=True, eq=False)
class PreparedPhoto:
    """A photo in memory with its scale.

    Parameters
    ----------
    file : pathlib.Path
        Where it was read from.
    photo : Photo
        Upright pixels and what the file says of itself.
    gray : ndarray of shape (H, W), uint8
        Brightness, for the blur of fin edges and for pulling a line to an edge.
    scale : Scale or NotFound
        As found in the photo, or why there is none.
    frame : tuple of float, optional
        Left, top, right, bottom of where the fish seems to be, pixels; only for showing it.
    """

    file: Path
    photo: Photo
    gray: NDArray[np.uint8]
    scale: Scale | NotFound
    frame: Box | None = None

    @property
    def size_px(self) -> tuple[int, int]:
        """Width and height in pixels."""
        return self.photo.metadata.width_px, self.photo.metadata.height_px


def prepare_photo(file: Path, request: ScaleRequest) -> PreparedPhoto:
    """Read a photo, its brightness and its scale.

    Parameters
    ----------
    file : pathlib.Path
        The photo's file.
    request : ScaleRequest
        What the person says about the reference in the photo.

    Returns
    -------
    PreparedPhoto
        Ready to be shown.

    Raises
    ------
    PhotoError
        If the file cannot be read as a photo.
    """
    photo = read_photo(file)
    gray = np.asarray(Image.fromarray(photo.pixels).convert("L"), dtype=np.uint8)
    scale = find_scale(photo, request)
    return PreparedPhoto(file, photo, gray, scale, fish_frame(gray, scale))
