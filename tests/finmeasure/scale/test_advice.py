"""Advice for the next photo follows from the drawn set-up."""

import dataclasses

import numpy as np
import pytest

from finmeasure.card_design import card_design
from finmeasure.scale.advice import photo_advice
from finmeasure.scale.bar import bar_scale
from finmeasure.scale.find import find_scale
from finmeasure.scale.request import Bar, ScaleRequest

from .drawn import Camera, Conditions
from .series import as_photo, draw_card

DESIGN = card_design("window", "A5")
STRAIGHT = Camera(distance_mm=200.0, aim_mm=(105.0, 74.0))


def advice(camera):
    pixels = draw_card("window", "A5", camera, Conditions())
    scale = find_scale(as_photo(pixels), ScaleRequest())
    return photo_advice(scale, (camera.width, camera.height))


def test_a_good_photo_needs_no_advice():
    assert advice(STRAIGHT) == ()


def test_a_small_card_asks_for_a_nearer_photo_with_its_figure():
    # The ring is 182 mm wide; at 500 mm it spans 182 * 1550 / 500 = 564 of 2000 px.
    (sentence,) = advice(dataclasses.replace(STRAIGHT, distance_mm=500.0))
    assert "28 %" in sentence
    assert "nearer" in sentence


@pytest.mark.parametrize("tilt_deg", [16.0, 24.0])
def test_a_tilted_card_asks_for_a_straighter_photo(tilt_deg):
    (sentence,) = advice(dataclasses.replace(STRAIGHT, distance_mm=230.0, tilt_deg=tilt_deg))
    assert f"{tilt_deg:.0f}°" in sentence


def test_the_main_source_of_a_poor_scale_is_named():
    scale = bar_scale(Bar(0, 0, 400, 0, 20.0))
    (sentence,) = photo_advice(scale, (2000, 1500))
    assert "tilt" in sentence
    assert "2.0 %" in sentence


def test_a_blurred_and_a_burnt_out_card_are_told_with_their_figure():
    conditions = Conditions(blur_px=2.4)
    scale = find_scale(as_photo(draw_card("window", "A5", STRAIGHT, conditions)), ScaleRequest())
    (sentence,) = [one for one in scale.advice if "blurred" in one]
    assert float(sentence.split("over ")[1].split(" px")[0]) == pytest.approx(2.4, abs=0.3)
    pixels = draw_card("window", "A5", STRAIGHT, Conditions())
    bright = np.clip(pixels.astype(int) + 30, 0, 255).astype(np.uint8)  # white paper at 255
    scale = find_scale(as_photo(bright), ScaleRequest())
    (sentence,) = [one for one in scale.advice if "burnt out" in one]
    assert int(sentence.split(" %")[0]) > 50  # most of the card is white
    assert find_scale(as_photo(pixels), ScaleRequest()).advice == ()


def test_a_fish_over_the_edge_of_the_card_is_told():
    pixels = draw_card("window", "A5", STRAIGHT, Conditions())
    ends = STRAIGHT.to_pixel([[20, 60], [80, 60], [80, 80], [-5, 80]])
    scale = find_scale(as_photo(pixels), ScaleRequest(), fish_region_px=ends)
    assert any("outside the card" in one for one in scale.advice)
