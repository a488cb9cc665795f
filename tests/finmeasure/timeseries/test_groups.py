"""Groups, tanks and the mixed model against published estimates."""

import numpy as np
import pandas as pd
import pytest

from finmeasure.timeseries.groups import (
    change_of_group,
    compare_arms,
    describe_named_fish,
    slopes_per_tank,
)

# Potthoff & Roy 1964, Biometrika 51:313: growth of 27 children at ages 8, 10, 12 and 14.
ORTHODONT = """26 25 29 31;21.5 22.5 23 26.5;23 22.5 24 27.5;25.5 27.5 26.5 27;20 23.5 22.5 26
24.5 25.5 27 28.5;22 22 24.5 26.5;24 21.5 24.5 25.5;23 20.5 31 26;27.5 28 31 31.5;23 23 23.5 25
21.5 23.5 24 28;17 24.5 26 29.5;22.5 25.5 25.5 26;23 24.5 26 30;22 21.5 23.5 25;21 20 21.5 23
21 21.5 24 25.5;20.5 24 24.5 26;23.5 24.5 25 26.5;21.5 23 22.5 23.5;20 21 21 22.5;21.5 22.5 23 25
23 23 23.5 24;20 21 22 21.5;16.5 19 19 19.5;24.5 25 28 28"""


def test_mixed_model_gives_the_published_estimates():
    rows = [line.split() for part in ORTHODONT.split("\n") for line in part.split(";")]
    frame = pd.DataFrame(
        [(child, age, float(value)) for child, row in enumerate(rows)
         for age, value in zip((8, 10, 12, 14), row, strict=True)],
        columns=["fish", "day", "value"],
    )  # fmt: skip
    found = describe_named_fish(frame)
    # Pinheiro & Bates 2000, distance ~ age + (age | Subject), REML.
    assert found.intercept == pytest.approx(16.7611111, abs=1e-5)
    assert found.slope == pytest.approx(0.6601852, abs=1e-6)
    assert found.intercept_u == pytest.approx(0.775246, abs=2e-4)
    assert found.slope_u == pytest.approx(0.071253, abs=2e-5)
    assert found.intercept_sd == pytest.approx(2.3270339, abs=2e-3)
    assert found.slope_sd == pytest.approx(0.2264278, abs=2e-4)
    assert found.correlation == pytest.approx(-0.609333, abs=2e-3)
    assert found.residual_sd == pytest.approx(1.3100399, abs=2e-4)


def test_group_change_covers_on_drawn_shoals():
    rng = np.random.default_rng(21)
    rounds = 500
    inside = 0
    for _ in range(rounds):
        change = change_of_group(rng.normal(0.20, 0.015, 12), rng.normal(0.18, 0.015, 9))
        low, high = change.interval
        inside += low <= -10.0 <= high
    assert inside / rounds == pytest.approx(0.95, abs=3 * np.sqrt(0.95 * 0.05 / rounds))


def test_the_tank_is_the_unit():
    rng = np.random.default_rng(22)
    rows = [
        (f"tank {tank}", f"{tank}-{fish}", day, 10 + (0.5 + (tank < 3)) * day + rng.normal(0, 0.1))
        for tank in range(6) for fish in range(4) for day in (0, 5, 10)
    ]  # fmt: skip
    slopes = slopes_per_tank(pd.DataFrame(rows, columns=["tank", "fish", "day", "value"]))
    found = compare_arms(slopes, {f"tank {tank}": tank < 3 for tank in range(6)})
    assert found.low < 1.0 < found.high
    assert found.freedom < 4.0001
    assert found.sentence.startswith("Treated tanks: faster")


def test_one_tank_per_arm_cannot_tell_the_cause():
    found = compare_arms({"a": 1.0, "b": 0.2}, {"a": True, "b": False})
    assert "the cause cannot be told" in found.sentence
    assert np.isnan(found.difference)
