"""The range of a group: an interval that holds one further fish."""

import numpy as np
import pytest
from scipy import stats

from finmeasure.quantity import Measure
from finmeasure.shipment.group_range import FEWEST_FISH, group_ranges


def fish(value, name="body_depth_to_sl", unit="1", state="measured"):
    return {name: Measure(name, unit, state, value if state == "measured" else None)}


def test_interval_agrees_with_a_t_distribution_scaled_by_another_route():
    """Second way: scipy's own interval of a t with location and scale."""
    values = np.array([0.30, 0.33, 0.31, 0.36, 0.29, 0.34, 0.32])
    found = group_ranges(fish(v) for v in values)["body_depth_to_sl"]
    scale = values.std(ddof=1) * np.sqrt(1 + 1 / 7)
    low, high = stats.t(6, loc=values.mean(), scale=scale).interval(0.99)
    assert (found.low, found.high, found.fish) == (pytest.approx(low), pytest.approx(high), 7)


@pytest.mark.parametrize("count", [5, 8, 30])
def test_one_further_fish_of_the_group_lies_inside_99_times_in_100(count):
    rng = np.random.default_rng(count)
    inside = 0
    for _ in range(1500):
        values = rng.normal(0.3, 0.02, count + 1)
        one = group_ranges(fish(v) for v in values[1:])["body_depth_to_sl"]
        inside += not one.contradicts(fish(values[0])["body_depth_to_sl"])
    assert inside / 1500 == pytest.approx(0.99, abs=0.008)  # 3 standard deviations of the share


def test_four_fish_lengths_and_hidden_measures_give_no_range():
    assert FEWEST_FISH == 5
    assert group_ranges([fish(0.3)] * 4) == {}
    assert group_ranges([fish(40.0, "standard_length", "mm")] * 9) == {}
    assert group_ranges([fish(0.0, state="hidden")] * 9) == {}


def test_words_name_the_side_the_number_of_fish_and_what_to_do():
    one = group_ranges(fish(v) for v in (0.30, 0.31, 0.32, 0.33, 0.34))["body_depth_to_sl"]
    far = Measure("body_depth_to_sl", "1", "measured", 0.5, 0.01)
    assert one.contradicts(far).startswith("above what the group's 5 confirmed fish show")
    assert "check its points" in one.contradicts(far)
    unsure = Measure("body_depth_to_sl", "1", "measured", 0.5, 0.1)
    assert one.contradicts(unsure) == ""  # its own limits reach into the range
