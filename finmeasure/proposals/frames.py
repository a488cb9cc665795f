"""Square pictures cut from a photo for the networks, and the way back."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import ArrayLike, NDArray

Points = NDArray[np.float64]
PAD = 115  # grey beyond the photo's edge, as in training
MOST_SHRINK_PX = 1200  # photos are averaged down to about this before they are cut


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
    """A photo in its own and in smaller sizes, so that squares are cut without aliasing."""

    pixels: NDArray[np.uint8]
    small: NDArray[np.uint8]
    shrink: float

    @classmethod
    def of(cls, pixels: NDArray[np.uint8]) -> Pyramid:
        """Average a photo down once."""
        longest = max(pixels.shape[:2])
        shrink = max(longest / MOST_SHRINK_PX, 1.0)
        if shrink == 1.0:
            return cls(pixels, pixels, 1.0)
        size = (max(round(pixels.shape[1] / shrink), 1), max(round(pixels.shape[0] / shrink), 1))
        return cls(pixels, cv2.resize(pixels, size, interpolation=cv2.INTER_AREA), shrink)

    def cut(self, frame: Frame) -> NDArray[np.float32]:
        """Cut a square out, shape (side, side, 3), 0 to 1."""
        source, shrink = (self.small, self.shrink)
        if frame.photo_px_per_px < 0.75 * self.shrink:
            source, shrink = self.pixels, 1.0
        ratio = frame.photo_px_per_px / shrink
        if ratio > 1.3:
            source = cv2.GaussianBlur(source, (0, 0), 0.42 * ratio)
        scale = np.array([source.shape[1] / self.pixels.shape[1],
                          source.shape[0] / self.pixels.shape[0]])  # fmt: skip
        matrix = np.column_stack([frame.matrix * scale[:, None],
                                  (frame.corner + 0.5) * scale - 0.5])  # fmt: skip
        cut = cv2.warpAffine(
            source, matrix, (frame.side_px, frame.side_px),
            flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
            borderMode=cv2.BORDER_CONSTANT, borderValue=(PAD, PAD, PAD),
        )  # fmt: skip
        return np.asarray(cut, np.float32) / np.float32(255)


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
