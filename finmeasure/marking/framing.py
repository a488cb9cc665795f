"""Where in a photo the fish stands, roughly: only to show it large. Nothing is measured by it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter
from skimage.filters import threshold_otsu
from skimage.measure import label, regionprops

from finmeasure.card_design import DESIGNS, WindowDesign
from finmeasure.errors import NotFound
from finmeasure.geometry import Points
from finmeasure.scale.calibration import Scale

LOOKED_AT_PX = 400  # the longer side of the reduced photo
LEAST_SHARE = 0.004  # of the area looked at; smaller things are no fish to be shown
THICK = 2.15  # squares from the ring's outer border to the field, and a little: its edge is blurred
GRID_MARGIN = 0.16  # share of a grid's sides, for the tags in its corners
ROOM_ALONG, ROOM_ACROSS = 0.22, 0.5  # clear fins are not seen: room for them, share of the body

Box = tuple[float, float, float, float]


def fish_frame(gray: NDArray[np.uint8], scale: Scale | NotFound) -> Box | None:
    """Find the largest thing that stands free before the ground.

    Parameters
    ----------
    gray : ndarray of shape (H, W), uint8
        The photo in grey.
    scale : Scale or NotFound
        With a card, only the inside of its ring is looked at.

    Returns
    -------
    tuple of float or None
        Left, top, right, bottom in pixels with a little room; None where nothing stands out.
    """
    left, top, right, bottom = _looked_at(gray, scale)
    part = gray[top:bottom, left:right]
    step = max(max(part.shape) // LOOKED_AT_PX, 1)
    small = gaussian_filter(part[::step, ::step].astype(float), 1.5)
    away = np.abs(small - np.median(small))
    if away.max() < 8.0:  # grey levels; flatter than any fish before any ground
        return None
    regions = regionprops(label(away > threshold_otsu(away) * 0.7))
    inside = [region for region in regions if not _touches_rim(region.bbox, small.shape)]
    largest = max(inside, key=lambda region: region.area, default=None)
    if largest is None or largest.area < LEAST_SHARE * small.size:
        return None
    low_y, low_x, high_y, high_x = (step * value for value in largest.bbox)
    room_x, room_y = ROOM_ALONG * (high_x - low_x), ROOM_ACROSS * (high_y - low_y)
    return (
        left + low_x - room_x,
        top + low_y - room_y,
        left + high_x + room_x,
        top + high_y + room_y,
    )


def _looked_at(gray: NDArray[np.uint8], scale: Scale | NotFound) -> tuple[int, int, int, int]:
    """Give the part of the photo that can hold the fish."""
    height, width = gray.shape
    if isinstance(scale, NotFound) or scale.region_px is None or not scale.rectified:
        return 0, 0, width, height
    corners = _blank_field(scale, scale.region_px)
    # of the four corners, two lie on either side: the inner ones bound what is surely inside
    left, top = np.maximum(np.sort(corners, axis=0)[1], 0).astype(int)
    right, bottom = np.minimum(np.sort(corners, axis=0)[2], (width, height)).astype(int)
    return (left, top, right, bottom) if right - left > 40 < bottom - top else (0, 0, width, height)


def _blank_field(scale: Scale, border_px: Points) -> Points:
    """Give the corners of the field inside the ring of a window card, or a grid's middle."""
    share = np.array([GRID_MARGIN, GRID_MARGIN])
    if scale.method == "window_card":
        design = _printed(scale.to_mm(border_px))
        share = THICK / np.array([design.columns, design.rows])
    across, down = np.meshgrid([share[0], 1 - share[0]], [share[1], 1 - share[1]])
    x, y = across.ravel()[:, None], down.ravel()[:, None]
    first, second, third, fourth = border_px
    return np.asarray(
        (1 - x) * (1 - y) * first + x * (1 - y) * second + x * y * third + (1 - x) * y * fourth
    )


def _printed(border_mm: Points) -> WindowDesign:
    """Tell which of our window cards has a ring of this size."""
    size = np.linalg.norm(np.diff(border_mm[:3], axis=0), axis=1)
    windows = [design for design in DESIGNS if isinstance(design, WindowDesign)]
    wanted = [np.array([d.columns, d.rows]) * d.pitch_mm for d in windows]
    unlike = [float(np.abs(np.log(size / want)).sum()) for want in wanted]
    return windows[int(np.argmin(unlike))]


def _touches_rim(box: tuple[int, ...], shape: tuple[int, ...]) -> bool:
    """Whether a region runs out of the part looked at on more than one side."""
    low_y, low_x, high_y, high_x = box
    sides = (low_y == 0, low_x == 0, high_y == shape[0], high_x == shape[1])
    return sum(sides) > 1
