"""One sentence at the foot of the canvas: what went wrong and what to do."""

from __future__ import annotations

from qtpy.QtCore import Qt, QTimer
from qtpy.QtWidgets import QLabel, QWidget

from napari_finmeasure._text_size import ems, text_size

SECONDS = 9


class MessageStrip(QLabel):
    """A strip on the glass that goes away by itself.

    Parameters
    ----------
    parent : QWidget
        The glass.
    """

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.setObjectName("finmeasure_message")
        self.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
        self.setWordWrap(True)
        self.hide()
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.timeout.connect(self.hide)

    def say(self, sentence: str, trouble: bool) -> None:
        """Show a sentence, or nothing if it is empty; trouble gets a sign and a strong edge."""
        if not sentence:
            self.hide()
            return
        edge, sign = ("#d55e00", "⚠ ") if trouble else ("#56b4e9", "")
        self.setStyleSheet(
            "#finmeasure_message { background: rgba(20, 28, 34, 235); color: white;"
            f" padding: 9px 14px; border-top: 4px solid {edge}; {text_size(1.1)} }}"
        )
        self.setText(sign + sentence)
        width = min(ems(54), self.parentWidget().width() - 40)
        self.setFixedWidth(width)
        self.setFixedHeight(self.heightForWidth(width))
        glass = self.parentWidget()
        self.move((glass.width() - width) // 2, glass.height() - self.height() - 14)
        self.raise_()
        self.show()
        self._timer.start(SECONDS * 1000)
