"""Square pictures cut from a photo for the networks, and the way back."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import ArrayLike, NDArray

from finmeasure.photo.halving import halvings

Points = NDArray[np.float64]
PAD = 115  # grey beyond the photo's edge, as in training
SMALLEST_LEVEL_PX = 400
LEAST_RATIO = 1.5  # pixels of a halved photo per pixel of a square cut from it, at least
BLURRED_FROM, BLUR_PER_RATIO = 1.3, 0.42
ROOM_PX = 8  # more than a blur reaches


@dataclass(frozen=True, slots=True, eq=False)
class Frame:
    """A square of a photo, turned level and mirrored where the fish faces right.

    `matrix` (2, 2) and `corner` (2,) lead from pixels of the square to pixels of the photo.
    """

    matrix: Points
    corner: Points
    side_px: int

    def to_photo(self, points: ArrayLike) -> Points:
        """Square to photo, shape (N, 2)."""
        return np.asarray(np.asarray(points, float) @ self.matrix.T + self.corner)

    def to_frame(self, points: ArrayLike) -> Points:
        """Photo to square, shape (N, 2)."""
        away = np.asarray(points, float) - self.corner
        return np.asarray(away @ np.linalg.inv(self.matrix).T)

    @property
    def photo_px_per_px(self) -> float:
        """How many pixels of the photo one pixel of the square spans."""
        return float(np.sqrt(abs(np.linalg.det(self.matrix))))


@dataclass(frozen=True, slots=True, eq=False)
class Pyramid:
    """A photo and its halves, so that squares are cut without aliasing and at little cost."""

    levels: tuple[NDArray[np.uint8], ...]

    @classmethod
    def of(cls, pixels: NDArray[np.uint8]) -> Pyramid:
        """Halve a photo as often as squares may need it."""
        return cls(halvings(pixels, SMALLEST_LEVEL_PX))

    @property
    def pixels(self) -> NDArray[np.uint8]:
        """The photo itself."""
        return self.levels[0]

    def level_of(self, least_px: float) -> NDArray[np.uint8]:
        """Give the smallest level whose longer side has so many pixels, or else the photo."""
        large = [level for level in self.levels if max(level.shape[:2]) >= least_px]
        return large[-1] if large else self.pixels

    def cut(self, frame: Frame) -> NDArray[np.float32]:
        """Cut a square out, shape (side, side, 3), 0 to 1."""
        halvings_done = int(np.log2(max(frame.photo_px_per_px / LEAST_RATIO, 1.0)))
        number = min(halvings_done, len(self.levels) - 1)
        source, factor = self.levels[number], 2.0**-number
        matrix = frame.matrix * factor
        corner = (frame.corner + 0.5) * factor - 0.5
        source, origin = _part_round(source, matrix, corner, frame.side_px)
        ratio = frame.photo_px_per_px * factor
        if ratio > BLURRED_FROM and source.size:
            source = np.asarray(cv2.GaussianBlur(source, (0, 0), BLUR_PER_RATIO * ratio), np.uint8)
        cut = cv2.warpAffine(
            source, np.column_stack([matrix, corner - origin]), (frame.side_px, frame.side_px),
            flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
            borderMode=cv2.BORDER_CONSTANT, borderValue=(PAD, PAD, PAD),
        )  # fmt: skip
        return np.asarray(cut, np.float32) / np.float32(255)


def _part_round(
    source: NDArray[np.uint8], matrix: Points, corner: Points, side_px: int
) -> tuple[NDArray[np.uint8], Points]:
    """Give the part of a picture that a square needs, with room for blur, and its corner."""
    ends = np.array([[0, 0], [1, 0], [0, 1], [1, 1]]) * (side_px - 1) @ matrix.T + corner
    limit = np.array(source.shape[1::-1])
    low = np.clip(np.floor(ends.min(axis=0)) - ROOM_PX, 0, limit - 1).astype(int)
    high = np.clip(np.ceil(ends.max(axis=0)) + ROOM_PX, low + 1, limit).astype(int)
    return source[low[1] : high[1], low[0] : high[0]], low.astype(float)


def whole_photo(size_px: tuple[int, int], side_px: int) -> Frame:
    """Frame that holds a photo of (width, height) just so."""
    scale = max(size_px) / side_px
    middle = (np.array(size_px, float) - 1) / 2
    return Frame(np.eye(2) * scale, middle - scale * (side_px - 1) / 2, side_px)


def level_frame(
    snout: Points, tail: Points, inside: Points, *, mirrored: bool, side_px: int, room: float = 1.14
) -> Frame:
    """Frame in which a fish lies level and faces left.

    Parameters
    ----------
    snout, tail : ndarray of shape (2,)
        Snout tip and caudal base, photo pixels.
    inside : ndarray of shape (N, 2)
        Points of the fish that must lie in the frame.
    mirrored : bool
        Whether the photo shows the fish's right side.
    side_px : int
    room : float
        Side of the frame over the fish's extent.
    """
    along = (tail - snout) / np.hypot(*(tail - snout))
    down = np.array([-along[1], along[0]]) * (-1.0 if mirrored else 1.0)
    axes = np.column_stack([along, down])
    places = inside @ axes
    low, high = places.min(axis=0), places.max(axis=0)
    scale = float((high - low).max()) * room / side_px
    middle = axes @ ((low + high) / 2)
    matrix = axes * scale
    return Frame(matrix, middle - matrix @ np.full(2, (side_px - 1) / 2), side_px)
