"""Exact coverage against closed forms and an independent geometry library."""

import numpy as np
import pytest
from shapely.geometry import Polygon, box

from finmeasure.drawing.raster import coverage


def test_axis_parallel_square_covers_known_shares():
    # Closed form: from x = 0.75 to 2.5 in pixel-centre coordinates, i.e. shares .75, 1, 0 …
    cover = coverage([(0.75, 0.5), (2.5, 0.5), (2.5, 1.5), (0.75, 1.5)], (3, 4))
    assert cover[1] == pytest.approx([0, 0.75, 1.0, 0.0], abs=1e-6)
    assert cover[[0, 2]] == pytest.approx(0.0)


@pytest.mark.parametrize("seed", range(6))
def test_every_pixel_agrees_with_shapely(seed):
    rng = np.random.default_rng(seed)
    angle = np.sort(rng.uniform(0, 2 * np.pi, 40))
    radius = rng.uniform(3, 9, 40)
    ring = np.column_stack([10 + radius * np.cos(angle), 8 + radius * np.sin(angle)])
    cover = coverage(ring, (18, 22))
    shape = Polygon(ring)
    truth = [
        [shape.intersection(box(x - 0.5, y - 0.5, x + 0.5, y + 0.5)).area for x in range(22)]
        for y in range(18)
    ]
    assert cover == pytest.approx(np.array(truth), abs=1e-5)


def test_ring_that_leaves_the_grid_is_cut_at_its_border():
    ring = [(-5, -5), (4, -5), (4, 9), (-5, 9)]
    assert coverage(ring, (5, 7)).sum() == pytest.approx(4.5 * 5, abs=1e-5)


def test_direction_of_the_ring_does_not_matter():
    ring = np.array([(1.2, 0.7), (7.9, 2.1), (3.3, 6.4)])
    assert coverage(ring, (8, 9)) == pytest.approx(coverage(ring[::-1], (8, 9)), abs=1e-6)
