"""Published values, and readings made from plain points."""

import csv
from pathlib import Path

import numpy as np
import pytest

from finmeasure.reading import Landmark, Reading
from finmeasure.scale.calibration import Scale

TRUTH = Path(__file__).parents[2] / "truth"


@pytest.fixture(scope="session")
def truth():
    """Rows of a table of published values; its head names the source."""

    def rows(name):
        with (TRUTH / f"{name}.csv").open(encoding="utf-8") as file:
            head = [line for line in file if not line.startswith("#")]
        return list(csv.DictReader(head))

    return rows


@pytest.fixture(scope="session")
def card_scale():
    """A rectified scale of so many pixels per millimetre."""

    def scale(px_per_mm=20.0, u_rel=0.001, **more):
        matrix = np.diag([1 / px_per_mm, 1 / px_per_mm, 1.0])
        return Scale("window_card", matrix, u_rel, True, (0.0, 0.0), **more)

    return scale


@pytest.fixture(scope="session")
def reading_of():
    """A reading from points by name; None stands for absent."""

    def reading(points, *, u_px=1.0, body_form="plain", outlines=None):
        marks = {
            name: Landmark(name, state="absent")
            if point is None
            else Landmark(name, *map(float, point), u_px=u_px)
            for name, point in points.items()
        }
        return Reading("1", marks, outlines or {}, body_form)

    return reading


# A fish of round numbers, 100 px of standard length, seen from its left; the tail is forked 10 px.
FISH = {
    "snout_tip": (0, 0),
    "caudal_base": (100, 0),
    "eye_front": (8, -3),
    "eye_back": (14, -3),
    "operculum_end": (25, 0),
    "body_top": (40, -17),
    "body_bottom": (40, 13),
    "peduncle_top": (90, -5),
    "peduncle_bottom": (90, 5),
    "dorsal_origin": (45, -17),
    "dorsal_end": (65, -17),
    "dorsal_tip": (57, -33),
    "anal_origin": (60, 12),
    "anal_end": (75, 8),
    "anal_tip": (65, 24),
    "pelvic_origin": (42, 13),
    "pelvic_tip": (48, 21),
    "pectoral_origin": (27, 5),
    "pectoral_tip": (42, 5),
    "caudal_upper_insertion": (98, -6),
    "caudal_lower_insertion": (98, 6),
    "caudal_upper_tip": (130, -20),
    "caudal_lower_tip": (130, 20),
    "caudal_fork": (120, 0),
}
# Every length by Pythagoras from the points above, pixels.
LENGTHS_PX = {
    "standard_length": 100.0,
    "total_length": 130.0,
    "fork_length": 120.0,
    "head_length": 25.0,
    "snout_length": 73.0**0.5,
    "eye_diameter": 6.0,
    "body_depth": 30.0,
    "predorsal_length": 2314.0**0.5,
    "prepelvic_length": 1933.0**0.5,
    "preanal_length": 3744.0**0.5,
    "peduncle_depth": 10.0,
    "peduncle_length": 689.0**0.5,
    "dorsal_base_length": 20.0,
    "dorsal_height": 20.0,
    "anal_base_length": 241.0**0.5,
    "anal_height": 13.0,
    "pelvic_length": 10.0,
    "pectoral_length": 15.0,
    "caudal_length": 1300.0**0.5,
    "caudal_span": 40.0,
    "caudal_fork_depth": 10.0,
}


@pytest.fixture
def fish_points():
    """Points of a fish of round numbers."""
    return dict(FISH)


@pytest.fixture
def fish_lengths_px():
    """Its lengths in pixels."""
    return dict(LENGTHS_PX)
