"""Counting rays along a line by real mouse, on a drawn comb of rays."""

import numpy as np
import pytest
from PIL import Image
from qtpy.QtCore import QPoint, Qt

from finmeasure.study.store import Study

pytestmark = pytest.mark.gui
LEFT = Qt.MouseButton.LeftButton


@pytest.fixture
def comb(tmp_path):
    """Truth: thirteen upright dark rays every 60 px, the first at x = 300."""
    rng = np.random.default_rng(2)
    pixels = rng.normal(190, 2, (1000, 1500))
    for number in range(13):
        pixels[200:700, 297 + 60 * number : 304 + 60 * number] -= 70
    file = tmp_path / "comb.png"
    Image.fromarray(np.repeat(pixels.clip(0, 255).astype(np.uint8)[..., None], 3, 2)).save(file)
    return file


def test_rays_are_proposed_corrected_and_kept_as_a_formula(window, comb, qtbot):
    hands = window(1366, 768)
    hands.open(comb, kind="plain", question="size")
    desk = hands.desk
    hands.key(Qt.Key.Key_N)
    assert "Count along a line" in desk.stage.card.hint.title
    hands.click((262.0, 400.0))
    hands.click((1060.0, 460.0))
    hands.key(Qt.Key.Key_Return)
    dialog = desk.count_dialog
    assert dialog.isVisible()
    assert dialog.number.text().startswith("13")
    view = dialog.strip
    places = [view.at(column) for column in view.columns]
    qtbot.mouseClick(view, LEFT, pos=QPoint(round(places[0]), 60))  # the first is a spine
    assert dialog.number.text() == "12"
    dialog.fin.setCurrentIndex(dialog.fin.findData("dorsal"))
    qtbot.mouseClick(dialog.keep, LEFT)
    assert "Confirm the fish first" in desk.stage.message.text()  # nothing is marked yet
    for point in ((300.0, 500.0), (1000.0, 500.0), (1100.0, 450.0), (1100.0, 550.0)):
        desk.bench.place(point, 1.0)
    assert desk.bench.confirm()
    qtbot.mouseClick(dialog.keep, LEFT)
    assert "D 12" in dialog.said.text()
    for _ in range(12):
        x = round(view.at(view.columns[-1]))
        qtbot.mouseClick(view, LEFT, pos=QPoint(x, 60))
    qtbot.mouseClick(view, LEFT, pos=QPoint(round(places[0]), 60))
    assert dialog.number.text() == "1"
    dialog.kind.setCurrentIndex(dialog.kind.findData("spines"))
    qtbot.mouseClick(dialog.keep, LEFT)
    assert "D I,12" in dialog.said.text()
    assert "does not fit (D I,12 against" in dialog.rows.text()
    assert "is not “is”" in dialog.rows.text()
    with Study.open(comb.parent / "finmeasure study", read_only=True) as study:
        kept = {row.character: row.value for row in study.labels()}
    assert kept == {"dorsal_soft_rays": "12", "dorsal_spines": "1"}
    dialog.close()
