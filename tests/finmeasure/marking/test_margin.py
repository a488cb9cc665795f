"""Vertex editing and pulling a traced line to an edge, against exact drawn shapes."""

import numpy as np
import pytest
from PIL import Image
from shapely.geometry import LineString, Point

from finmeasure.drawing.forms import random_spec
from finmeasure.drawing.photo import View, draw_photo
from finmeasure.errors import MarkingError
from finmeasure.marking import margin
from finmeasure.marking.edge_path import snapped_margin

SQUARE = [(0, 0), (10, 0), (10, 10), (0, 10)]


def test_vertices_and_pieces_are_found_within_reach_only():
    assert margin.nearest_vertex(SQUARE, (9, 9), 2.0) == 2
    assert margin.nearest_vertex(SQUARE, (5, 5), 2.0) is None
    assert margin.nearest_edge(SQUARE, (5, 1), 2.0) == 0
    assert margin.nearest_edge(SQUARE, (9, 5), 2.0) == 1
    assert margin.nearest_edge([(0, 0)], (0, 0), 5.0) is None
    assert margin.nearest_vertex([], (0, 0), 5.0) is None


def test_a_vertex_is_put_in_moved_and_taken_out():
    with_one = margin.with_vertex(SQUARE, (10, 4), 1)
    assert with_one.tolist() == [[0, 0], [10, 0], [10, 4], [10, 10], [0, 10]]
    assert margin.without_vertex(with_one, 2).tolist() == np.array(SQUARE, float).tolist()
    assert margin.with_vertex_moved(SQUARE, 3, (1, 9))[3].tolist() == [1, 9]
    assert SQUARE[3] == (0, 10)


def test_a_dense_line_bends_and_a_sparse_one_moves_one_corner():
    dense = np.column_stack([np.arange(0, 101, 2.0), np.zeros(51)])
    bent = margin.with_place_pulled(dense, 25, (50, 10), 20.0)
    assert bent[25].tolist() == [50, 10]
    assert bent[30][1] == pytest.approx(5.0)  # half way along the reach, half a cosine: 1/2
    assert bent[35:, 1].tolist() == [0.0] * 16
    assert np.all(np.diff(bent[:26, 1]) >= 0)  # one smooth hump, no spike
    ends = margin.with_place_pulled(dense, 1, (2, 9), 20.0)
    assert ends[0].tolist() == [0, 0]  # the base point of the fin stays


@pytest.mark.parametrize("turned", [False, True])
def test_a_redrawn_stretch_replaces_only_what_it_runs_along(turned):
    line = np.column_stack([np.arange(0, 101, 10), np.zeros(11)])
    stretch = np.array([(32, 5), (50, 8), (68, 5)])[:: -1 if turned else 1]
    fresh = margin.with_stretch_redrawn(line, stretch)
    assert fresh[:, 0].tolist() == [0, 10, 20, 30, 32, 50, 68, 70, 80, 90, 100]
    assert fresh[:, 1].tolist() == [0, 0, 0, 0, 5, 8, 5, 0, 0, 0, 0]


def disc(radius, size=300, blur=1.0, noise=0.0):
    """A dark disc with a soft edge on a light ground, grey values 60 and 180."""
    rows, columns = np.mgrid[:size, :size]
    away = np.hypot(columns - size / 2, rows - size / 2) - radius
    image = 60 + 120 / (1 + np.exp(-away / (0.55 * blur)))
    image += np.random.default_rng(4).normal(0, noise, image.shape) if noise else 0
    return np.clip(np.rint(image), 0, 255).astype(np.uint8)


@pytest.mark.parametrize(("noise", "limit_px"), [(0.0, 0.25), (6.0, 0.5)])
def test_a_rough_line_is_pulled_to_the_circle_it_was_traced_along(noise, limit_px):
    """Truth: the drawn circle. Limits: half the sample spacing across; twice that in noise."""
    angle = np.linspace(0.2, 2.6, 9)
    rough_radius = 90 + np.array([0, 4, -5, 3, -4, 5, -3, 4, 0])
    rough = 150 + rough_radius[:, None] * np.column_stack([np.cos(angle), np.sin(angle)])
    found = snapped_margin(disc(90, noise=noise), rough, reach_px=12.0)
    radius = np.hypot(*(found - 150).T)
    assert np.abs(radius[5:-5] - 90).max() < limit_px * 2
    assert np.sqrt(np.mean((radius[5:-5] - 90) ** 2)) < limit_px
    np.testing.assert_allclose(found[[0, -1]], rough[[0, -1]])


def test_without_an_edge_the_line_stays_where_it_was():
    rough = np.array([(50.0, 50.0), (120.0, 50.0), (200.0, 60.0)])
    found = snapped_margin(np.full((300, 300), 128, np.uint8), rough, reach_px=10.0)
    away = np.abs(found[:, 1] - np.interp(found[:, 0], rough[:, 0], rough[:, 1]))
    assert away.max() < 1.5  # the path runs from pixel to pixel


def share_found(seed):
    """Share of a drawn tail fin's true margin within 1.5 px of the pulled line.

    Traced every 0.04 of the margin's length with 2 px of hand error.
    """
    rng = np.random.default_rng(seed)
    drawn = draw_photo(random_spec(rng, body_form="plain"), View(1500, 1100, noise=2.0), rng)
    gray = np.asarray(Image.fromarray(drawn.pixels).convert("L"))
    truth = drawn.outlines["caudal"]
    places = np.linspace(0, len(truth) - 1, 25).astype(int)
    rough = truth[places] + rng.normal(0, 2.0, (25, 2)) * (np.arange(25) % 24 > 0)[:, None]
    found = LineString(snapped_margin(gray, rough, reach_px=14.0))
    assert found.is_simple
    return np.mean([found.distance(Point(place)) < 1.5 for place in truth[20:-20]])


def test_most_of_a_drawn_fins_true_edge_is_found_from_a_rough_trace():
    """Very clear fins with strong rays are the hard ones: there a person mends the line."""
    shares = [share_found(seed) for seed in range(6)]
    assert np.median(shares) > 0.85
    assert min(shares) > 0.4


def test_a_line_at_the_photos_rim_is_no_error():
    found = snapped_margin(disc(90, size=200), [(0, 5), (0, 100), (3, 199)], reach_px=10.0)
    assert np.isfinite(found).all()


def test_too_few_points_are_refused():
    with pytest.raises(MarkingError, match="Trace the fin first"):
        snapped_margin(disc(90), [(1, 1)], reach_px=5.0)
