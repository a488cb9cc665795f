"""Two-point scales and known px/mm."""

import math

import numpy as np
import pytest

from finmeasure.errors import ScaleError
from finmeasure.scale.bar import bar_scale
from finmeasure.scale.find import find_scale
from finmeasure.scale.request import Bar, ScaleRequest

from .series import as_photo

BLANK = np.zeros((300, 400, 3), np.uint8)


def bar(length_px, length_mm, **more):
    return Bar(10.0, 20.0, 10.0 + length_px, 20.0, length_mm, **more)


@pytest.mark.parametrize(
    ("length_px", "click_sd_px", "u_percent"),
    [
        (500, 1.0, 0.283),  # facts.md 11: u = sqrt(2) s / L
        # methods.md B1, s = 1 px: 50, 20 and 10 mm at 5, 10 and 20 px/mm, in %
        (250, 1.0, 0.57),
        (500, 1.0, 0.28),
        (1000, 1.0, 0.14),
        (100, 1.0, 1.41),
        (200, 1.0, 0.71),
        (400, 1.0, 0.35),
    ],
)
def test_click_share_of_a_bars_uncertainty(length_px, click_sd_px, u_percent):
    scale = bar_scale(bar(length_px, 50.0, click_sd_px=click_sd_px, tilt_u_rel=0.0))
    assert 100 * scale.u_rel == pytest.approx(u_percent, abs=0.006)


def test_sources_add_as_root_sum_of_squares():
    # JCGM 100:2008 (GUM) 5.1.2 with independent relative uncertainties, worked by hand.
    scale = bar_scale(bar(400, 20.0, length_mm_u=0.05, click_sd_px=2.0, tilt_u_rel=0.02))
    by_hand = math.sqrt(2 * 2.0**2 / 400**2 + (0.05 / 20) ** 2 + 0.02**2)
    assert scale.u_rel == pytest.approx(by_hand, rel=1e-12)
    assert {line.source for line in scale.budget} == {"click", "reference", "tilt"}


@pytest.mark.parametrize("length_px", [100, 300])
@pytest.mark.parametrize("click_sd_px", [1.0, 2.0])
def test_click_uncertainty_covers_simulated_clicks(length_px, click_sd_px):
    rng = np.random.default_rng(7)
    draws = 2000
    clicks = rng.normal(0, click_sd_px, (draws, 4))
    inside = 0
    for dx1, dy1, dx2, dy2 in clicks:
        marked = Bar(dx1, dy1, length_px + dx2, dy2, 50.0, click_sd_px=click_sd_px, tilt_u_rel=0.0)
        scale = bar_scale(marked)
        error = scale.px_per_mm / (length_px / 50.0) - 1
        inside += abs(error) < 1.96 * scale.u_rel
    # Binomial 99.9 % limits of 95 % in 2000 draws: 93.3 to 96.5 %.
    assert 0.933 <= inside / draws <= 0.965


def test_a_bar_is_neither_rectified_nor_free_of_the_plane_assumption():
    scale = find_scale(as_photo(BLANK), ScaleRequest(bar=bar(200, 20.0)))
    assert scale.method == "bar"
    assert not scale.rectified
    assert {"not_rectified", "plane_assumed"} <= set(scale.flags)
    assert scale.px_per_mm == pytest.approx(10.0)


def test_short_bars_warn_and_very_short_ones_are_refused():
    assert "scale_uncertain" in bar_scale(bar(99, 10.0)).flags
    assert "scale_uncertain" not in bar_scale(bar(101, 10.0)).flags
    refused = bar_scale(bar(49, 10.0))
    assert not refused
    assert "49 px" in refused.reason


def test_a_scale_worse_than_five_percent_is_withheld():
    request = ScaleRequest(bar=bar(60, 10.0, click_sd_px=2.0, tilt_u_rel=0.04))
    refused = find_scale(as_photo(BLANK), request)
    assert not refused
    assert "5 %" in refused.reason


def test_known_scale_is_taken_as_stated():
    request = ScaleRequest(px_per_mm=12.5, px_per_mm_u=0.05)
    scale = find_scale(as_photo(BLANK), request)
    assert scale.px_per_mm == pytest.approx(12.5)
    assert scale.px_per_mm_u == pytest.approx(0.05)
    assert scale.method == "known"
    unsure = find_scale(as_photo(BLANK), ScaleRequest(px_per_mm=12.5))
    assert unsure.u_rel == pytest.approx(0.02)
    assert "scale_uncertain" in unsure.flags


@pytest.mark.parametrize(
    ("request_values", "words"),
    [
        ({"px_per_mm": 0.0}, "above 0"),
        ({"px_per_mm": float("nan")}, "above 0"),
        ({"px_per_mm": 5.0, "px_per_mm_u": -1.0}, "0 or more"),
        ({"px_per_mm_u": 1.0}, "without the px/mm"),
        ({"camera_distance_mm": -300.0}, "camera distance"),
        ({"fish_before_card_mm": -5.0}, "before the card"),
        ({"fish_before_card_mm": 300.0, "camera_distance_mm": 200.0}, "must be the larger"),
        ({"square_mm": -1.0}, "squares"),
        ({"square_mm": 5.0, "card": "window"}, "knows its own size"),
        ({"card": "round"}, "window, squares"),
    ],
)
def test_impossible_requests_are_refused_in_one_sentence(request_values, words):
    with pytest.raises(ScaleError, match=words):
        ScaleRequest(**request_values)


@pytest.mark.parametrize(
    "values", [(0, 0, 100, 0, 0.0), (0, 0, 100, 0, -3.0), (0, float("inf"), 100, 0, 5.0)]
)
def test_impossible_bars_are_refused(values):
    with pytest.raises(ScaleError):
        Bar(*values)


def test_ruler_in_the_bluegill_photo_by_two_marks(shared):
    # shared/photos/photos.csv, read by hand: mark 11 at x = 1338 px, mark 3 at x = 4088 px, 8 cm
    # apart; PROVENANCE.csv, by Fourier on rows 700-720: 34.31 px per mm.
    from finmeasure.photo.reading import read_photo

    photo = read_photo(shared / "photos" / "bluegill_with_ruler.jpg")
    marked = Bar(1338.0, 710.0, 4088.0, 710.0, 80.0)
    scale = find_scale(photo, ScaleRequest(bar=marked))
    assert scale.px_per_mm == pytest.approx(34.375, rel=1e-9)
    assert scale.px_per_mm == pytest.approx(34.31, rel=0.005)
    assert abs(scale.px_per_mm - 34.31) < 1.96 * scale.px_per_mm_u
