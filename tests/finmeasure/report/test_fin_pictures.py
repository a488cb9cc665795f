"""Pictures of fin edges: margin, envelope, missing tissue and sectors, where they are."""

import re
from dataclasses import replace

import cv2
import numpy as np
import pytest

from finmeasure.batch.pictures import write_pictures
from finmeasure.drawing.damage import Damage
from finmeasure.fins.measure import measure_fin
from finmeasure.reading import Outline
from finmeasure.report.colours import PART_COLOURS, REDDISH_PURPLE, VERMILLION
from finmeasure.report.fish_drawing import OverlayFish
from finmeasure.report.html import write_table_report
from finmeasure.report.overlay import CLOSE_UPS, draw_fin, overlay_name
from finmeasure.study.records import FishResult, PhotoResult
from finmeasure.study.store import Study

from ..fins.conftest import GOOD, fin_spec, photographed

DAMAGES = (Damage("bite", 0.25, 0.13), Damage("slit", 0.7, 0.2, 0.02))
LARGE = replace(GOOD, length_px=250)


@pytest.fixture
def rng():
    return np.random.default_rng(20261125)


def picture_of(fin, edge):
    """The picture as RGB, and a function from photo places to its pixels."""
    data = np.frombuffer(draw_fin(fin.drawn.pixels, edge), np.uint8)
    picture = cv2.imdecode(data, cv2.IMREAD_COLOR)[..., ::-1].astype(int)
    low, high = edge.margin_px.min(axis=0), edge.margin_px.max(axis=0)
    corner = np.maximum(np.floor(low - 0.15 * (high - low).max()), 0)
    box_high = np.minimum(np.ceil(high + 0.15 * (high - low).max()), fin.drawn.pixels.shape[1::-1])
    factor = max(picture.shape[:2]) / (box_high - corner).max()

    def place(point_px):
        return np.rint((np.asarray(point_px) + 0.5 - corner) * factor - 0.5).astype(int)

    return picture, place


def shows(picture, place, colour, reach=5):
    """Whether a colour stands within some pixels of a place."""
    x, y = np.maximum(place, reach)
    part = picture[y - reach : y + reach + 1, x - reach : x + reach + 1]
    return bool((np.abs(part - colour).max(axis=2) <= 60).any())


@pytest.mark.parametrize("kind", ["rounded", "forked"])
def test_margin_and_missing_tissue_are_drawn_where_they_are(kind, rng):
    fin = photographed(fin_spec(kind, damages=DAMAGES), LARGE, rng)
    edge = fin.measured()
    picture, place = picture_of(fin, edge)
    margin = edge.margin_px[:: len(edge.margin_px) // 12]
    assert np.mean([shows(picture, place(p), PART_COLOURS[edge.fin]) for p in margin]) > 0.7
    colours = {"notch": VERMILLION, "split": REDDISH_PURPLE}
    assert {notch.kind for notch in edge.notches} == set(colours)
    for notch in edge.notches:
        rim = notch.outline_px[:: max(len(notch.outline_px) // 6, 1)]
        assert any(shows(picture, place(p), colours[notch.kind]) for p in rim)


def test_sectors_are_divided_by_lines(rng):
    fin = photographed(fin_spec("rounded"), replace(LARGE, ray_contrast=0.0), rng)
    edge = fin.measured()
    picture, place = picture_of(fin, edge)
    bare, _ = picture_of(fin, replace(edge, sectors_px=()))
    changed = np.abs(picture - bare).max(axis=2)
    for ring in edge.sectors_px[:-1]:
        x, y = place(ring[len(ring) // 2 - 1 : len(ring) // 2 + 1].mean(axis=0))
        assert changed[y - 3 : y + 4, x - 3 : x + 4].max() > 60
    x, y = place(edge.sectors_px[4][[-1, len(edge.sectors_px[4]) // 2]].mean(axis=0))
    assert changed[y - 2 : y + 3, x + 40 : x + 60].max() < 40  # beside the fin nothing changes


def test_a_whole_fin_shows_no_missing_tissue(rng):
    fin = photographed(fin_spec("rounded"), LARGE, rng)
    picture, _ = picture_of(fin, fin.measured())
    assert not (np.abs(picture - VERMILLION).max(axis=2) <= 40).any()


def test_every_fin_with_a_margin_gets_its_picture_and_a_refused_one_loses_it(rng, tmp_path):
    fin = photographed(fin_spec("rounded"), LARGE, rng)
    (tmp_path / CLOSE_UPS).mkdir()
    file = tmp_path / CLOSE_UPS / overlay_name("a.jpg", "1", "dorsal")
    clamped = Outline("dorsal", fin.drawn.margin_px, spread="clamped")
    refused = measure_fin("dorsal", clamped, fin.reading, None)
    for edge, there in ((fin.measured(), True), (refused, False)):
        fish = OverlayFish(fin.reading, {"dorsal": edge})
        write_pictures(tmp_path, "a.jpg", fin.drawn.pixels, scale=None, fish=(fish,), refusal="")
        assert file.is_file() == there


def test_the_report_shows_each_fin_with_its_caption_and_warns_of_new_tissue(rng, tmp_path):
    fin = photographed(fin_spec("rounded", damages=DAMAGES), LARGE, rng)
    edge = fin.measured()
    with Study.open(tmp_path / "study", create=True) as study:
        overlays = study.folder / "overlays"
        (overlays / CLOSE_UPS).mkdir(parents=True)
        write_pictures(
            overlays, "a.jpg", fin.drawn.pixels, scale=None,
            fish=(OverlayFish(fin.reading, {"dorsal": edge}),), refusal="",
        )  # fmt: skip
        fish = FishResult(fin.reading, edge.measures, "left")
        study.record_photo_result(PhotoResult("a.jpg", "a" * 64, "measured", "g", fish=(fish,)))
        write_table_report(study, tmp_path / "report.html")
    text = (tmp_path / "report.html").read_text(encoding="utf-8")
    assert text.count("data:image/jpeg") == 2  # the fish and its fin
    assert re.search(r"<figcaption>dorsal[^<]*: raggedness \d", text)
    # design.md: said where edges are shown
    assert "New clear tissue at the edge is regrowth and easily missed." in text
    assert "1 to 5 are the sectors that are followed over time." in text
