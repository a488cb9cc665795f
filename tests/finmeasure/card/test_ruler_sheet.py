"""The printed ruler: ticks read back by an independent rasteriser (pypdfium2), scale and all."""

import numpy as np
import pypdfium2 as pdfium
import pytest

from finmeasure.card.ruler_sheet import PAPERS, ruler_length_mm, write_ruler
from finmeasure.card_design import PAPER_MM
from finmeasure.photo.record import Photo, PhotoMetadata
from finmeasure.scale.find import find_scale
from finmeasure.scale.references import Ruler
from finmeasure.scale.request import ScaleRequest

DPI = 508.0  # twenty dots per millimetre


@pytest.mark.parametrize("paper", PAPERS)
def test_ticks_are_exact_millimetres(tmp_path, paper):
    length_mm = write_ruler(tmp_path / "ruler.pdf", paper)
    with pdfium.PdfDocument(tmp_path / "ruler.pdf") as document:
        pixels = document[0].render(scale=DPI / 72).to_numpy()[..., 0]
    per_mm = pixels.shape[1] / PAPER_MM[paper][0]  # the rasteriser makes whole pixels
    row = pixels[round((8.0 + 2.0) * per_mm)] < 128  # through the shortest ticks of the first ruler
    edges = np.flatnonzero(np.diff(np.concatenate([[0], row.astype(int), [0]])))
    middles = (edges[::2] + edges[1::2]) / 2
    # first and last: the dashed cut line may or may not be inked at this height
    left = (PAPER_MM[paper][0] - length_mm) / 2 * per_mm
    inner = middles[(middles > left - 5) & (middles < left + length_mm * per_mm + 5)]
    assert len(inner) == length_mm + 1
    assert np.abs(inner - left - np.arange(length_mm + 1) * per_mm).max() < 1.0  # 0.05 mm


def test_the_ruler_is_measured_as_printed(tmp_path):
    length_mm = write_ruler(tmp_path / "ruler.pdf", "A5")
    with pdfium.PdfDocument(tmp_path / "ruler.pdf") as document:
        pixels = np.ascontiguousarray(document[0].render(scale=254 / 72).to_numpy()[..., :3])
    height, width = pixels.shape[:2]
    per_mm, row = width / PAPER_MM["A5"][0], 10.0
    left = (PAPER_MM["A5"][0] - length_mm) / 2
    ruler = Ruler((left + 5) * per_mm, row * per_mm, (left + length_mm - 5) * per_mm, row * per_mm)
    photo = Photo(pixels, "0" * 64, PhotoMetadata(width, height))
    scale = find_scale(photo, ScaleRequest(ruler=ruler))
    assert scale.px_per_mm == pytest.approx(per_mm, rel=3e-4)


def test_lengths_are_whole_centimetres_that_fit_the_paper():
    for paper in PAPERS:
        length_mm = ruler_length_mm(paper)
        assert length_mm % 10 == 0
        assert PAPER_MM[paper][0] - 50 < length_mm < PAPER_MM[paper][0] - 15
