"""Slits narrower than the photo's blur: found along the rays, and none where there is none."""

from dataclasses import replace

import cv2
import numpy as np
import pytest
import shapely

from finmeasure.drawing.damage import Damage
from finmeasure.fins.outline import margin_of
from finmeasure.fins.rays import Fan, rays_through
from finmeasure.fins.slits import with_hidden_slits

from .conftest import POOR, SMOOTH_KINDS, fin_spec, photographed
from .real_fish import fish_of

VIEW = replace(POOR, length_px=140.0, angle_deg=25.0)


def counted(edge):
    return [notch for notch in edge.notches if notch.kind == "split"], len(edge.notches)


@pytest.mark.parametrize("kind", SMOOTH_KINDS)
def test_a_slit_of_two_pixels_in_a_blurred_photo(kind, rng):
    slit = Damage("slit", 0.7, 0.15, 0.016)
    fin = photographed(fin_spec(kind, damages=(slit,)), VIEW, rng, clicks=False)
    splits, notches = counted(fin.measured())
    assert (len(splits), notches) == (1, 1)
    true = fin.true_edge()
    # Its bottom lies where it was drawn; across the rays of a fork it is less deep than along.
    assert np.hypot(*(splits[0].deepest_px - true.notches[0].deepest_px)) < 5.0
    assert splits[0].area_pct == pytest.approx(true.notches[0].area_pct, abs=0.15)


def test_whole_fins_get_no_slit(rng):
    for kind in SMOOTH_KINDS:
        fin = photographed(fin_spec(kind), VIEW, rng)
        assert counted(fin.measured()) == ([], 0)


def test_stripes_between_rays_are_no_slits(rng):
    """Clear skin between dark rays goes on to the base and is alike along the edge."""
    view = replace(VIEW, ray_contrast=60.0, noise=3.0)
    for kind in ("rounded", "truncate"):
        fin = photographed(fin_spec(kind), view, rng, clicks=False)
        line = fin.drawn.margin_px
        assert with_hidden_slits(fin.gray, line, view.blur_px) is line


def test_the_line_stays_where_all_is_one_grey():
    angle = np.linspace(np.pi, 0, 300)
    line = np.column_stack([150 + 80 * np.cos(angle), 200 - 80 * np.sin(angle)])
    assert with_hidden_slits(np.full((300, 300), 128, np.uint8), line, 1.5) is line


@pytest.mark.parametrize("photo", ["splash-tetra.jpg", "rainbow_trout_market_eroded_fins.jpg"])
def test_real_fins_get_no_slit(photo, shared):
    """Spots and stripes along the rays of two small anal fins (205 and 244 px, looked at)."""
    fish = fish_of(shared, photo)
    gray = cv2.imread(str(shared / "photos" / photo), cv2.IMREAD_GRAYSCALE)
    line = margin_of("anal", fish.outlines["anal"], fish).points_px
    assert with_hidden_slits(gray, line, 1.9) is line


def test_rays_through_points_of_a_fan():
    """Points laid on known rays come back, against shapely's distance along the line."""
    fan = Fan(np.zeros(2), np.array([100.0, 0.0]), -2.2, 1.3)
    reach = np.linspace(40, 120, len(fan.places))
    points = fan.starts + fan.directions * reach[:, None]
    directions, found = rays_through(points, fan)
    assert np.allclose(directions, fan.directions, atol=1e-9)
    away = shapely.distance(shapely.points(points), shapely.points(fan.starts))
    assert np.allclose(found, away, atol=1e-6)
