"""Measures from proposals carry the uncertainty that known truth asks for."""

import math

import pytest

from finmeasure.proposals.confidence import widened
from finmeasure.proposals.training.calibrate_measures import factors
from finmeasure.quantity import Measure

ROWS = (
    Measure("caudal_area", "mm2", "measured", 50.0, 2.0),
    Measure("caudal_notch_area", "%", "measured", 0.0, 0.3),
    Measure("caudal_notch_count", "1", "measured", 1.0),
    Measure("anal_area", "mm2", "hidden"),
    Measure("standard_length", "mm", "measured", 30.0, 0.5),
)


def test_lengths_and_areas_get_a_factor_and_percentages_an_uncertainty_of_their_own():
    table = {"caudal_area": 3.0, "caudal_notch_area": 0.4, "caudal_notch_count": 9.0,
             "anal_area": 9.0}  # fmt: skip
    found = {row.id: row.u for row in widened(ROWS, {"measures": table})}
    assert found == {
        "caudal_area": 6.0,
        "caudal_notch_area": pytest.approx(math.hypot(0.3, 0.4)),
        "caudal_notch_count": None,
        "anal_area": None,
        "standard_length": 0.5,
    }
    assert widened(ROWS, {}) == ROWS


def test_factors_hold_95_percent_and_never_make_u_smaller():
    import numpy as np

    rng = np.random.default_rng(3)
    found = [
        {("mm", "too_narrow"): rng.normal(0, 3), ("mm", "too_wide"): rng.normal(0, 0.2),
         ("%", "notch"): rng.normal(0, 2)}
        for _ in range(4000)
    ]  # fmt: skip
    table = factors(found)
    # errors with a standard deviation of 3 u need 3 u (normal distribution)
    assert table == {"too_narrow": pytest.approx(3, rel=0.05), "too_wide": 1.0,
                     "notch": pytest.approx(2, rel=0.05)}  # fmt: skip
