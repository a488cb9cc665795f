"""All parts of the panel at the right, and where they stand. What they do is in the desk."""

from __future__ import annotations

from typing import TYPE_CHECKING

from qtpy.QtWidgets import (
    QHBoxLayout,
    QLabel,
    QPushButton,
    QSizePolicy,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from finmeasure.landmarks.drawings.svg import DARK, LIGHT
from napari_finmeasure._bench import Bench
from napari_finmeasure._edges_page import EdgesPage
from napari_finmeasure._kinds import KindPicker
from napari_finmeasure._points_page import PointsPage
from napari_finmeasure._queue_list import QueueList
from napari_finmeasure._scale_page import ScalePage
from napari_finmeasure._table import NumbersTable
from napari_finmeasure._welcome import Welcome

if TYPE_CHECKING:
    import napari

STEPS = ("scale", "points", "edges")
WIDTH = 388


class Panel(QWidget):
    """Photo name, steps, the page of the present step, numbers, buttons.

    Parameters
    ----------
    viewer : napari.Viewer
        For its theme.
    """

    def __init__(self, viewer: napari.Viewer) -> None:
        super().__init__()
        self.setObjectName("finmeasure_desk")
        self.viewer = viewer
        self.bench = Bench(self)
        self._make_pages()
        self._lay_out()

    def _make_pages(self) -> None:
        """Make all parts of the panel."""
        dark = self.viewer.theme == "dark"
        ink = DARK if dark else LIGHT
        self.queue_list = QueueList()
        self.photo_name = QLabel("No photo is open")
        self.photo_name.setObjectName("finmeasure_photo_name")
        self.previous, self.following = QPushButton("◀"), QPushButton("▶")
        self.help = QPushButton("?")
        for button in (self.previous, self.following, self.help):
            button.setFixedWidth(34)
        self.step_buttons = {step: QPushButton() for step in STEPS}
        for button in self.step_buttons.values():
            button.setCheckable(True)
        self.scale_page = ScalePage(self.bench)
        self.points_page = PointsPage(self.bench, ink)
        self.edges_page = EdgesPage(self.bench)
        self.kinds = KindPicker(ink)
        self.pages = QStackedWidget()
        for page in (self.scale_page, self.points_page, self.edges_page, self.kinds):
            self.pages.addWidget(page)
        self.numbers = NumbersTable()
        self.undo_button, self.redo_button = QPushButton("↶ Undo"), QPushButton("↷ Redo")
        self.confirm_button = QPushButton("✓ Confirm, next photo  (Enter)")
        self.confirm_button.setObjectName("finmeasure_confirm")
        self.confirm_button.setStyleSheet("font-weight: bold; padding: 8px;")
        self.work, self.welcome = QWidget(), Welcome()

    def _lay_out(self) -> None:
        """Put the parts below each other."""
        top, steps, hands = QHBoxLayout(), QHBoxLayout(), QHBoxLayout()
        for widget in (self.previous, self.photo_name, self.following, self.help):
            top.addWidget(widget, 1 if widget is self.photo_name else 0)
        for button in self.step_buttons.values():
            steps.addWidget(button)
        for button in (self.undo_button, self.redo_button):
            hands.addWidget(button)
        layout = QVBoxLayout(self.work)
        layout.setContentsMargins(6, 4, 6, 4)
        layout.setSpacing(5)
        layout.addLayout(top)
        layout.addLayout(steps)
        layout.addWidget(self.pages, 5)
        layout.addWidget(self.numbers, 6)
        layout.addLayout(hands)
        layout.addWidget(self.confirm_button)
        self.leaves = QStackedWidget()
        self.leaves.addWidget(self.welcome)
        self.leaves.addWidget(self.work)
        whole = QVBoxLayout(self)
        whole.setContentsMargins(0, 0, 0, 0)
        whole.addWidget(self.leaves)
        self.setMinimumWidth(WIDTH)
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Expanding)
