"""The edge in grey values: blur, contrast and the sub-pixel place, on drawn fins."""

from dataclasses import replace

import cv2
import numpy as np
import pytest
import shapely

from finmeasure.drawing.damage import Damage
from finmeasure.fins.edge import LEAST_VISIBLE, edge_sight, refine_margin

from .conftest import GOOD, SMOOTH_KINDS, fin_spec, photographed


@pytest.mark.parametrize("blur", [0.6, 1.0, 1.6, 2.4])
def test_blur_of_a_straight_edge(blur, rng):
    """A step blurred by a Gaussian of known width, slightly turned, with noise."""
    y, x = np.indices((240, 200), dtype=np.float32)
    grey = np.where(x - 0.1 * y > 80, 60, 150).astype(np.float32)
    grey = cv2.GaussianBlur(grey, (0, 0), blur) + rng.normal(0, 3, grey.shape)
    margin = np.column_stack([80 + 0.1 * np.linspace(20, 220, 9), np.linspace(20, 220, 9)])
    sight = edge_sight(np.clip(grey, 0, 255).astype(np.uint8), margin)
    # Tried blurs lie 18 % apart; the pixel itself adds sqrt(1/12).
    assert sight.blur_px == pytest.approx(np.hypot(blur, 0.29), rel=0.15)
    assert sight.visible > 0.95
    assert sight.step == pytest.approx(90, rel=0.1)


@pytest.mark.parametrize("blur", [0.8, 1.6])
def test_blur_along_a_drawn_fin(blur, rng):
    fin = photographed(fin_spec("rounded"), replace(GOOD, length_px=200, blur_px=blur), rng)
    found = edge_sight(fin.gray, fin.drawn.margin_px).blur_px
    assert found == pytest.approx(np.hypot(blur, 0.29), rel=0.25)


@pytest.mark.parametrize("noise", [3.0, 6.0])
def test_a_clear_fin_on_its_own_ground_is_not_visible(noise, rng):
    for kind in ("rounded", "forked"):
        view = replace(GOOD, length_px=200, contrast=0.0, ray_contrast=0.0, noise=noise)
        fin = photographed(fin_spec(kind), view, rng)
        assert edge_sight(fin.gray, fin.drawn.margin_px).visible < LEAST_VISIBLE / 2
        faint = photographed(fin_spec(kind), replace(view, contrast=12.0), rng)
        assert edge_sight(faint.gray, faint.drawn.margin_px).visible > 2 * LEAST_VISIBLE


def test_outline_beyond_the_photos_edge(rng):
    fin = photographed(fin_spec("rounded"), replace(GOOD, length_px=120), rng)
    moved = fin.drawn.margin_px - [fin.drawn.margin_px[:, 0].min() + 0.4, 0]
    assert np.isfinite(edge_sight(fin.gray, moved).blur_px)


@pytest.mark.parametrize("kind", SMOOTH_KINDS)
def test_followed_edge_lies_on_the_true_one(kind, rng):
    damages = (Damage("bite", 0.3, 0.12), Damage("slit", 0.7, 0.12, 0.03))
    view = replace(GOOD, length_px=250, angle_deg=35)
    fin = photographed(fin_spec(kind, damages=damages), view, rng, clicks=False)
    true = shapely.LineString(fin.drawn.margin_px)
    away = shapely.distance(shapely.points(fin.traced()), true)
    # Sub-pixel almost everywhere; corners and the bottoms of slits are rounded by the blur.
    assert np.median(away) < 0.25
    assert np.percentile(away, 95) < 1.2
    found = shapely.LineString(fin.traced())
    missed = shapely.distance(shapely.points(fin.drawn.margin_px), found)
    assert np.percentile(missed, 95) < 2.0


def test_ends_are_the_base_points(rng):
    fin = photographed(fin_spec("rounded"), replace(GOOD, length_px=150), rng)
    assert np.allclose(fin.traced()[[0, -1]], fin.rough_px[[0, -1]])


def test_rough_margin_stays_where_nothing_can_be_seen(rng):
    flat = np.full((300, 300), 128, np.uint8)
    angle = np.linspace(np.pi, 0, 40)
    rough = np.column_stack([150 + 80 * np.cos(angle), 200 - 80 * np.sin(angle)])
    found = refine_margin(flat, rough, 10)
    away = shapely.distance(shapely.points(found), shapely.LineString(rough))
    assert away.max() < 1.0


def test_fin_lighter_than_its_ground(rng):
    view = replace(GOOD, length_px=200, ground=90.0, contrast=-60.0, body=False)
    fin = photographed(fin_spec("rounded"), view, rng, clicks=False)
    away = shapely.distance(shapely.points(fin.traced()), shapely.LineString(fin.drawn.margin_px))
    assert np.median(away) < 0.25
