"""Scale from a marked blank ID-1 card or coin, on exact projections of a pinhole camera."""

import dataclasses

import numpy as np
import pytest

from finmeasure.errors import ScaleError
from finmeasure.scale.find import find_scale
from finmeasure.scale.references import COINS_MM, MarkedObject
from finmeasure.scale.request import ScaleRequest

from .drawn import Camera
from .series import as_photo

BLANK = as_photo(np.zeros((60, 80, 3), np.uint8))
# ISO/IEC 7810: 85.60 x 53.98 mm.
CARD = np.array([[0.0, 0.0], [85.60, 0.0], [85.60, 53.98], [0.0, 53.98]])
CAMERA = Camera(distance_mm=300.0, aim_mm=(42.8, 27.0))


def rim(diameter_mm, count=24):
    angle = np.linspace(0, 2 * np.pi, count, endpoint=False)
    return diameter_mm / 2 * np.column_stack([np.cos(angle), np.sin(angle)])


def scale_of(name, points_px, **more):
    marked = MarkedObject(name, tuple(map(tuple, points_px)), **more)
    return find_scale(BLANK, ScaleRequest(marked=marked))


@pytest.mark.parametrize("turn", range(4))
@pytest.mark.parametrize("tilt_deg", [0.0, 12.0, 22.0])
def test_four_corners_of_a_blank_card_take_the_tilt_out(turn, tilt_deg):
    camera = dataclasses.replace(CAMERA, tilt_deg=tilt_deg, tilt_direction_deg=40.0, roll_deg=70.0)
    scale = scale_of("ID1", camera.to_pixel(np.roll(CARD, turn, axis=0)))
    ends = np.array([[10.0, 5.0], [70.0, 40.0], [20.0, 50.0], [60.0, 8.0]])
    measured = scale.to_mm(camera.to_pixel(ends))
    for first, second in ((0, 1), (2, 3), (0, 3)):
        true = np.hypot(*(ends[first] - ends[second]))
        assert np.hypot(*(measured[first] - measured[second])) == pytest.approx(true, rel=1e-4)
    assert scale.rectified
    assert scale.method == "known_object"


def test_uncertainty_of_the_card_covers_clicks():
    rng = np.random.default_rng(2)
    true_px = CAMERA.to_pixel(CARD)
    exact = scale_of("ID1", true_px)
    errors, stated = [], []
    for _ in range(300):
        scale = scale_of("ID1", true_px + rng.normal(0, 1, (4, 2)))
        errors.append(scale.px_per_mm / exact.px_per_mm - 1)
        stated.append(next(line.u_rel for line in scale.budget if line.source == "click"))
    # Binomial 99.9 % limits of 95 % in 300 draws: 90.3 to 98.3 %; a wider u is allowed.
    assert np.mean(np.abs(errors) < 1.96 * np.array(stated)) >= 0.903


@pytest.mark.parametrize("name", ["EUR 1", "US 25c", "JPY 500"])
@pytest.mark.parametrize("tilt_deg", [0.0, 10.0, 18.0])
def test_a_coin_gives_lengths_in_any_direction_whatever_the_tilt(name, tilt_deg):
    camera = dataclasses.replace(CAMERA, aim_mm=(0.0, 0.0), tilt_deg=tilt_deg, roll_deg=25.0)
    scale = scale_of(name, camera.to_pixel(rim(COINS_MM[name])))
    across = rim(16.0, 8)  # lengths of 16 mm where the coin lies, in four directions
    measured = scale.to_mm(camera.to_pixel(across))
    lengths = np.hypot(*(measured[:4] - measured[4:]).T)
    assert lengths == pytest.approx(np.full(4, 16.0), rel=2e-3)
    # the photo's directions stay: a step to the right on the coin is one in the photo
    right, down = np.linalg.inv(scale.pixel_to_mm[:2, :2]).T
    assert right[0] > 0.9 * np.hypot(*right)
    assert down[1] > 0.9 * np.hypot(*down)


def test_uncertainty_of_the_rim_matches_the_scatter_of_clicks():
    rng = np.random.default_rng(4)
    true_px = dataclasses.replace(CAMERA, aim_mm=(0.0, 0.0), tilt_deg=8.0).to_pixel(rim(23.25, 16))
    scales = [scale_of("EUR 1", true_px + rng.normal(0, 1, (16, 2))) for _ in range(300)]
    level_mm = [
        np.hypot(*scale.pixel_to_mm[:2, 0]) for scale in scales
    ]  # of one pixel to the right
    scatter = np.std(level_mm) / np.mean(level_mm)
    stated = next(line.u_rel for line in scales[0].budget if line.source == "click")
    assert scatter == pytest.approx(stated, rel=0.15)  # 300 draws: 4 %, the formula is first order


def test_too_much_tilt_and_wrong_marks_are_refused():
    steep = dataclasses.replace(CAMERA, tilt_deg=40.0)
    assert "tilted" in scale_of("ID1", steep.to_pixel(CARD)).reason
    crossed = CAMERA.to_pixel(CARD[[0, 2, 1, 3]])
    assert "corners" in scale_of("ID1", crossed).reason
    far = dataclasses.replace(CAMERA, aim_mm=(0.0, 0.0), distance_mm=2000.0)
    assert "px wide" in scale_of("EUR 1", far.to_pixel(rim(23.25))).reason
    lying = dataclasses.replace(CAMERA, aim_mm=(0.0, 0.0), tilt_deg=23.0)
    assert "at most 20°" in scale_of("EUR 1", lying.to_pixel(rim(23.25))).reason


@pytest.mark.parametrize(
    ("name", "count", "words"),
    [("spoon", 4, "not known"), ("ID1", 3, "4 are needed"), ("EUR 1", 5, "8 are needed")],
)
def test_impossible_marks_are_refused(name, count, words):
    with pytest.raises(ScaleError, match=words):
        MarkedObject(name, tuple((float(i), float(i * i)) for i in range(count)))
