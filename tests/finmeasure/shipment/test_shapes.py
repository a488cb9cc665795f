"""Landmark shapes against reference distances and an independent alignment."""

import numpy as np
import pandas as pd
import pytest
from scipy.spatial import procrustes

from finmeasure.shipment.shapes import aligned, procrustes_distance


def _landmarks(path):
    frame = pd.read_csv(path)
    return frame.groupby("specimen").apply(
        lambda part: part.sort_values("landmark")[["x", "y"]].to_numpy(float), include_groups=False
    )


def _full_mean(sets):
    """Full Procrustes mean by the complex eigenvector (Kent 1994): an independent way."""
    numbers = np.stack([(s - s.mean(0)) @ [1, 1j] for s in sets])
    numbers /= np.linalg.norm(numbers, axis=1, keepdims=True)
    values, vectors = np.linalg.eigh(numbers.T @ numbers.conj())
    mean = vectors[:, np.argmax(values)]
    return np.column_stack([mean.real, mean.imag])


def test_reference_distances_between_group_means(shared):
    folder = shared / "tables" / "10_shape_statistics_reference"
    table = pd.read_csv(folder / "reference_computed_here.csv")
    assert len(table) == 5
    for row in table.itertuples():
        means, ours = [], []
        for name in (row.set_a, row.set_b):
            sets = _landmarks(folder / f"{name}.csv")
            means.append(_full_mean(list(sets)))
            ours.append(aligned(np.stack(list(sets)))[1])
        printed = row.riemannian_distance_between_full_procrustes_means
        assert procrustes_distance(*means) == pytest.approx(printed, abs=1e-6)
        # Our mean is the partial one; the two kinds of mean differ in the fourth digit.
        assert procrustes_distance(*ours) == pytest.approx(printed, rel=5e-3)


def test_place_size_and_rotation_do_not_count_but_mirroring_does():
    rng = np.random.default_rng(1)
    shape = rng.normal(size=(8, 2))
    turn = np.array([[np.cos(1.0), -np.sin(1.0)], [np.sin(1.0), np.cos(1.0)]])
    assert procrustes_distance(shape, 3.0 * shape @ turn + 7.0) == pytest.approx(0.0, abs=1e-7)
    assert procrustes_distance(shape, shape * [-1, 1]) > 0.1


def test_distance_agrees_with_scipy_where_no_mirroring_helps():
    rng = np.random.default_rng(2)
    shape = rng.normal(size=(10, 2))
    other = shape + rng.normal(0, 0.05, shape.shape)
    # scipy.spatial.procrustes gives the full squared distance sin² rho.
    assert np.sin(procrustes_distance(shape, other)) ** 2 == pytest.approx(
        procrustes(shape, other)[2], rel=1e-9
    )
