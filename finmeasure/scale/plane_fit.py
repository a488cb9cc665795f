"""Fit the mapping from photo pixels to the plane of a reference: homography and one radial term."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.optimize import OptimizeResult, least_squares

from finmeasure.scale.calibration import Scale

Points = NDArray[np.float64]
ROUNDS = 4  # of fitting and dropping what does not fit
SMALLEST_LIMIT_PX = 0.35  # corners nearer than this are never dropped


@dataclass(frozen=True, slots=True, eq=False)
class PlaneFit:
    """A fitted mapping and how well it fits.

    Parameters
    ----------
    parameters : ndarray of shape (8,) or (9,)
        Eight of the homography from unit pixels to mm, then the radial term.
    covariance : ndarray
        Of the parameters, scaled by the residuals.
    frame : Frame
        Optical centre and radius.
    used : ndarray of bool
        Points that were kept.
    residual_px : float
        Root mean square distance of a kept point from its place, per axis.
    """

    parameters: NDArray[np.float64]
    covariance: NDArray[np.float64]
    frame: Frame
    used: NDArray[np.bool_]
    residual_px: float

    def mapping(self) -> Scale:
        """Give the mapping as a bare scale, without uncertainty."""
        return _mapping(self.parameters, self.frame)

    @property
    def u_radial(self) -> float:
        """Standard uncertainty of the radial term; infinite where it was not fitted."""
        return float(np.sqrt(self.covariance[8, 8])) if len(self.parameters) > 8 else np.inf

    def u_of_lengths(self, ends_px: Points) -> float:
        """Relative standard uncertainty of lengths that follows from the covariance.

        Parameters
        ----------
        ends_px : ndarray of shape (N, 2, 2)
            Ends of N typical lengths.

        Returns
        -------
        float
            Root mean square over the lengths.
        """
        step = np.sqrt(np.diag(self.covariance)) * 1e-2 + 1e-12
        base = _lengths(self.parameters, self.frame, ends_px)
        slopes = np.stack(
            [
                (_lengths(self.parameters + move, self.frame, ends_px) - base) / size
                for move, size in zip(np.diag(step), step, strict=True)
            ],
            axis=1,
        )
        variance = np.einsum("ni,ij,nj->n", slopes, self.covariance, slopes)
        return float(np.sqrt(np.mean(variance / base**2)))


@dataclass(frozen=True, slots=True)
class Frame:
    """Optical centre and half diagonal of a photo: the unit in which the fit works.

    Parameters
    ----------
    centre_px, radius_px
        Of the photo.
    radial : float, optional
        Radial term that is known already; then the fit leaves it as it is.
    """

    centre_px: tuple[float, float]
    radius_px: float
    radial: float | None = None

    @classmethod
    def of_size(cls, width_px: int, height_px: int) -> Frame:
        """Take the middle of the photo as the optical centre."""
        centre = ((width_px - 1) / 2, (height_px - 1) / 2)
        return cls(centre, float(np.hypot(width_px, height_px)) / 2)

    def unit(self, points_px: Points) -> Points:
        """Pixels as distances from the optical centre in radii, the known radial term taken out."""
        away = np.asarray((points_px - self.centre_px) / self.radius_px)
        if self.radial is None:
            return away
        return np.asarray(away * (1 + self.radial * (away**2).sum(axis=1, keepdims=True)))


def start_homography(
    points_px: Points, points_mm: Points, frame: Frame, tolerance_mm: float
) -> tuple[NDArray[np.float64], NDArray[np.bool_]] | None:
    """Find a first homography that most points agree on.

    Returns
    -------
    tuple of ndarray of shape (3, 3) and ndarray of bool, or None
        Mapping from unit pixels to mm, and the points that agree.
    """
    if len(points_px) < 4:
        return None
    cv2.setRNGSeed(0)  # the same photo must always give the same scale
    matrix, agree = cv2.findHomography(
        frame.unit(points_px), points_mm, cv2.RANSAC, tolerance_mm, maxIters=2000
    )
    if matrix is None or not np.isfinite(matrix).all():
        return None
    return matrix / matrix[2, 2], agree.ravel().astype(bool)


def fit_plane(
    points_px: Points,
    points_mm: Points,
    frame: Frame,
    *,
    start: NDArray[np.float64],
    with_radial: bool,
    limit_px: float = 4.0,
) -> PlaneFit | None:
    """Fit homography and radial term, dropping points that do not fit.

    Parameters
    ----------
    points_px, points_mm : ndarray of shape (N, 2)
        The same points in the photo and on the reference.
    start : ndarray of shape (3, 3) or (9,)
        First homography, or parameters of an earlier fit.
    with_radial : bool
        Whether the radial term is free; else it is 0, or that of the frame.
    limit_px : float
        Points farther off than this are dropped in the first round.

    Returns
    -------
    PlaneFit or None
        None where fewer than six points agree.
    """
    parameters = _start_parameters(start, with_radial and frame.radial is None)
    used = np.ones(len(points_px), bool)
    robust = start.ndim == 2
    if not robust:
        used = np.hypot(*_residuals(parameters, points_px, points_mm, frame).T) < 2 * limit_px
    for turn in range(ROUNDS):
        if used.sum() < 6:
            return None
        solution = _solve(
            parameters, points_px[used], points_mm[used], frame, robust=robust and turn == 0
        )
        parameters = solution.x
        away = np.hypot(*_residuals(parameters, points_px, points_mm, frame).T)
        # Lengths of planar normal errors have the median 1.177 sigma.
        limit = max(SMALLEST_LIMIT_PX, min(limit_px, 4.5 * float(np.median(away[used])) / 1.177))
        again = away < limit
        if turn and (again == used).all():
            break
        used = again
    return _summary(solution, frame, used)


def _summary(solution: OptimizeResult, frame: Frame, used: NDArray[np.bool_]) -> PlaneFit | None:
    """Turn a least-squares solution into a fit with its covariance."""
    freedom = len(solution.fun) - len(solution.x)
    if freedom < 1:
        return None
    variance = float(solution.fun @ solution.fun) / freedom
    covariance = np.linalg.pinv(solution.jac.T @ solution.jac) * variance
    return PlaneFit(np.asarray(solution.x), covariance, frame, used, float(np.sqrt(variance)))


def _start_parameters(start: NDArray[np.float64], with_radial: bool) -> NDArray[np.float64]:
    flat = start.ravel()
    if start.ndim == 2:
        flat = flat[:8] / flat[8]
    return np.append(flat[:8], flat[8:9] if len(flat) > 8 else 0.0)[: 9 if with_radial else 8]


def _solve(
    parameters: NDArray[np.float64],
    points_px: Points,
    points_mm: Points,
    frame: Frame,
    *,
    robust: bool,
) -> OptimizeResult:
    """Minimise the distances in pixels from the places that the mapping gives."""
    per_mm = np.linalg.inv(_mapping(parameters, frame).mm_per_px_at(points_px))
    unit = frame.unit(points_px)

    def residuals(trial: NDArray[np.float64]) -> NDArray[np.float64]:
        away_mm = _unit_to_mm(trial, unit) - points_mm
        return np.asarray(np.einsum("nij,nj->ni", per_mm, away_mm).ravel())

    def slopes(trial: NDArray[np.float64]) -> NDArray[np.float64]:
        moved = np.einsum("nij,njp->nip", per_mm, _slopes(trial, unit))
        return np.asarray(moved.reshape(-1, len(trial)))

    if robust:
        return least_squares(residuals, parameters, jac=slopes, loss="soft_l1", x_scale="jac")
    return least_squares(residuals, parameters, jac=slopes, method="lm", x_scale="jac")


def _residuals(
    parameters: NDArray[np.float64], points_px: Points, points_mm: Points, frame: Frame
) -> Points:
    """Distances in pixels of points from their places, shape (N, 2)."""
    mapping = _mapping(parameters, frame)
    per_mm = np.linalg.inv(mapping.mm_per_px_at(points_px))
    return np.asarray(np.einsum("nij,nj->ni", per_mm, mapping.to_mm(points_px) - points_mm))


def _unit_to_mm(parameters: NDArray[np.float64], unit: Points) -> Points:
    """Map unit pixels to mm: radial term, then homography."""
    radial = parameters[8] if len(parameters) > 8 else 0.0
    x, y = (unit * (1 + radial * (unit**2).sum(axis=1, keepdims=True))).T
    a, b, c, d, e, f, g, h = parameters[:8]
    down = g * x + h * y + 1
    return np.stack([(a * x + b * y + c) / down, (d * x + e * y + f) / down], axis=1)


def _slopes(parameters: NDArray[np.float64], unit: Points) -> NDArray[np.float64]:
    """Differentiate `_unit_to_mm` by its parameters, shape (N, 2, parameters)."""
    radial = parameters[8] if len(parameters) > 8 else 0.0
    squared = (unit**2).sum(axis=1, keepdims=True)
    x, y = (unit * (1 + radial * squared)).T
    a, b, _, d, e, _, g, h = parameters[:8]
    down = g * x + h * y + 1
    first, second = _unit_to_mm(parameters, unit).T
    row = np.stack([x, y, np.ones_like(x)], axis=1)
    slopes = np.zeros((len(unit), 2, len(parameters)))
    slopes[:, 0, 0:3] = slopes[:, 1, 3:6] = row
    slopes[:, 0, 6:8] = -first[:, None] * row[:, :2]
    slopes[:, 1, 6:8] = -second[:, None] * row[:, :2]
    if len(parameters) > 8:
        out_x, out_y = (unit * squared).T
        slopes[:, 0, 8] = (a - first * g) * out_x + (b - first * h) * out_y
        slopes[:, 1, 8] = (d - second * g) * out_x + (e - second * h) * out_y
    return np.asarray(slopes / down[:, None, None])


def _lengths(parameters: NDArray[np.float64], frame: Frame, ends_px: Points) -> Points:
    """Lengths in mm between pairs of pixels, shape (N,)."""
    ends = _unit_to_mm(parameters, frame.unit(ends_px.reshape(-1, 2))).reshape(-1, 2, 2)
    return np.asarray(np.hypot(*(ends[:, 1] - ends[:, 0]).T))


def _mapping(parameters: NDArray[np.float64], frame: Frame) -> Scale:
    """Turn parameters into a mapping without uncertainty."""
    (x, y), radius = frame.centre_px, frame.radius_px
    to_unit = np.array([[1 / radius, 0, -x / radius], [0, 1 / radius, -y / radius], [0, 0, 1]])
    return Scale(
        method="",
        pixel_to_mm=np.append(parameters[:8], 1.0).reshape(3, 3) @ to_unit,
        u_rel=0.0,
        rectified=True,
        centre_px=frame.centre_px,
        radial=float(parameters[8]) if len(parameters) > 8 else frame.radial or 0.0,
        optical_centre_px=frame.centre_px,
        radius_px=radius,
    )
