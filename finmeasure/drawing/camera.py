"""A pinhole camera that looks at the card's plane: exact mapping between mm and pixels."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Matrix = NDArray[np.float64]
FOCAL_SHARE = 0.775  # of the longer side: an ordinary phone without zoom (common practice)


@dataclass(frozen=True, slots=True, eq=False)
class Camera:
    """Mapping between the card's plane (mm, x right, y down) and photo pixels.

    The conventions are those of :class:`finmeasure.scale.calibration.Scale`: a photo pixel at r
    (in units of half the diagonal from the image centre) is straightened by the factor 1 + k1 r²,
    then mapped by a homography.
    """

    mm_to_straight: Matrix
    radial: float
    centre_px: tuple[float, float]
    radius_px: float

    @classmethod
    def aimed(
        cls,
        size_px: tuple[int, int],
        px_per_mm: float,
        *,
        tilt_deg: float = 0.0,
        tilt_axis_deg: float = 0.0,
        turn_deg: float = 0.0,
        radial: float = 0.0,
        focal_share: float = FOCAL_SHARE,
    ) -> Camera:
        """Place the camera so that the plane's origin lies in the image centre.

        Parameters
        ----------
        size_px : tuple of int
            Width and height of the photo.
        px_per_mm : float
            Scale at the image centre across the tilt.
        tilt_deg, tilt_axis_deg : float
            Angle between the optical axis and the plane's normal, and the direction in the photo
            of the axis of that tilt.
        turn_deg : float
            Turn of the plane in the photo, clockwise as seen.
        radial : float
            Radial term k1.
        focal_share : float
            Focal length / longer side of the photo; larger with optical zoom.
        """
        width, height = size_px
        centre = ((width - 1) / 2, (height - 1) / 2)
        focal = focal_share * max(width, height)
        away = focal / px_per_mm
        rotation = _tilt(tilt_deg, tilt_axis_deg) @ _turn(turn_deg)
        plane = np.column_stack([rotation[:, 0], rotation[:, 1], [0.0, 0.0, away]])
        lens = np.array([[focal, 0, centre[0]], [0, focal, centre[1]], [0, 0, 1.0]])
        return cls(lens @ plane, radial, centre, float(np.hypot(width, height)) / 2)

    def to_pixel(self, points_mm: ArrayLike) -> Matrix:
        """Map points of the card's plane, shape (N, 2) mm, to pixels (x, y)."""
        points = np.asarray(points_mm, float).reshape(-1, 2)
        mapped = np.column_stack([points, np.ones(len(points))]) @ self.mm_to_straight.T
        return self._bent(mapped[:, :2] / mapped[:, 2:])

    def true_mm(self, points_px: ArrayLike) -> Matrix:
        """Map pixels, shape (N, 2), to the card's plane in mm."""
        x, y = np.asarray(points_px, float).reshape(-1, 2).T
        return np.column_stack(self.plane_of(x, y))

    def plane_of(self, x_px: ArrayLike, y_px: ArrayLike) -> tuple[Matrix, Matrix]:
        """Card-plane coordinates of pixels given as two arrays that broadcast together."""
        x = (np.asarray(x_px, float) - self.centre_px[0]) / self.radius_px
        y = (np.asarray(y_px, float) - self.centre_px[1]) / self.radius_px
        grow = (1.0 + self.radial * (x * x + y * y)) * self.radius_px
        x, y = self.centre_px[0] + x * grow, self.centre_px[1] + y * grow
        back = np.linalg.inv(self.mm_to_straight)
        below = back[2, 0] * x + back[2, 1] * y + back[2, 2]
        return (
            (back[0, 0] * x + back[0, 1] * y + back[0, 2]) / below,
            (back[1, 0] * x + back[1, 1] * y + back[1, 2]) / below,
        )

    def px_per_mm_at(self, point_mm: ArrayLike) -> float:
        """Largest local scale at a point of the plane."""
        point = np.asarray(point_mm, float)
        steps = point + 0.5 * np.array([[1, 0], [-1, 0], [0, 1], [0, -1]])
        mapped = self.to_pixel(steps)
        jacobian = np.column_stack([mapped[0] - mapped[1], mapped[2] - mapped[3]])
        return float(np.linalg.svd(jacobian, compute_uv=False)[0])

    def _bent(self, straight: Matrix) -> Matrix:
        """Find the pixels that straighten to given places (Newton's method on the radius)."""
        if not self.radial:
            return straight
        away = (straight - self.centre_px) / self.radius_px
        target = np.hypot(*away.T)
        radius = target.copy()
        for _ in range(8):
            error = radius * (1 + self.radial * radius**2) - target
            radius = radius - error / (1 + 3 * self.radial * radius**2)
        shrink = np.where(target > 0, radius / np.where(target > 0, target, 1.0), 1.0)
        return np.asarray(self.centre_px + away * shrink[:, None] * self.radius_px)


def _turn(angle_deg: float) -> Matrix:
    cos, sin = np.cos(np.radians(angle_deg)), np.sin(np.radians(angle_deg))
    return np.array([[cos, -sin, 0], [sin, cos, 0], [0, 0, 1.0]])


def _tilt(angle_deg: float, axis_deg: float) -> Matrix:
    """Rotate about an axis that lies in the photo's plane."""
    cos, sin = np.cos(np.radians(angle_deg)), np.sin(np.radians(angle_deg))
    about_x = np.array([[1.0, 0, 0], [0, cos, -sin], [0, sin, cos]])
    return np.asarray(_turn(axis_deg) @ about_x @ _turn(-axis_deg))
