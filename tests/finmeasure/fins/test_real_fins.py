"""Hand-traced fins on real photographs: torn above whole.

The remarks come with the photographs (photos.csv): the serpae tetra's dorsal is "torn/split in
lobes", the carp's is "naturally ragged"; the rainbow trout's fins are eroded to short smooth
stumps, which shows in their length and not in their edge.
"""

import cv2
import numpy as np
import pytest

from finmeasure.fins.measure import measure_fin
from finmeasure.fins.records import MEDIAN_FINS

from .real_fish import fish_of, photos_with

TORN = ("serpae-tetra.jpg", "dorsal")
RAGGED = ("common_carp_white.jpg", "dorsal")
SICKLE = ("lemon-tetra.jpg", "anal")
WORN = ("rainbow_trout_market_eroded_fins.jpg", "dorsal")


@pytest.fixture(scope="module")
def edges(shared):
    """Every traced median fin, measured with its photo."""
    found = {}
    for photo in photos_with(shared, "body"):
        fish = fish_of(shared, photo)
        gray = cv2.imread(str(shared / "photos" / photo), cv2.IMREAD_GRAYSCALE)
        for fin in MEDIAN_FINS:
            if fin in fish.outlines:
                edge = measure_fin(fin, fish.outlines[fin], fish, None, gray=gray)
                found[photo, fin] = edge
    return found


def value(edge, name):
    return edge.by_id[f"{edge.fin}_{name}"].value


def test_every_traced_outline_can_be_used(edges):
    assert len(edges) >= 20
    for edge in edges.values():
        assert all("outline_invalid" not in measure.flags for measure in edge.measures)
        assert len(edge.margin_px)


def test_the_torn_fin_is_the_most_ragged(edges):
    areas = {key: value(edge, "notch_area") for key, edge in edges.items()
             if value(edge, "notch_area") is not None}  # fmt: skip
    assert max(areas, key=areas.get) == TORN
    depths = {key: value(edges[key], "notch_depth") for key in areas}
    assert max(depths, key=depths.get) == TORN
    assert value(edges[TORN], "notch_count") + value(edges[TORN], "split_count") >= 4
    assert value(edges[TORN], "split_count") >= 1


def test_torn_and_ragged_stand_above_all_others(edges):
    others = [value(edge, "notch_area") for key, edge in edges.items()
              if key not in {TORN, RAGGED} and value(edge, "notch_area") is not None]  # fmt: skip
    assert value(edges[TORN], "notch_area") > max(others)
    assert value(edges[RAGGED], "notch_area") > max(others)
    # Most fins of these fish are whole: nothing is counted on them.
    assert np.mean(np.array(others) == 0) > 0.6


def test_forked_tails_are_whole(edges):
    tails = [edge for (_, fin), edge in edges.items() if fin == "caudal"]
    assert len(tails) == 8
    assert sum(value(tail, "notch_area") == 0 for tail in tails) >= 7
    assert max(value(tail, "notch_area") for tail in tails) < 1.0


def test_a_sickle_shaped_fin_is_flagged_not_judged(edges):
    assert "broad_hollow" in edges[SICKLE].by_id["anal_notch_area"].flags


def test_the_worn_fin_is_short_though_smooth(edges):
    lengths = {key: value(edge, "relative_length") for key, edge in edges.items()
               if key[1] == "dorsal"}  # fmt: skip
    first_dorsal_of_two = ("boesemani-rainbowfish.jpg", "dorsal")
    del lengths[first_dorsal_of_two]
    assert min(lengths, key=lengths.get) == WORN
    assert lengths[WORN] < 0.6 * np.median(list(lengths.values()))
    assert value(edges[WORN], "notch_area") < value(edges[TORN], "notch_area")


def test_traces_with_few_points_say_so(edges):
    assert "low_resolution" in edges[TORN].by_id["dorsal_notch_area"].flags
