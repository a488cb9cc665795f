"""Big buttons along the bottom, for wet hands and touch screens."""

from __future__ import annotations

from typing import TYPE_CHECKING

from qtpy.QtWidgets import QPushButton, QSizePolicy, QToolBar

from napari_finmeasure._words import text_size

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
    """Eight buttons, each at least 76 pixels high.

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
            button.setMinimumHeight(76)
            button.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
            button.setStyleSheet(f"{text_size(1.5)} font-weight: bold; margin: 3px;")
            button.clicked.connect(getattr(desk, does))
            self.addWidget(button)
            self.buttons[does] = button
