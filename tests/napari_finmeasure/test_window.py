"""Real windows, real mouse: from a drawn photo to a reading in the study."""

import numpy as np
import pytest
from qtpy.QtCore import Qt

from finmeasure.measurements.definitions import MEASURES
from finmeasure.study.store import Study

pytestmark = pytest.mark.gui
SHIFT = Qt.KeyboardModifier.ShiftModifier


def value_in_table(hands, measure_id, column):
    """Number and 95 % limits of a cell, as a person reads them."""
    text = hands.desk.numbers.cell(measure_id, column).removesuffix("mm").strip()
    value, limits = text.split(" ± ")
    return float(value), float(limits)


def true_length_mm(truth, measure_id):
    """Straight length between the true landmarks, in the card's plane."""
    first, second = (truth.landmarks[name] for name in MEASURES[measure_id].landmarks)
    return float(np.hypot(*np.diff(truth.true_mm([first, second]), axis=0)[0]))


@pytest.mark.parametrize("size", [(1500, 950), (1366, 768)])
def test_a_fish_is_marked_read_and_saved(window, photos, drawn, size):
    hands, truth = window(*size), drawn["a"].truth
    hands.open(photos / "a.jpg")
    hands.desk.points_page.kind_wanted.emit()
    hands.desk.kinds.chosen.emit("adipose")
    assert hands.desk.bench.scale, hands.desk.bench.scale
    hands.mark_all(truth)
    for measure_id in ("standard_length", "head_length", "dorsal_height", "anal_base_length"):
        value, limits = value_in_table(hands, measure_id, 1)
        true = true_length_mm(truth, measure_id)
        # half a screen pixel at each end comes on top of the stated limits
        rounding = 1.0 / hands.zoom / 10.0
        assert abs(value - true) <= limits + rounding, measure_id
    ratio, limits = value_in_table(hands, "dorsal_height_to_sl", 2)
    true = true_length_mm(truth, "dorsal_height") / true_length_mm(truth, "standard_length")
    assert abs(ratio - true) <= limits
    hands.key(Qt.Key.Key_Return)
    with Study.open(photos / "finmeasure study", read_only=True) as study:
        (stored,) = study.current_readings("a.jpg")
        assert stored.confirmed
        for name, place in truth.landmarks.items():
            if truth.states[name] == "placed" and name in stored.reading.landmarks:
                np.testing.assert_allclose(
                    stored.reading.point(name), place, atol=0.75 / hands.zoom
                )
        assert stored.reading.state_of("sword_tip") == "hidden"
        measures = {row.id: row for row in study.measures(stored.id)}
        assert measures["dorsal_height_to_sl"].value == pytest.approx(ratio, abs=limits)
