"""Short, seeded form of the coverage benchmark (tests/benchmarks/test_fin_edges.py)."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from scipy.stats import binom

from finmeasure.drawing.damage import Damage
from finmeasure.fins.change import fin_change

from .conftest import (
    GOOD,
    SMOOTH_KINDS,
    STANDARD_LENGTH_MM,
    closing_by_shapely,
    fin_spec,
    fork_of,
    least_counted,
    photographed,
)

FINS = 36


@pytest.fixture(scope="module")
def measured():
    """Independent fins with one bite each: measures and truth."""
    rng = np.random.default_rng(4)
    pairs = []
    for number in range(FINS):
        bite = Damage("bite", float(rng.choice([0.25, 0.75])), float(rng.uniform(0.05, 0.15)))
        spec = fin_spec(
            SMOOTH_KINDS[number % len(SMOOTH_KINDS)], damages=(bite,),
            opening=float(rng.uniform(0.85, 1.15)),
        )  # fmt: skip
        view = replace(
            GOOD, length_px=float(rng.uniform(100, 300)), blur_px=float(rng.uniform(0.6, 1.6)),
            angle_deg=float(rng.uniform(0, 360)),
        )  # fmt: skip
        fin = photographed(spec, view, rng)
        pairs.append((fin, fin.measured(scale=fin.scale())))
    return pairs


def truths(fin, edge):
    margin = fin.drawn.true_mm(fin.drawn.margin_px)
    least = least_counted(edge, fin.length_px)
    true = closing_by_shapely(
        fin.drawn.margin_px, fin.length_px, natural=fork_of(fin.drawn), least=least
    )
    reach = np.hypot(*(margin - margin[[0, -1]].mean(axis=0)).T).max()
    return {
        "notch_area": true.area,
        "notch_depth": true.depth,
        "area": shapely.Polygon(margin).area,
        "relative_length": reach / STANDARD_LENGTH_MM,
    }


# With a true coverage of 93 % fewer hits than this come up once in a thousand times.
FEWEST_HITS = int(binom.ppf(0.001, FINS, 0.93))


@pytest.mark.parametrize("name", ["notch_area", "notch_depth", "area", "relative_length"])
def test_stated_uncertainty_covers_the_truth(measured, name):
    hits = 0
    for fin, edge in measured:
        measure = edge.by_id[f"{fin.part}_{name}"]
        hits += abs(measure.value - truths(fin, edge)[name]) <= 1.96 * measure.u
    assert hits >= FEWEST_HITS


def test_uncertainty_is_small_enough_to_be_useful(measured):
    # Typical u of methods.md A4: 0.44 percent points and 1.0 % S at 100–150 px per fin length.
    for name, most in (("notch_area", 0.44), ("notch_depth", 1.0)):
        assert np.median([edge.by_id[f"{fin.part}_{name}"].u for fin, edge in measured]) < most


def test_change_between_two_photos_of_an_unchanged_fin():
    """Two photos each of unchanged fins, opened differently: limits hold zero."""
    rng = np.random.default_rng(8)
    hits = 0
    for number in range(24):
        kind = SMOOTH_KINDS[number % len(SMOOTH_KINDS)]
        view = replace(GOOD, length_px=float(rng.uniform(100, 300)))
        pair = [
            photographed(fin_spec(kind, opening=opening), replace(view, angle_deg=angle), rng)
            for opening, angle in ((0.9, 20.0), (1.1, 200.0))
        ]
        profiles = [fin.measured().profile for fin in pair]
        change = fin_change(*profiles, fin=pair[0].part, posture_u_pct=0.0).measure
        hits += abs(change.value) <= 1.96 * change.u
    assert hits >= int(binom.ppf(0.001, 24, 0.93))
