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

# Belenky et al. 2003, J. Sleep Res. 12:1: reaction times (ms) of 18 people on ten days.
REACTION_TIMES = """\
249.56 258.7047 250.8006 321.4398 356.8519 414.6901 382.2038 290.1486 430.5853 466.3535
222.7339 205.2658 202.9778 204.707 207.7161 215.9618 213.6303 217.7272 224.2957 237.3142
199.0539 194.3322 234.32 232.8416 229.3074 220.4579 235.4208 255.7511 261.0125 247.5153
321.5426 300.4002 283.8565 285.133 285.7973 297.5855 280.2396 318.2613 305.3495 354.0487
287.6079 285 301.8206 320.1153 316.2773 293.3187 290.075 334.8177 293.7469 371.5811
234.8606 242.8118 272.9613 309.7688 317.4629 309.9976 454.1619 346.8311 330.3003 253.8644
283.8424 289.555 276.7693 299.8097 297.171 338.1665 332.0265 348.8399 333.36 362.0428
265.4731 276.2012 243.3647 254.6723 279.0244 284.1912 305.5248 331.5229 335.7469 377.299
241.6083 273.9472 254.4907 270.8021 251.4519 254.6362 245.4523 235.311 235.7541 237.2466
312.3666 313.8058 291.6112 346.1222 365.7324 391.8385 404.2601 416.6923 455.8643 458.9167
236.1032 230.3167 238.9256 254.922 250.7103 269.7744 281.5648 308.102 336.2806 351.6451
256.2968 243.4543 256.2046 255.5271 268.9165 329.7247 379.4445 362.9184 394.4872 389.0527
250.5265 300.0576 269.8939 280.5891 271.8274 304.6336 287.7466 266.5955 321.5418 347.5655
221.6771 298.1939 326.8785 346.8555 348.7402 352.8287 354.4266 360.4326 375.6406 388.5417
271.9235 268.4369 257.2424 277.6566 314.8222 317.2135 298.1353 348.1229 340.28 366.5131
225.264 234.5235 238.9008 240.473 267.5373 344.1937 281.1481 347.5855 365.163 372.2288
269.8804 272.4428 277.8989 281.7895 279.1705 284.512 259.2658 304.6306 350.7807 369.4692
269.4117 273.474 297.5968 310.6316 287.1726 329.6076 334.4818 343.2199 369.1417 364.1236"""


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


def test_mixed_model_where_people_differ_in_slope():
    frame = pd.DataFrame(
        [(person, day, float(value)) for person, row in enumerate(REACTION_TIMES.split("\n"))
         for day, value in enumerate(row.split())],
        columns=["fish", "day", "value"],
    )  # fmt: skip
    found = describe_named_fish(frame)
    # Bates et al. 2015, J. Stat. Softw. 67(1): Reaction ~ Days + (Days | Subject), REML.
    assert found.intercept == pytest.approx(251.405104848, abs=1e-6)
    assert found.slope == pytest.approx(10.467285960, abs=1e-6)
    assert found.intercept_u == pytest.approx(6.824516, abs=2e-3)
    assert found.slope_u == pytest.approx(1.545783, abs=5e-4)
    assert found.intercept_sd == pytest.approx(24.7407, abs=0.02)
    assert found.slope_sd == pytest.approx(5.9221, abs=2e-3)
    assert found.correlation == pytest.approx(0.066, abs=1e-3)
    assert found.residual_sd == pytest.approx(25.591796, abs=2e-3)


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
