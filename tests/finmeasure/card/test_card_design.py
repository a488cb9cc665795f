"""The numbers of the cards, checked against the public dictionary and against each other."""

import hashlib

import cv2
import numpy as np
import pytest

from finmeasure import card_design
from finmeasure.card.raster import card_raster
from finmeasure.card_design import DESIGNS, KINDS, PAPER_MM
from finmeasure.errors import DefinitionError

# Frozen on release: cards with these numbers are in use. A change needs a new version with new
# marker ids, never a new digest for version 1.
VERSION_1_DIGEST = "166cf8fa07954306ff73eaa6ca2a1113f8bdc528c82f233cdc50325323ae58dc"


def ids(design):
    return f"{design.kind}-{design.paper}"


def test_released_designs_never_change():
    numbers = [
        [design.kind, design.paper, design.version, *np.ravel(places).round(6).tolist()]
        for design in DESIGNS
        if design.version == 1
        for places in (
            design.corners_mm,
            design.marker_corners_mm,
            design.marker_ids,
            design.check_mm,
            [(r.left, r.top, r.right, r.bottom) for r in design.rectangles()],
        )
    ]
    assert hashlib.sha256(repr(numbers).encode()).hexdigest() == VERSION_1_DIGEST


def test_markers_are_those_of_the_public_dictionary():
    # Reference: the predefined dictionary as OpenCV ships it.
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_250)
    for number in range(card_design.DICTIONARY_SIZE):
        expected = cv2.aruco.generateImageMarker(dictionary, number, card_design.MARKER_CELLS) == 0
        np.testing.assert_array_equal(card_design.marker_cells(number), expected)


def test_every_kind_comes_on_every_paper():
    assert {(d.kind, d.paper) for d in DESIGNS} == {(k, p) for k in KINDS for p in PAPER_MM}


def test_paper_sizes():
    # ISO 216: A4 210 x 297, A5 148 x 210, A6 105 x 148. Letter is 8.5 x 11 inches of 25.4 mm.
    # ISO/IEC 7810: ID-1 is 85.60 x 53.98.
    assert PAPER_MM["A4"] == (297, 210)
    assert PAPER_MM["A5"] == (210, 148)
    assert PAPER_MM["A6"] == (148, 105)
    assert PAPER_MM["letter"] == pytest.approx((11 * 25.4, 8.5 * 25.4))
    assert PAPER_MM["ID1"] == (85.60, 53.98)


def test_marker_blocks_do_not_overlap_and_leave_room_for_a_later_version():
    taken = [number for design in DESIGNS for number in design.marker_ids]
    taken += card_design.DIGIT_MARKERS
    assert len(taken) == len(set(taken))
    assert max(taken) < card_design.NEXT_FREE_MARKER
    cards = sum(len(design.marker_ids) for design in DESIGNS)
    assert card_design.NEXT_FREE_MARKER + cards <= card_design.DICTIONARY_SIZE <= 250


@pytest.mark.parametrize("design", DESIGNS, ids=ids)
def test_a_card_keeps_to_its_limits(design):
    assert len(design.marker_ids) <= 40
    assert design.module_mm >= 1.2 - 1e-9
    width, height = design.size_mm
    edge = design.pattern
    assert 0 < edge.left < edge.right < width
    assert 0 < edge.top < edge.bottom < height
    assert max(design.check_mm) <= 150  # the commonest caliper; common practice, no source


@pytest.mark.parametrize("design", DESIGNS, ids=ids)
def test_black_parts_do_not_overlap(design):
    # Where two black parts overlapped, the ink of a pixel would be counted twice.
    per_mm = 6
    ink = sum((r.right - r.left) * (r.bottom - r.top) for r in design.rectangles())
    raster = card_raster(design, per_mm)
    assert (1 - raster / 255).sum() / per_mm**2 == pytest.approx(ink, rel=2e-3)


@pytest.mark.parametrize("design", DESIGNS, ids=ids)
def test_the_public_detector_reads_every_marker_where_the_design_has_it(design):
    per_mm = 6.0
    picture = cv2.copyMakeBorder(
        card_raster(design, per_mm), 40, 40, 40, 40, cv2.BORDER_CONSTANT, value=120
    )
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_250)
    corners, numbers, _ = cv2.aruco.ArucoDetector(dictionary).detectMarkers(picture)
    assert sorted(numbers.ravel()) == list(design.marker_ids)
    known = dict(zip(design.marker_ids, design.marker_corners_mm, strict=True))
    for number, found in zip(numbers.ravel(), corners, strict=True):
        expected = known[int(number)] * per_mm - 0.5 + 40
        assert np.abs(found.reshape(4, 2) - expected).max() < 2.0  # its corners are rough


def test_an_unknown_card_names_what_exists():
    with pytest.raises(DefinitionError, match="window, squares"):
        card_design.card_design("window", "A4", version=2)


def test_a_marker_outside_the_dictionary_is_refused():
    with pytest.raises(DefinitionError, match="0 to 249"):
        card_design.marker_cells(250)


def test_raster_places_a_millimetre_where_it_says():
    design = card_design.card_design("window", "A6")
    per_mm = 9.7  # not a whole number: edges fall inside pixels
    raster = card_raster(design, per_mm).astype(float)
    row = raster[round((design.pattern.top + 0.4) * per_mm)]
    ink_from_left = (255 - row[: round((design.pattern.left + 2) * per_mm)]).sum() / 255
    start = round((design.pattern.left + 2) * per_mm) - ink_from_left
    assert start / per_mm == pytest.approx(design.pattern.left, abs=0.002)
