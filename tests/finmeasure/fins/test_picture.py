"""Pictures of fin edges hold what they should, where it is."""

from dataclasses import replace

import numpy as np
import pytest

from finmeasure.drawing.damage import Damage
from finmeasure.fins.measure import measure_fin
from finmeasure.fins.picture import ORANGE, SKY_BLUE, VERMILLION, YELLOW, fin_picture
from finmeasure.fins.records import EDGE_CAPTION
from finmeasure.reading import Outline

from .conftest import GOOD, fin_spec, photographed

DAMAGES = (Damage("bite", 0.25, 0.13), Damage("slit", 0.7, 0.2, 0.02))


def near(picture, colour, reach=40):
    return np.abs(picture.astype(int) - colour).max(axis=2) <= reach


def photo_rows(picture):
    dark = np.all(picture[:, 2] == 40, axis=1)
    return int(np.flatnonzero(~dark).max()) + 1


@pytest.mark.parametrize("kind", ["rounded", "forked"])
def test_all_parts_are_drawn(kind, rng):
    fin = photographed(fin_spec(kind, damages=DAMAGES), replace(GOOD, length_px=250), rng)
    picture = fin_picture(fin.drawn.pixels, fin.measured(), width_px=600)
    assert picture.dtype == np.uint8
    assert picture.shape[1:] == (600, 3)
    photo = picture[: photo_rows(picture)]
    for colour in (ORANGE, SKY_BLUE):
        assert near(photo, colour).sum() > 200
    legend = picture[len(photo) :]
    for colour in (ORANGE, SKY_BLUE, VERMILLION, YELLOW):
        assert near(legend, colour, 5).any()


def test_the_margin_is_drawn_on_the_edge(rng):
    fin = photographed(fin_spec("rounded"), replace(GOOD, length_px=250), rng)
    edge = fin.measured()
    picture = fin_picture(fin.drawn.pixels, edge, width_px=800)
    room = 0.2 * edge.length_px + 2
    low = np.maximum(np.floor(edge.margin_px.min(axis=0) - room), 0)
    high = np.minimum(np.ceil(np.vstack([edge.margin_px, *edge.envelope_px]).max(axis=0) + room),
                      fin.drawn.pixels.shape[1::-1])  # fmt: skip
    factor = 800 / (high[0] - low[0])
    middle = edge.margin_px[len(edge.margin_px) // 2]
    x, y = np.rint((middle - low + 0.5) * factor).astype(int)
    assert near(picture[y - 4 : y + 5, x - 4 : x + 5], ORANGE).any()


def test_a_whole_fin_shows_no_missing_tissue(rng):
    fin = photographed(fin_spec("rounded"), replace(GOOD, length_px=250), rng)
    picture = fin_picture(fin.drawn.pixels, fin.measured(), width_px=500)
    assert not near(picture, VERMILLION, 10).any()


def test_a_refused_outline_gives_the_photo(rng):
    fin = photographed(fin_spec("rounded"), replace(GOOD, length_px=120), rng)
    outline = Outline("dorsal", fin.drawn.margin_px, spread="clamped")
    edge = measure_fin("dorsal", outline, fin.reading, None)
    picture = fin_picture(fin.drawn.pixels, edge, width_px=300)
    assert picture.shape[1] == 300


def test_caption_tells_of_new_tissue():
    assert EDGE_CAPTION == "New clear tissue at the edge is regrowth and easily missed."
