"""An independent look at where an edge lies in a picture."""

import cv2
import numpy as np
import pytest


def offsets_from_edge(gray, edge):
    """Signed distances from the true edge to the half-way grey level, along the edge's normal."""
    step = np.hypot(*np.diff(edge, axis=0).T)
    place = np.concatenate([[0], np.cumsum(step)])
    at = np.arange(8.0, place[-1] - 8.0, 2.0)
    sample = np.column_stack([np.interp(at, place, edge[:, i]) for i in (0, 1)])
    ahead = np.column_stack([np.interp(at + 2, place, edge[:, i]) for i in (0, 1)])
    behind = np.column_stack([np.interp(at - 2, place, edge[:, i]) for i in (0, 1)])
    before, after = sample - behind, ahead - sample
    turn = np.abs(np.cross(np.c_[before, 0 * at], np.c_[after, 0 * at])[:, 2]) / 4
    normal = np.column_stack([after[:, 1], -after[:, 0]])
    normal /= np.hypot(*normal.T)[:, None]
    out = np.linspace(-5, 5, 201)
    x = (sample[:, :1] + normal[:, :1] * out).astype(np.float32)
    y = (sample[:, 1:] + normal[:, 1:] * out).astype(np.float32)
    profile = cv2.remap(gray.astype(np.float32), x, y, cv2.INTER_CUBIC)
    found = []
    for values in profile[turn < 0.02]:  # corners and tips are rounded by blur
        low, high = values[:20].mean(), values[-20:].mean()
        if abs(high - low) < 120:
            continue
        half = (low + high) / 2
        cross = np.flatnonzero(np.diff(np.sign(values - half)))
        index = cross[np.argmin(np.abs(cross - 100))]
        share = (half - values[index]) / (values[index + 1] - values[index])
        found.append(out[index] + share * (out[1] - out[0]))
    assert len(found) > 20
    return np.array(found)


@pytest.fixture
def edge_offsets():
    return offsets_from_edge
