"""Big buttons along the bottom, for wet hands and touch screens."""

from __future__ import annotations

from typing import TYPE_CHECKING

from qtpy.QtCore import Qt
from qtpy.QtWidgets import QPushButton, QSizePolicy, QToolBar

from napari_finmeasure._text_size import ems, follow_text, text_size

if TYPE_CHECKING:
    from napari_finmeasure._desk import Desk

BUTTONS = (
    ("answer_absent", "None"),
    ("answer_hidden", "Hidden"),
    ("back", "Back"),
    ("skip", "Later"),
    ("undo", "Undo"),
    ("next_fin", "Next fin"),
    ("next_photo", "Next photo"),
    ("confirm", "✓ Confirm"),
)


class WetHandsBar(QToolBar):
    """Eight buttons, each five lines of text high.

    Parameters
    ----------
    desk : Desk
        What the buttons act on.
    """

    def __init__(self, desk: Desk) -> None:
        super().__init__("Big buttons")
        self.setObjectName("finmeasure_wet_hands")
        self.setMovable(False)
        self.buttons = {}
        for does, words in BUTTONS:
            button = QPushButton(words)
            button.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
            button.setFocusPolicy(Qt.FocusPolicy.TabFocus)  # a click leaves the keyboard alone
            button.clicked.connect(getattr(desk, does))
            self.addWidget(button)
            self.buttons[does] = button
        follow_text(self, self._dress)

    def _dress(self) -> None:
        """Make the buttons as large as the text asks for."""
        for button in self.buttons.values():
            button.setMinimumHeight(ems(5.4))
            button.setStyleSheet(f"{text_size(1.5)} font-weight: bold; margin: 3px;")
