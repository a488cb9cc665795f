"""The rough frame round the fish holds the drawn fish, and is not much larger."""

import csv
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from finmeasure.drawing.forms import random_spec
from finmeasure.drawing.photo import View, draw_photo
from finmeasure.drawing.scene import printed_card
from finmeasure.errors import NotFound
from finmeasure.marking.framing import fish_frame
from finmeasure.photo.reading import read_photo
from finmeasure.photo.record import Photo, PhotoMetadata
from finmeasure.scale.find import find_scale
from finmeasure.scale.request import ScaleRequest

SAMPLES = Path(__file__).parents[3] / "sample_images"


@pytest.mark.parametrize("form", ["plain", "cichlid"])
@pytest.mark.parametrize("on_card", [True, False])
def test_the_body_of_a_drawn_fish_is_inside(form, on_card):
    rng = np.random.default_rng(8)
    card = {"card": printed_card("window", "A6"), "px_per_mm": 8.0} if on_card else {}
    drawn = draw_photo(random_spec(rng, body_form=form), View(1300, 950, **card), rng)
    photo = Photo(drawn.pixels, "0" * 64, PhotoMetadata(1300, 950))
    gray = np.asarray(Image.fromarray(drawn.pixels).convert("L"))
    frame = fish_frame(gray, find_scale(photo, ScaleRequest()))
    assert frame is not None
    left, top, right, bottom = frame
    low, high = drawn.outlines["body"].min(axis=0), drawn.outlines["body"].max(axis=0)
    assert left <= low[0]
    assert right >= high[0]
    assert top <= low[1] + 2
    assert bottom >= high[1] - 2
    whole = np.vstack(list(drawn.outlines.values()))
    assert right - left < 1.8 * np.ptp(whole[:, 0])


@pytest.mark.parametrize("name", ["b01", "b03", "b06"])
def test_the_ring_of_a_small_card_is_not_taken_for_the_fish(name):
    # squares of the bank-size card's ring reach far into the photo, and are darker than the fish
    photo = read_photo(SAMPLES / "bag_7" / f"2026-05-02_{name}.jpg")
    gray = np.asarray(Image.fromarray(photo.pixels).convert("L"))
    left, top, right, bottom = fish_frame(gray, find_scale(photo, ScaleRequest()))
    with (SAMPLES / "landmarks.csv").open(encoding="utf-8") as table:
        rows = [row for row in csv.DictReader(table) if row["photo"].endswith(f"_{name}.jpg")]
    marks = np.array([(row["x_px"], row["y_px"]) for row in rows if row["x_px"]], float)
    assert ([left, top] <= marks.min(axis=0)).all()
    assert ([right, bottom] >= marks.max(axis=0)).all()
    assert right - left < 1.8 * np.ptp(marks[:, 0])


def test_a_blank_photo_has_no_frame():
    assert fish_frame(np.full((300, 400), 200, np.uint8), NotFound("none")) is None
