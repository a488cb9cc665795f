"""Labels that never cut their words off."""

from __future__ import annotations

from qtpy.QtGui import QResizeEvent
from qtpy.QtWidgets import QHBoxLayout, QLabel, QWidget


class Words(QLabel):
    """A label that wraps its words and always asks for the height that they need."""

    def __init__(self, text: str = "", parent: QWidget | None = None) -> None:
        super().__init__(text, parent)
        self.setWordWrap(True)

    def setText(self, text: str) -> None:
        """Show other words."""
        super().setText(text)
        fixed = self.minimumWidth() == self.maximumWidth()
        self._ask_for_height(self.minimumWidth() if fixed else self.width())

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Follow the width."""
        super().resizeEvent(event)
        self._ask_for_height(event.size().width())

    def _ask_for_height(self, width: int) -> None:
        """Ask for the height that the words need at a width."""
        self.setMinimumHeight(0)  # Qt never asks for less than the minimum of before
        self.setMinimumHeight(self.heightForWidth(width) if self.text() else 0)


def beside(*widgets: QWidget) -> QWidget:
    """Put widgets beside each other."""
    holder = QWidget()
    layout = QHBoxLayout(holder)
    layout.setContentsMargins(0, 0, 0, 0)
    for widget in widgets:
        layout.addWidget(widget)
    layout.addStretch(1)
    return holder
