"""The fish outline before a plain ground, against the outlines of drawn fish (known exactly)."""

import numpy as np
import pytest
import shapely

from finmeasure.drawing.forms import random_spec
from finmeasure.drawing.photo import View, draw_photo
from finmeasure.drawing.scene import printed_card
from finmeasure.errors import NotFound
from finmeasure.photo.record import Photo, PhotoMetadata
from finmeasure.proposals.plain_ground import fish_outline_on_plain_ground
from finmeasure.scale.find import find_scale
from finmeasure.scale.request import ScaleRequest


def as_photo(pixels):
    height, width = pixels.shape[:2]
    return Photo(pixels, "0" * 64, PhotoMetadata(width, height))


def draw(number, body_form="plain", **view):
    rng = np.random.default_rng([23, number])
    options = {"width_px": 900, "height_px": 600} | view
    return draw_photo(random_spec(rng, body_form=body_form), View(**options), rng)


def true_fish(photo):
    """Union of everything that was drawn."""
    parts = [shapely.Polygon(points).buffer(0) for points in photo.outlines.values()]
    return shapely.union_all(parts)


def overlap(found, truth):
    """Area of intersection over area of union."""
    return found.intersection(truth).area / found.union(truth).area


@pytest.mark.parametrize("number", range(6))
def test_the_outline_is_that_of_the_drawn_fish(number):
    photo = draw(number, px_per_mm=0, blur_px=0.7)
    found = fish_outline_on_plain_ground(as_photo(photo.pixels))
    if isinstance(found, NotFound):  # pale fins may fade, never the fish
        pytest.fail(str(found))
    assert (found.part, found.closed, found.placed_by) == ("fish", True, "finmeasure")
    body = shapely.Polygon(photo.outlines["body"]).buffer(0)
    shape = shapely.Polygon(found.points_px).buffer(0)
    # the body is opaque: at least 97 % of it must lie within; transparent fins may be cut short
    assert shape.intersection(body).area / body.area > 0.97
    assert overlap(shape, true_fish(photo)) > 0.8


def test_an_opaque_disc_is_found_to_a_fifth_of_a_pixel():
    # closed form: radius of a disc drawn with exact coverage of each pixel's middle
    radius, (x0, y0) = 120.0, (250.3, 199.6)
    y, x = np.mgrid[:400, :500]
    cover = np.clip(radius + 0.5 - np.hypot(x - x0, y - y0), 0, 1)
    pixels = (210 - 150 * cover[..., None] * [1.0, 0.8, 0.6]).astype(np.uint8)
    found = fish_outline_on_plain_ground(as_photo(pixels))
    middle = found.points_px.mean(axis=0)
    assert np.allclose(middle, (x0, y0), atol=0.2)
    radii = np.hypot(*(found.points_px - middle).T)
    # the limit is passed where the blurred edge leaves the ground, up to 2 pixels outside
    assert radius - 0.5 < radii.mean() < radius + 2.0
    assert radii.std() < 0.2


@pytest.mark.parametrize(("paper", "px_per_mm"), [("A6", 5.6), ("A5", 4.0)])
def test_within_the_window_of_the_card(paper, px_per_mm):
    rng = np.random.default_rng(3)
    spec = random_spec(rng)
    card = printed_card("window", paper)
    view = View(width_px=900, height_px=640, card=card, px_per_mm=px_per_mm, tilt_deg=4)
    photo = draw_photo(spec, view, rng)
    picture = as_photo(photo.pixels)
    scale = find_scale(picture, ScaleRequest())
    assert scale
    found = fish_outline_on_plain_ground(picture, scale)
    shape = shapely.Polygon(found.points_px).buffer(0)
    body = shapely.Polygon(photo.outlines["body"]).buffer(0)
    assert shape.intersection(body).area / body.area > 0.95


@pytest.mark.parametrize(
    "pixels",
    [
        np.full((300, 400, 3), 200, np.uint8),
        np.random.default_rng(1).integers(0, 256, (300, 400, 3)).astype(np.uint8),
        np.zeros((1, 1, 3), np.uint8),
        np.full((20, 900, 3), 90, np.uint8),
    ],
    ids=["blank", "noise", "one pixel", "strip"],
)
def test_nothing_is_found_where_nothing_is(pixels):
    found = fish_outline_on_plain_ground(as_photo(pixels))
    assert isinstance(found, NotFound)
    assert found.reason


def test_a_fish_that_is_cut_off_by_the_frame_is_not_outlined():
    photo = draw(1)
    left = int(photo.landmarks["operculum_end"][0])
    found = fish_outline_on_plain_ground(as_photo(np.ascontiguousarray(photo.pixels[:, left:])))
    assert isinstance(found, NotFound)
    assert "clear of" in str(found)
