"""Change, erosion and verdicts on drawn values whose truth is known."""

import numpy as np
import pytest

from finmeasure.timeseries.allometry import Allometry, fitted_allometry
from finmeasure.timeseries.change import (
    Change,
    VisitValue,
    change_since,
    erosion_against,
    posture_spread,
    verdicts,
    visit_value,
)


def drawn_visit(rng, ratio, sl_mm, *, day, photos=3, posture=0.015, mark=0.008):
    seen = ratio * (1 + rng.normal(0, posture, photos)) * (1 + rng.normal(0, mark, photos))
    return visit_value(day, seen, ratio * mark * np.ones(photos), sl_mm=np.full(photos, sl_mm),
                       posture_rel=posture)  # fmt: skip


def test_interval_of_the_change_covers():
    rng = np.random.default_rng(11)
    inside = 0
    rounds = 600
    for _ in range(rounds):
        first = drawn_visit(rng, 0.20, 30.0, day=0)
        later = drawn_visit(rng, 0.18, 30.0, day=7)
        low, high = change_since(first, later).interval
        inside += low <= -10.0 <= high
    # Three binomial standard deviations about 95 % of 600.
    assert inside / rounds == pytest.approx(0.95, abs=3 * np.sqrt(0.95 * 0.05 / rounds))


def test_a_fish_that_only_grows_is_not_called_regrown():
    # Negative allometry b = 0.9: the ratio falls by 2^(-0.1) = 0.93303 as SL doubles (closed form).
    first = VisitValue(0, 0.20, 0.001, 20.0, 3)
    later = VisitValue(30, 0.20 * 0.93303299, 0.001, 40.0, 3)
    assert change_since(first, later, Allometry(0.9)).percent == pytest.approx(0.0, abs=1e-6)
    assert change_since(first, later).percent == pytest.approx(-6.697, abs=1e-3)


def test_erosion_is_the_missing_share_of_the_reference():
    whole = VisitValue(0, 0.20, 0.001, 30.0, 3)
    eroded = VisitValue(9, 0.17, 0.001, 30.0, 3)
    assert erosion_against(whole, eroded).percent == pytest.approx(15.0)


def test_verdicts_on_unchanged_pairs_are_rarely_changed():
    rng = np.random.default_rng(12)
    families = 200
    alarms = 0
    for _ in range(families):
        first = [drawn_visit(rng, 0.2, 30, day=0) for _ in range(5)]
        later = [drawn_visit(rng, 0.2, 30, day=7) for _ in range(5)]
        changes = [change_since(a, b) for a, b in zip(first, later, strict=True)]
        alarms += "changed" in verdicts(changes)
    # Benjamini-Hochberg holds a family without any change to 5 % (here 200 families, 3 sd).
    assert alarms / families <= 0.05 + 3 * np.sqrt(0.05 * 0.95 / families)


def test_verdict_words():
    found = verdicts([Change(-20.0, 2.0), Change(0.5, 2.0), Change(3.6, 2.0)])
    assert found == ["changed", "no change to be seen", "cannot tell"]
    assert verdicts([]) == []


def test_posture_is_estimated_from_photos_of_one_visit():
    rng = np.random.default_rng(13)
    visits = [
        (0.2 * (1 + rng.normal(0, 0.02, 3)) * (1 + rng.normal(0, 0.01, 3)), np.full(3, 0.002))
        for _ in range(400)
    ]
    # 800 degrees of freedom: the estimate of 2 % is good to about 4 % of itself.
    assert posture_spread(visits) == pytest.approx(0.02, rel=0.1)


def test_exponent_of_healthy_fish_is_found_again():
    rng = np.random.default_rng(14)
    sl = rng.uniform(15, 45, 60)
    fit = fitted_allometry(sl, 0.25 * sl**0.9 * np.exp(rng.normal(0, 0.03, 60)))
    assert abs(fit.exponent - 0.9) < 3 * fit.u
    assert fitted_allometry(sl[:5], sl[:5]).exponent == 1.0
