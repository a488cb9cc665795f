"""All keys on one sheet."""

from __future__ import annotations

from html import escape

from qtpy.QtCore import Qt
from qtpy.QtWidgets import (
    QDialog,
    QDialogButtonBox,
    QFrame,
    QLabel,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from napari_finmeasure._keys import KEYS, MOUSE, ON_PHOTO
from napari_finmeasure._text_size import ems, follow_text, page_style, stretch_to, text_size


class CheatSheet(QDialog):
    """A window with two columns of keys.

    Parameters
    ----------
    parent : QWidget
        The desk.
    """

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.setObjectName("finmeasure_cheat_sheet")
        self.setWindowTitle("Keys and mouse")
        sheet = QLabel(_sheet())
        sheet.setTextFormat(Qt.TextFormat.RichText)
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Close)
        buttons.rejected.connect(self.close)
        area = QScrollArea()
        area.setWidget(sheet)
        area.setFrameShape(QFrame.Shape.NoFrame)
        layout = QVBoxLayout(self)
        layout.addWidget(area)
        layout.addWidget(buttons)
        follow_text(self, lambda: self._dress(sheet))

    def _dress(self, sheet: QLabel) -> None:
        """Be as large as the sheet, where the screen has the room; else it scrolls."""
        self.setStyleSheet(page_style())
        sheet.setStyleSheet(text_size(1))
        sheet.adjustSize()
        stretch_to(self, (sheet.width() + 40) / ems(1), (sheet.height() + 70) / ems(1))


def _sheet() -> str:
    """Give the sheet as rich text in two columns."""
    parts: dict[str, list[tuple[str, str]]] = {}
    for key in (key for key in KEYS if key.words):
        parts.setdefault(key.part, []).append((key.sequence, key.words))
    left = _part("Mouse", list(MOUSE)) + _part("Points", parts["Points"])
    left += _part("Photos", parts["Photos"])
    right = _part("Without a mouse, on the photo", list(ON_PHOTO))
    right += _part("Fin edges", parts["Fin edges"]) + _part("View", parts["View"])
    return (
        f'<table cellspacing="14"><tr><td valign="top">{left}</td>'
        f'<td valign="top">{right}</td></tr></table>'
    )


def _part(title: str, rows: list[tuple[str, str]]) -> str:
    """Give one headed list."""
    lines = "".join(
        f'<tr><td align="right"><b>{escape(key)}</b>&nbsp;&nbsp;</td><td>{escape(words)}</td></tr>'
        for key, words in rows
    )
    return f"<h4>{escape(title)}</h4><table>{lines}</table>"
