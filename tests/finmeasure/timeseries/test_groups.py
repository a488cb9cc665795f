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


# Gelfand, Hills, Racine-Poon & Smith 1990, J. Am. Stat. Assoc. 85:972: weights (g) of 30 young rats
# at ages 8, 15, 22, 29 and 36 days, from a collection of worked examples under the new BSD licence.
RATS = """151 199 246 283 320;145 199 249 293 354;147 214 263 312 328;155 200 237 272 297
135 188 230 280 323;159 210 252 298 331;141 189 231 275 305;159 201 248 297 338
177 236 285 350 376;134 182 220 260 296;160 208 261 313 352;143 188 220 273 314
154 200 244 289 325;171 221 270 326 358;163 216 242 281 312;160 207 248 288 324
142 187 234 280 316;156 203 243 283 317;157 212 259 307 336;152 203 246 286 321
154 205 253 298 334;139 190 225 267 302;146 191 229 272 302;157 211 250 285 323
132 185 237 286 331;160 207 257 303 345;169 216 261 295 333;157 205 248 289 316
137 180 219 258 291;153 200 244 286 324"""


def test_mixed_model_of_a_second_published_growth_data_set():
    """Rats: published estimates, and the closed form that REML has where all were seen alike."""
    days = np.array([8.0, 15.0, 22.0, 29.0, 36.0])
    weights = np.array([row.split() for row in RATS.replace("\n", ";").split(";")], float)
    rows = [(rat, day, value) for rat, row in enumerate(weights)
            for day, value in zip(days, row, strict=True)]  # fmt: skip
    found = describe_named_fish(pd.DataFrame(rows, columns=["fish", "day", "value"]))
    # Published means of the posterior under flat priors, with their Monte Carlo error (example
    # "Rats" in the handbook of Mamba.jl, MIT licence): 106.575 ± 0.057, 6.1862 ± 0.0022; standard
    # deviation of the slope 0.1072; median of the residual variance 36.59.
    assert found.intercept == pytest.approx(106.575, abs=3 * 0.057)
    assert found.slope == pytest.approx(6.1862, abs=3 * 0.0022)
    assert found.slope_u == pytest.approx(0.1072, rel=0.05)
    assert found.residual_sd**2 == pytest.approx(36.59, rel=0.05)
    # Closed form: least-squares line of each rat, mean and spread of the lines.
    design = np.column_stack([np.ones(5), days])
    lines = np.linalg.lstsq(design, weights.T, rcond=None)[0]
    residual = ((weights.T - design @ lines) ** 2).sum() / (30 * 3)
    between = np.cov(lines)
    inner = between - residual * np.linalg.inv(design.T @ design)
    assert (found.intercept, found.slope) == pytest.approx(lines.mean(axis=1), rel=1e-8)
    assert (found.intercept_u, found.slope_u) == pytest.approx(
        np.sqrt(np.diag(between) / 30), rel=1e-4
    )
    assert (found.intercept_sd, found.slope_sd) == pytest.approx(np.sqrt(np.diag(inner)), rel=1e-4)
    assert found.residual_sd == pytest.approx(np.sqrt(residual), rel=1e-4)
    assert found.correlation == pytest.approx(
        inner[0, 1] / np.sqrt(inner[0, 0] * inner[1, 1]), rel=1e-3
    )


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
