"""The scale of one photo: a mapping from pixels to millimetres with its uncertainty."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from finmeasure.notebook import BLUE, axes_to_draw_on, html_table

if TYPE_CHECKING:
    from matplotlib.axes import Axes

Matrix = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class BudgetLine:
    """One source of the scale's uncertainty: name, relative standard uncertainty, explanation."""

    source: str
    u_rel: float
    note: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Scale:
    """Mapping from photo pixels to millimetres in the plane of the reference.

    Parameters
    ----------
    method : str
        ``window_card``, ``squares_card``, ``square_paper``, ``ruler``, ``bar``,
        ``known_object`` or ``known``.
    pixel_to_mm : ndarray of shape (3, 3)
        Homography from straightened pixels to millimetres.
    u_rel : float
        Relative standard uncertainty that all lengths of the photo share.
    rectified : bool
        True where tilt is taken out by the reference; False for a bar or a known px/mm.
    centre_px : tuple of float
        Place (x, y) where `px_per_mm` is stated; also the centre of the radial term.
    radial : float
        Radial term k1: a pixel at r (in units of `radius_px` from `optical_centre_px`) is moved
        outwards by the factor 1 + k1 r².
    optical_centre_px, radius_px : see `radial`
        Image centre and half the image diagonal.
    region_px : ndarray of shape (M, 2), optional
        Hull of the reference in the photo.
    flags : tuple of str
        Flags that every length of this photo carries.
    budget : tuple of BudgetLine
        Shares of `u_rel`; their root sum of squares is `u_rel`.
    advice : tuple of str
        What would make the next photo's scale and detail better, one sentence each.
    """

    method: str
    pixel_to_mm: Matrix
    u_rel: float
    rectified: bool
    centre_px: tuple[float, float]
    radial: float = 0.0
    optical_centre_px: tuple[float, float] = (0.0, 0.0)
    radius_px: float = 1.0
    region_px: Matrix | None = None
    flags: tuple[str, ...] = ()
    budget: tuple[BudgetLine, ...] = field(default=())
    advice: tuple[str, ...] = ()

    def to_mm(self, points_px: ArrayLike) -> Matrix:
        """Map points to the plane of the reference.

        Parameters
        ----------
        points_px : array_like of shape (N, 2), pixels (x, y)
            Photo coordinates.

        Returns
        -------
        ndarray of shape (N, 2), millimetres (x, y)
            The orientation is that of the photo: x to the right, y down, as near as can be.
        """
        straight = self._straightened(np.asarray(points_px, float).reshape(-1, 2))
        mapped = np.column_stack([straight, np.ones(len(straight))]) @ self.pixel_to_mm.T
        return np.asarray(mapped[:, :2] / mapped[:, 2:])

    def to_px(self, points_mm: ArrayLike) -> Matrix:
        """Map points of the plane of the reference to the photo; the inverse of `to_mm`.

        Parameters
        ----------
        points_mm : array_like of shape (N, 2), millimetres (x, y)
            In the coordinates of `to_mm`.

        Returns
        -------
        ndarray of shape (N, 2), pixels (x, y)
        """
        points = np.asarray(points_mm, float).reshape(-1, 2)
        back = np.column_stack([points, np.ones(len(points))]) @ np.linalg.inv(self.pixel_to_mm).T
        return self._bent(back[:, :2] / back[:, 2:])

    def mm_per_px_at(self, points_px: ArrayLike) -> Matrix:
        """Local derivative of the mapping, shape (N, 2, 2), millimetres per pixel.

        Element [n, i, j] is the change of millimetre coordinate i with pixel coordinate j.
        """
        points = np.asarray(points_px, float).reshape(-1, 2)
        half = 0.5 * np.eye(2)[:, None, :]
        mapped = self.to_mm(np.stack([points + half, points - half]))
        after, before = mapped.reshape(2, 2, len(points), 2)
        return np.asarray((after - before).transpose(1, 2, 0))

    @property
    def px_per_mm(self) -> float:
        """Pixels per millimetre at `centre_px`, mean of both directions."""
        jacobian = self.mm_per_px_at([self.centre_px])[0]
        return float(2.0 / np.hypot(jacobian[0], jacobian[1]).sum())

    @property
    def px_per_mm_u(self) -> float:
        """Standard uncertainty of `px_per_mm`, pixels per millimetre."""
        return self.px_per_mm * self.u_rel

    def plot(self, axes: Axes | None = None) -> Axes:
        """Frame the reference in a photo that was drawn before, and write px/mm beside it.

        Parameters
        ----------
        axes : matplotlib.axes.Axes, optional
            As :meth:`finmeasure.Photo.plot` gives them; a new figure if None.

        Returns
        -------
        matplotlib.axes.Axes
            In pixels.
        """
        axes = axes_to_draw_on(axes)
        if self.region_px is not None:
            ring = np.vstack([self.region_px, self.region_px[:1]])
            axes.plot(ring[:, 0], ring[:, 1], "--", color=BLUE, linewidth=1.5)
        axes.set_title(f"{self.px_per_mm:.3f} ± {1.96 * self.px_per_mm_u:.3f} px/mm")
        return axes

    def _repr_html_(self) -> str:
        """Show where the scale comes from, and its budget of uncertainty."""
        rows = [(line.source, f"{100 * line.u_rel:.3f} %", line.note) for line in self.budget]
        rows.append(("together", f"{100 * self.u_rel:.3f} %", "root sum of squares"))
        caption = (
            f"scale by {self.method.replace('_', ' ')}: {self.px_per_mm:.3f} px/mm, "
            f"u = {self.px_per_mm_u:.3f} px/mm"
        )
        return html_table(caption, ("source", "u", "note"), rows)

    def _bent(self, straight_px: Matrix) -> Matrix:
        """Put the radial distortion back in: Newton's method on r (1 + k1 r²) = straight r."""
        if not self.radial:
            return straight_px
        away = (straight_px - self.optical_centre_px) / self.radius_px
        target = np.hypot(away[:, 0], away[:, 1])
        radius = target.copy()
        for _ in range(8):
            excess = radius * (1.0 + self.radial * radius**2) - target
            radius = radius - excess / (1.0 + 3.0 * self.radial * radius**2)
        shrink = np.divide(radius, target, out=np.ones_like(target), where=target > 0)
        return np.asarray(self.optical_centre_px + away * shrink[:, None] * self.radius_px)

    def _straightened(self, points_px: Matrix) -> Matrix:
        """Take the radial distortion out."""
        if not self.radial:
            return points_px
        away = (points_px - self.optical_centre_px) / self.radius_px
        grow = 1.0 + self.radial * (away**2).sum(axis=1, keepdims=True)
        return np.asarray(self.optical_centre_px + away * grow * self.radius_px)
