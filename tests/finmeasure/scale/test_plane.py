"""A fish before the card: correction and uncertainty against methods.md B3 and exact optics."""

import numpy as np
import pytest

from finmeasure.photo.record import PhotoMetadata
from finmeasure.scale.bar import known_scale
from finmeasure.scale.find import find_scale
from finmeasure.scale.plane import camera_distance, to_fish_plane
from finmeasure.scale.request import ScaleRequest

from .series import as_photo

SIZE = PhotoMetadata(4000, 3000)
PLAIN = known_scale(10.0, 0.0, (4000, 3000))


@pytest.mark.parametrize(
    ("before_mm", "distance_mm", "too_large_percent"),
    [  # methods.md B3, ray-traced there: h = 5 and 10 mm at D = 200, 300, 500, 1000 mm
        (5, 200, 2.6), (10, 200, 5.3), (5, 300, 1.7), (10, 300, 3.4),
        (5, 500, 1.0), (10, 500, 2.0), (5, 1000, 0.5), (10, 1000, 1.0),
    ],
)  # fmt: skip
def test_correction_undoes_what_nearness_enlarges(before_mm, distance_mm, too_large_percent):
    request = ScaleRequest(fish_before_card_mm=before_mm, camera_distance_mm=distance_mm)
    corrected = to_fish_plane(PLAIN, request, SIZE)
    enlarged = corrected.px_per_mm / PLAIN.px_per_mm - 1
    assert 100 * enlarged == pytest.approx(too_large_percent, abs=0.06)


def test_correction_agrees_with_a_pinhole_camera():
    # Independent: project two ends of a 40 mm fish 8 mm before the card through a pinhole.
    focal_px, distance, before, length = 3100.0, 310.0, 8.0, 40.0
    seen_px = focal_px * length / (distance - before)
    on_card = known_scale(focal_px / distance, 0.0, (4000, 3000))
    request = ScaleRequest(fish_before_card_mm=before, camera_distance_mm=distance)
    corrected = to_fish_plane(on_card, request, SIZE)
    assert seen_px / corrected.px_per_mm == pytest.approx(length, rel=1e-12)


@pytest.mark.parametrize(
    ("before_mm", "distance_mm", "u_percent"),
    [(5, 200, 0.64), (10, 200, 1.3), (5, 300, 0.42), (10, 300, 0.85), (5, 500, 0.25),
     (10, 500, 0.51), (5, 1000, 0.13), (10, 1000, 0.25)],
)  # fmt: skip
def test_uncertainty_of_the_correction(before_mm, distance_mm, u_percent):
    # methods.md B3: hypot(u_h / D, h u_D / D²) with u_D = 5 % where D is from the focal length.
    focal_35mm = distance_mm * 10.0 * 43.2666 / 5000
    metadata = PhotoMetadata(4000, 3000, focal_35mm=focal_35mm)
    corrected = to_fish_plane(PLAIN, ScaleRequest(fish_before_card_mm=before_mm), metadata)
    assert 100 * corrected.u_rel == pytest.approx(
        u_percent, abs=0.03
    )  # one figure is rounded there
    assert "plane_assumed" not in corrected.flags


def test_distance_from_the_focal_length():
    # 26 mm equivalent on 4000 x 3000: f = 26 / 43.27 * 5000 = 3004 px; at 10 px/mm 300 mm away.
    found = camera_distance(PLAIN, ScaleRequest(), PhotoMetadata(4000, 3000, focal_35mm=26.0))
    assert found.mm == pytest.approx(300.4, abs=0.2)
    assert found.u_mm == pytest.approx(0.05 * found.mm)


def test_without_the_option_the_plane_is_assumed_and_nothing_corrected():
    scale = to_fish_plane(PLAIN, ScaleRequest(), SIZE)
    np.testing.assert_array_equal(scale.pixel_to_mm, PLAIN.pixel_to_mm)
    assert "plane_assumed" in scale.flags
    in_plane = to_fish_plane(PLAIN, ScaleRequest(fish_before_card_mm=0.0), SIZE)
    assert "plane_assumed" not in in_plane.flags


def test_more_than_one_percent_is_said_with_the_remedy():
    request = ScaleRequest(fish_before_card_mm=10.0, camera_distance_mm=300.0)
    note = to_fish_plane(PLAIN, request, SIZE).budget[-1].note
    assert "3.3 %" in note
    assert "500 mm" in note
    far = ScaleRequest(fish_before_card_mm=4.0, camera_distance_mm=600.0)
    assert "500 mm" not in to_fish_plane(PLAIN, far, SIZE).budget[-1].note


@pytest.mark.parametrize("focal", [None, 0.0, 2.0, 5000.0, -26.0])
def test_a_focal_length_that_is_absent_or_absurd_gives_no_scale(focal):
    request = ScaleRequest(px_per_mm=10.0, px_per_mm_u=0.1, fish_before_card_mm=8.0)
    refused = find_scale(as_photo(np.zeros((300, 400, 3), np.uint8), focal_35mm=focal), request)
    assert not refused
    assert "--camera-distance" in refused.remedy


def test_a_fish_behind_the_camera_gives_no_scale():
    metadata = PhotoMetadata(4000, 3000, focal_35mm=26.0)
    refused = to_fish_plane(PLAIN, ScaleRequest(fish_before_card_mm=400.0), metadata)
    assert not refused
    assert "400 mm" in refused.reason
