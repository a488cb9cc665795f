"""The surroundings of the mouse, enlarged."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from qtpy.QtCore import QRectF, Qt
from qtpy.QtGui import QColor, QImage, QPainter, QPaintEvent, QPen
from qtpy.QtWidgets import QWidget

from napari_finmeasure._text_size import ems, follow_text

SIDE_EMS = 13.6
TIMES = 4.0  # against the canvas, but never less than 2 screen pixels per photo pixel


class Magnifier(QWidget):
    """A square window on the photo round one place, with a cross that leaves the middle free.

    Parameters
    ----------
    parent : QWidget
        The glass.
    """

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.setObjectName("finmeasure_magnifier")
        self.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
        follow_text(self, lambda: self.resize(ems(SIDE_EMS), ems(SIDE_EMS)))
        self._pixels: NDArray[np.uint8] | None = None
        self._image: QImage | None = None
        self._at = (0.0, 0.0)
        self._scale = TIMES
        self.hide()

    def show_photo(self, pixels: NDArray[np.uint8]) -> None:
        """Use another photo; its memory is shared, not copied."""
        self._pixels = np.ascontiguousarray(pixels)
        height, width = pixels.shape[:2]
        self._image = QImage(
            self._pixels.data, width, height, 3 * width, QImage.Format.Format_RGB888
        )

    def look_at(self, place: tuple[float, float], zoom: float) -> None:
        """Show the surroundings of a place in photo pixels (x, y)."""
        self._at = place
        self._scale = max(TIMES * zoom, 2.0)
        self._move_out_of_the_way(place)
        self.setVisible(self._image is not None)
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        """Paint the piece of the photo and the cross."""
        if self._image is None:
            return
        painter = QPainter(self)
        side = self.width()
        half = side / 2.0 / self._scale
        x, y = self._at
        # the centre of pixel 0 is at 0, an image's upper left corner at -0.5
        source = QRectF(x + 0.5 - half, y + 0.5 - half, 2 * half, 2 * half)
        painter.fillRect(self.rect(), QColor("#202020"))
        painter.drawImage(QRectF(self.rect()), self._image, source)
        middle, free = side // 2, ems(0.5)
        for pen in (QPen(QColor(0, 0, 0, 170), 3.0), QPen(QColor("white"), 1.0)):
            painter.setPen(pen)
            painter.drawLine(middle, 0, middle, middle - free)
            painter.drawLine(middle, middle + free, middle, side)
            painter.drawLine(0, middle, middle - free, middle)
            painter.drawLine(middle + free, middle, side, middle)
        painter.setPen(QPen(QColor("white"), 2.0))
        painter.drawRect(1, 1, side - 2, side - 2)
        painter.end()

    def _move_out_of_the_way(self, place: tuple[float, float]) -> None:
        """Stand in the upper right corner, or the upper left one while the mouse is there."""
        glass = self.parentWidget()
        at = glass.to_screen(place)[0]
        right = glass.width() - self.width() - 10
        near_right = at[0] > right - ems(4.3) and at[1] < self.height() + ems(5)
        self.move(10 if near_right else right, 10)
