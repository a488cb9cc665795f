"""Shares and size grade."""

import numpy as np
import pytest

from finmeasure.shipment.grade import condition_shares, share_of, size_grade


def test_share_has_the_wilson_interval():
    # Newcombe 1998, Stat. Med. 17:857-872, Table I, method 3: 81/263 and 15/148, 0/20.
    for count, of, low, high in [
        (81, 263, 0.2553, 0.3662),
        (15, 148, 0.0624, 0.1605),
        (0, 20, 0, 0.1611),
    ]:
        share = share_of(count, of)
        assert share.low == pytest.approx(low, abs=1e-4)
        assert share.high == pytest.approx(high, abs=1e-4)


def test_grade_tells_under_from_surely_under():
    grade = size_grade([19.0, 19.9, 20.5, 25.0], [0.3, 0.3, 0.3, 0.3], 20.0)
    assert grade.under.count == 2
    assert grade.surely_under == 1


def test_surely_under_is_wrong_in_at_most_five_percent():
    rng = np.random.default_rng(1)
    seen = 20.0 + rng.normal(0, 0.4, 4000)
    share = size_grade(seen, np.full(4000, 0.4), 20.0).surely_under / 4000
    assert share == pytest.approx(0.05, abs=3 * np.sqrt(0.05 * 0.95 / 4000))


def test_condition_counts_each_state():
    shares = condition_shares(["whole", "notched", "whole", "clamped"])
    assert next(iter(shares)) == "whole"
    assert shares["whole"].count == 2


def test_no_fish_is_refused():
    with pytest.raises(ValueError, match="between 0 and the total"):
        share_of(0, 0)
