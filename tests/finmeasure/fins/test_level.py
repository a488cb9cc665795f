"""Rings of the zero level, against scikit-image's contours of the same fields."""

import numpy as np
import pytest
from skimage.measure import find_contours

from finmeasure.fins.level import zero_rings


def in_order(ring):
    """A ring's points, sorted, for comparing rings that start elsewhere."""
    return ring[np.lexsort(ring.T)]


@pytest.mark.parametrize("seed", range(4))
def test_rings_are_those_of_another_library(seed):
    """Noise has rings within rings and saddles everywhere."""
    height = np.random.default_rng(seed).normal(size=(40, 50)).astype(np.float32)
    height = np.pad(height, 1, constant_values=-0.5)
    wanted = [ring[:-1, ::-1] for ring in find_contours(height.astype(float), 0.0)]
    found = zero_rings(height)
    assert sorted(map(len, found)) == sorted(map(len, wanted))
    key = lambda ring: in_order(ring).round(6).tolist()  # noqa: E731
    for one, other in zip(sorted(found, key=key), sorted(wanted, key=key), strict=True):
        assert np.allclose(in_order(one), in_order(other), atol=1e-6)
        # Neighbours along a ring lie on one square of pixels.
        assert np.abs(one - np.roll(one, 1, axis=0)).max() <= 1.0


def test_nothing_above_zero_has_no_ring():
    assert zero_rings(np.full((5, 6), -1.0, np.float32)) == []
