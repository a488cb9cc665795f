"""Rulers by two clicks and all ticks between: drawn ones with known truth, and two real ones.

Bars: methods.md B, ruler: 0.18 % (median), 1.3 % (worst), without lens distortion far better.
"""

import numpy as np
import pytest

from finmeasure.errors import ScaleError
from finmeasure.scale.find import find_scale
from finmeasure.scale.references import Ruler
from finmeasure.scale.request import Bar, ScaleRequest

from .drawn import Camera, Conditions, draw
from .paper_sheets import ruler_sheet
from .series import as_photo
from .test_negative import texture

PLAIN = Conditions(blur_px=1.0, noise=3.0, jpeg=90, background=120.0)


def clicked(camera, start_mm=12.0, stop_mm=148.0, row_mm=2.0, tick_mm=1.0, flip=False):
    """Two clicks on the row of ticks, and the true length between them."""
    ends = camera.to_pixel([[start_mm, row_mm], [stop_mm, row_mm]])
    if flip:
        ends = ends[::-1]
    return Ruler(*ends.ravel(), tick_mm=tick_mm), stop_mm - start_mm


def error_of(scale, ruler, length_mm):
    return ruler.length_px / scale.px_per_mm / length_mm - 1


def found(pixels, ruler):
    return find_scale(as_photo(pixels), ScaleRequest(ruler=ruler))


def test_drawn_series_meets_the_bars():
    rng = np.random.default_rng(31)
    sheet, errors, inside = ruler_sheet(), [], []
    for number in range(12):
        camera = Camera(
            distance_mm=rng.uniform(190, 250),
            tilt_deg=rng.uniform(0, 25),
            tilt_direction_deg=rng.uniform(0, 360),
            roll_deg=rng.uniform(-40, 220),
            radial=float(rng.choice([-0.1, -0.04, 0.0, 0.05])),
            aim_mm=(80 + rng.normal(0, 5), 12 + rng.normal(0, 15)),
        )
        conditions = Conditions(
            blur_px=rng.uniform(0.7, 2.0), noise=rng.uniform(2, 8), background=130.0, seed=number
        )
        ruler, length_mm = clicked(camera, flip=bool(number % 2))
        scale = found(draw(sheet, 16.0, camera, conditions), ruler)
        if not scale:  # a ruler tilted along its length has no one scale: said so, not guessed
            assert camera.tilt_deg > 10
            assert "uncertain by" in scale.reason
            continue
        errors.append(abs(error_of(scale, ruler, length_mm)))
        inside.append(errors[-1] < 1.96 * scale.u_rel)
    assert len(errors) >= 6
    assert np.median(errors) <= 0.0018
    assert max(errors) <= 0.013
    assert np.mean(inside) >= 0.93


@pytest.mark.parametrize("roll_deg", [0.0, 90.0, 180.0, 217.0])
def test_a_ruler_counts_the_same_upside_down(roll_deg):
    camera = Camera(distance_mm=190.0, roll_deg=roll_deg, aim_mm=(80.0, 12.0))
    ruler, length_mm = clicked(camera)
    scale = found(draw(ruler_sheet(), 16.0, camera, PLAIN), ruler)
    assert error_of(scale, ruler, length_mm) == pytest.approx(0, abs=2e-4)
    assert scale.method == "ruler"
    assert {"not_rectified", "plane_assumed"} <= set(scale.flags)


def test_sixteenths_of_an_inch():
    tick_mm = 25.4 / 16  # 1 inch = 25.4 mm exactly
    camera = Camera(distance_mm=190.0, aim_mm=(80.0, 12.0))
    ruler, length_mm = clicked(camera, tick_mm=tick_mm)
    sheet = ruler_sheet(tick_mm=tick_mm, halves=8, wholes=16)
    scale = found(draw(sheet, 16.0, camera, PLAIN), ruler)
    assert error_of(scale, ruler, length_mm) == pytest.approx(0, abs=4e-4)


def test_a_partly_hidden_ruler():
    camera = Camera(distance_mm=190.0, aim_mm=(80.0, 12.0))
    sheet = ruler_sheet()
    sheet[:, 45 * 16 : 75 * 16] = 110  # a fin or a hand over 30 mm
    ruler, length_mm = clicked(camera)
    scale = found(draw(sheet, 16.0, camera, PLAIN), ruler)
    assert error_of(scale, ruler, length_mm) == pytest.approx(0, abs=3e-4)


def test_light_ticks_on_a_dark_ruler():
    camera = Camera(distance_mm=190.0, aim_mm=(80.0, 12.0))
    ruler, length_mm = clicked(camera)
    scale = found(draw(255 - ruler_sheet(), 16.0, camera, PLAIN), ruler)
    assert error_of(scale, ruler, length_mm) == pytest.approx(0, abs=2e-4)


@pytest.mark.parametrize("row", [690.0, 700.0, 712.0, 720.0])
def test_ruler_of_the_bluegill_photo(shared, row):
    # shared/photos/PROVENANCE.csv: 34.31 px per mm by Fourier on rows 700-720; photos.csv: 34.375
    # from marks 11 and 3 read by hand. The issue asks for 0.5 %.
    from finmeasure.photo.reading import read_photo

    photo = read_photo(shared / "photos" / "bluegill_with_ruler.jpg")
    scale = find_scale(photo, ScaleRequest(ruler=Ruler(1000.0, row, 4080.0, row + 4)))
    assert scale.px_per_mm == pytest.approx(34.31, rel=0.005)


def test_ruler_of_the_squid_photo(shared):
    # Read by hand in this photo: mark 30 at x = 367, mark 0 at x = 2648 (7.603 px/mm over all).
    # PROVENANCE.csv gives 7.73 px/mm, which is the middle: strips of 300 px by Fourier (the row of
    # ticks, apart from the program) give 7.46 at x = 550, 7.64 at 950, 7.72 to 7.75 from 1150 to
    # 1750, 7.65 at 1950 and 7.51 at 2350. The lens makes the ends smaller, so the whole ruler and
    # its middle differ by more than 1 % and the scale must say so.
    from finmeasure.photo.reading import read_photo

    photo = read_photo(shared / "photos" / "squid_with_30cm_ruler.jpg")
    scale = find_scale(photo, ScaleRequest(ruler=Ruler(400.0, 106.0, 2620.0, 94.0)))
    assert scale.px_per_mm == pytest.approx((2648 - 367) / 300, rel=0.002)
    assert abs(scale.px_per_mm - 7.73) < 1.96 * scale.px_per_mm_u
    middle = find_scale(photo, ScaleRequest(ruler=Ruler(1000.0, 102.8, 2000.0, 97.4)))
    assert middle.px_per_mm == pytest.approx(7.73, rel=0.002)
    assert next(line.u_rel for line in scale.budget if line.source == "lens") > 0.005


@pytest.mark.parametrize(
    ("name", "x1", "x2", "y", "length_px"),
    [  # shared/photos/PROVENANCE.csv: bars of 1 cm, longest run measured by hand, ± 1 px
        ("insect_scalebar_swallowtail.jpg", 0, 91, 0, 91),
        ("insect_scalebar_butterfly.jpg", 0, 111, 0, 111),
        ("insect_scalebar_moth.jpg", 0, 56, 0, 56),
    ],
)
def test_one_centimetre_bars_by_their_marked_ends(shared, name, x1, x2, y, length_px):
    from finmeasure.photo.reading import read_photo

    photo = read_photo(shared / "photos" / name)
    scale = find_scale(photo, ScaleRequest(bar=Bar(x1, y, x2, y, 10.0)))
    assert scale.px_per_mm == pytest.approx(length_px / 10, rel=1e-9)
    assert ("scale_uncertain" in scale.flags) is True  # all three are short


@pytest.mark.parametrize("number", range(12))
def test_textures_are_no_ruler(number):
    scale = found(texture(number), Ruler(50.0, 100.0, 650.0, 140.0))
    if scale:  # even stripes, tiles and scales are a row of even ticks: only those may pass
        assert number % 6 in (2, 4, 5)


def test_wrong_clicks_are_refused():
    blank = np.full((300, 900, 3), 200, np.uint8)
    assert "No even row" in found(blank, Ruler(50.0, 100.0, 850.0, 100.0)).reason
    assert "px long" in found(blank, Ruler(50.0, 100.0, 120.0, 100.0)).reason
    with pytest.raises(ScaleError, match="above 0"):
        Ruler(0, 0, 500, 0, tick_mm=0.0)
    with pytest.raises(ScaleError, match="more than one"):
        ScaleRequest(ruler=Ruler(0, 0, 500, 0), px_per_mm=5.0)
