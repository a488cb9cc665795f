"""Single drawn fins: damage, opening and edges against independent computations."""

import numpy as np
import pytest
from shapely.geometry import LineString, Point, Polygon

from finmeasure.drawing.damage import Damage
from finmeasure.drawing.fan import LENGTH_PROFILES
from finmeasure.drawing.fin_photo import FinView, draw_fin_photo
from finmeasure.drawing.spec import FinSpec
from finmeasure.geometry import polygon_area


def fin(kind="rounded", *damages, opening=1.0, depth=0.2):
    return FinSpec(
        "caudal", kind, 10.0, 0.0, 4.0, 30.0, -30.0, depth=depth, ray_count=14,
        opening=opening, damages=damages,
    )  # fmt: skip


def draw(spec, **view):
    return draw_fin_photo(spec, FinView(**view), np.random.default_rng(5))


@pytest.mark.parametrize("kind", [k for k in LENGTH_PROFILES if k not in {"rod", "thread"}])
def test_every_kind_draws_a_simple_margin(kind):
    drawn = draw(fin(kind, depth=0.1))
    assert LineString(drawn.margin_px).is_simple
    assert drawn.pixels.shape[2] == 3
    inside = np.array(drawn.pixels.shape[1::-1]) - 1
    assert (drawn.margin_px > 0).all()
    assert (drawn.margin_px < inside).all()


def test_length_in_pixels_is_the_one_asked_for():
    drawn = draw(fin(), length_px=240.0, angle_deg=70.0)
    middle = (drawn.margin_px[0] + drawn.margin_px[-1]) / 2
    assert np.hypot(*(drawn.margin_px - middle).T).max() == pytest.approx(240.0, rel=1e-3)
    assert drawn.px_per_mm * drawn.length_mm == pytest.approx(240.0)
    assert drawn.to_pixel(drawn.true_mm(drawn.margin_px)) == pytest.approx(drawn.margin_px)


@pytest.mark.parametrize("radius", [0.03, 0.08, 0.15])
def test_bite_is_the_half_disc_that_shapely_cuts(radius):
    whole = draw(fin())
    bitten = draw(fin("rounded", Damage("bite", 0.4, radius)))
    at = np.interp(0.4, np.linspace(0, 1, 420), np.arange(420))
    edge = whole.whole_margin_px[23 + int(at) : 23 + int(at) + 2]
    centre = edge[0] + (edge[1] - edge[0]) * (at % 1)
    shape = Polygon(whole.whole_margin_px)
    left = shape.difference(Point(centre).buffer(radius * 200.0, quad_segs=200))
    # 420 rays sample the bite: the area is good to half a percent of the bite.
    lost = shape.area - left.area
    assert shape.area - polygon_area(bitten.margin_px) == pytest.approx(lost, rel=0.02)
    assert bitten.damages[0].area_pct == pytest.approx(100 * lost / shape.area, rel=0.02)
    assert bitten.damages[0].depth_pct == pytest.approx(100 * radius)


def test_slit_takes_its_width_and_depth():
    drawn = draw(fin("rounded", Damage("slit", 0.5, 0.2, 0.04)))
    whole = Polygon(drawn.whole_margin_px)
    lost = whole.difference(Polygon(drawn.margin_px)).area
    # Closed form: the fan widens from the base (4 mm) with its opening of 60° over 10 mm rays; the
    # slit is a piece of it between radii 8 and 10 mm (S = 10.0 mm along the middle ray).
    width_mm = 0.04 * (4.0 + np.radians(60.0) * 9.0)
    s_mm = drawn.length_mm
    expected = width_mm * 0.2 * s_mm * drawn.px_per_mm**2
    assert lost == pytest.approx(expected, rel=0.05)


def test_shortening_leaves_the_share_it_says():
    drawn = draw(fin("rounded", Damage("shortening", depth=0.1)))
    away = drawn.margin_px[23:-23] - drawn.to_pixel([(0, 0)])
    whole = drawn.whole_margin_px[23:-23] - drawn.to_pixel([(0, 0)])
    middle = len(away) // 2
    assert np.hypot(*away[middle]) / np.hypot(*whole[middle]) == pytest.approx(0.9, abs=1e-3)


def test_fray_has_several_teeth_and_repeats_with_its_seed():
    first = draw(fin("truncate", Damage("fray", 0.5, 0.15, 0.4, seed=3)))
    again = draw(fin("truncate", Damage("fray", 0.5, 0.15, 0.4, seed=3)))
    other = draw(fin("truncate", Damage("fray", 0.5, 0.15, 0.4, seed=4)))
    assert np.array_equal(first.margin_px, again.margin_px)
    assert not np.array_equal(first.margin_px, other.margin_px)
    assert 0 < first.damages[0].area_pct < 15 * 0.5


def test_opening_changes_the_angle_but_no_ray():
    narrow, wide = (draw(fin("truncate", opening=share)) for share in (0.8, 1.2))
    for end in (23, -24):
        lengths = [
            np.hypot(*(d.margin_px[end] - d.margin_px[0 if end > 0 else -1])) / d.px_per_mm
            for d in (narrow, wide)
        ]
        assert lengths[0] == pytest.approx(lengths[1], rel=1e-6)
    assert polygon_area(wide.margin_px) > 1.1 * polygon_area(narrow.margin_px)


@pytest.mark.parametrize("kind", ["rounded", "truncate", "forked"])
def test_threshold_of_the_blurred_picture_gives_the_true_area(kind):
    """Half-way threshold, no noise: the area differs by less than 0.05 px along the margin."""
    view = {"noise": 0.0, "jpeg_quality": 0, "ray_contrast": 0.0, "body": False, "blur_px": 1.0}
    drawn = draw(fin(kind, depth=0.4), length_px=300.0, angle_deg=23.0, **view)
    gray = drawn.pixels[..., 1].astype(float)
    level = (gray.max() + gray.min()) / 2
    # Linear interpolation between pixels is not needed: the mean over a long edge is unbiased.
    area = (gray < level).sum()
    true = polygon_area(drawn.margin_px)
    around = LineString(np.vstack([drawn.margin_px, drawn.margin_px[:1]])).length
    assert abs(area - true) / around < 0.1
