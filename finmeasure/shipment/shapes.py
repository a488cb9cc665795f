"""Landmark shapes, free of place, size and rotation."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.linalg import orthogonal_procrustes

Shapes = NDArray[np.float64]
ROUNDS = 50


def centred_unit_size(landmarks: ArrayLike) -> Shapes:
    """Move each set of landmarks to its centre and divide by its centroid size.

    Parameters
    ----------
    landmarks : array_like of shape (N, L, 2)
        N fish with the same L landmarks.

    Returns
    -------
    ndarray of shape (N, L, 2)
        Root of the sum of squares over each fish is 1.
    """
    moved = np.asarray(landmarks, float)
    moved = moved - moved.mean(axis=1, keepdims=True)
    return np.asarray(moved / np.linalg.norm(moved, axis=(1, 2), keepdims=True))


def turned_onto(shape: Shapes, target: Shapes) -> Shapes:
    """Rotate one shape onto another by least squares, never mirroring it.

    Parameters
    ----------
    shape, target : ndarray of shape (L, 2)
        Centred, of unit size.
    """
    turn, _ = orthogonal_procrustes(shape, target)
    if np.linalg.det(turn) < 0:
        # The best orthogonal matrix mirrors: a mirrored fish is another side, not the same shape.
        left, _, right = np.linalg.svd(shape.T @ target)
        turn = left @ np.diag([1.0, -1.0]) @ right
    return np.asarray(shape @ turn)


def procrustes_distance(first: ArrayLike, second: ArrayLike) -> float:
    """Riemannian shape distance of two sets of landmarks.

    Parameters
    ----------
    first, second : array_like of shape (L, 2)
        Same landmarks, any place, size and rotation.

    Returns
    -------
    float
        Angle rho in radians, 0 to pi/2.

    References
    ----------
    Dryden & Mardia 2016, Statistical Shape Analysis, section 4.1 (rho = arccos of the sum of
    singular values, the last one signed).
    """
    a, b = centred_unit_size(np.stack([np.asarray(first, float), np.asarray(second, float)]))
    left, singular, right = np.linalg.svd(a.T @ b)
    if np.linalg.det(left @ right) < 0:
        singular[-1] *= -1
    return float(np.arccos(np.clip(singular.sum(), -1.0, 1.0)))


def aligned(landmarks: ArrayLike) -> tuple[Shapes, Shapes]:
    """Align all fish with their common mean (generalised Procrustes analysis).

    Parameters
    ----------
    landmarks : array_like of shape (N, L, 2)
        All fish facing the same way.

    Returns
    -------
    shapes : ndarray of shape (N, L, 2)
        Aligned shapes of unit centroid size.
    mean : ndarray of shape (L, 2)
        Mean shape of unit size.

    References
    ----------
    Gower 1975, Psychometrika 40:33-51.
    """
    shapes = centred_unit_size(landmarks)
    mean = shapes[0]
    for _ in range(ROUNDS):
        shapes = np.stack([turned_onto(shape, mean) for shape in shapes])
        fresh = shapes.mean(axis=0)
        fresh /= np.linalg.norm(fresh)
        if np.linalg.norm(fresh - mean) < 1e-12:
            break
        mean = fresh
    return shapes, mean
