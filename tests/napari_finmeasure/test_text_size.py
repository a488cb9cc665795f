"""Larger text makes a larger panel: nothing is cut off, at the usual size and well above it."""

import pytest
from napari.settings import get_settings
from napari_finmeasure._text_size import ems
from qtpy.QtWidgets import QLabel, QPushButton

pytestmark = pytest.mark.gui
USUAL, LARGE = 9, 14


@pytest.fixture
def text_of():
    """Give a function that sets napari's font size, as its preferences do; put it back after."""
    appearance = get_settings().appearance
    before = appearance.font_size
    yield lambda points: setattr(appearance, "font_size", points)
    appearance.font_size = before


def cut_off(root):
    """Words of buttons and labels that stand in less room than they ask for."""
    buttons = [b for b in root.findChildren(QPushButton) if b.isVisible()]
    found = [b.text() for b in buttons if b.width() < b.sizeHint().width()]
    for label in root.findChildren(QLabel):
        if not label.isVisible() or not label.text():
            continue
        wraps = label.wordWrap()
        needed = label.heightForWidth(label.width()) if wraps else label.sizeHint().width()
        found += [label.text()] if (label.height() if wraps else label.width()) < needed else []
    return found


def test_nothing_is_cut_off_and_everything_grows_with_the_text(window, photos, drawn, text_of):
    hands = window(1366, 768)
    hands.open(photos, kind="plain", question="size")
    hands.mark_all(drawn["a"].truth)
    desk, sizes = hands.desk, {}
    for points in (USUAL, LARGE):
        text_of(points)
        for step in ("edges", "scale", "points"):
            desk.go_to_step(step)
            hands.qtbot.wait(50)
            assert not cut_off(desk), (points, step)
            assert not cut_off(desk.stage.card), (points, step)
        assert not cut_off(desk.queue_list)
        sizes[points] = (
            ems(10), desk.minimumWidth(), desk.stage.card.width(), desk.stage.magnifier.width(),
            desk.numbers.table.rowHeight(0), desk.queue_list.minimumWidth(),
            desk.stage.view._dots.size[0] * hands.zoom,
        )  # fmt: skip
        font = desk.numbers.table.fontInfo().pointSize()
        assert font == points, "tables are written as large as the rest"
    growth = [large / usual for usual, large in zip(*sizes.values(), strict=True)]
    assert growth == pytest.approx([LARGE / USUAL] * len(growth), rel=0.08)
