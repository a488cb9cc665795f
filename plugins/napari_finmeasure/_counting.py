"""Count rays, spines or scales on a straightened strip: the program proposes, a person corrects."""

from __future__ import annotations

import numpy as np
from qtpy.QtCore import QPointF, QRectF, QSize, Qt, Signal
from qtpy.QtGui import QColor, QImage, QKeyEvent, QMouseEvent, QPainter, QPaintEvent, QPen
from qtpy.QtWidgets import QComboBox, QDialog, QLabel, QPushButton, QVBoxLayout, QWidget

from finmeasure.fins.counting import CountProposal, Strip, count_along, strip_along
from finmeasure.landmarks.scheme import BodyForm, fin_definitions
from finmeasure.shipment.fin_formula import FIN_LETTERS, LATERAL_LINE, count_label
from finmeasure.shipment.reference_table import NOT_IS
from napari_finmeasure._bench import Bench
from napari_finmeasure._hands import Place
from napari_finmeasure._reference_tool import ToMark
from napari_finmeasure._text_size import (
    ems,
    follow_text,
    on_screen,
    page_style,
    text_font,
    text_size,
)
from napari_finmeasure._words import Words, beside

STRIP_HEIGHT_EMS, TICK_ROOM_EMS = 7.8, 1.7
REACH_PX = 6.0
KINDS = {
    "soft_rays": "soft rays",
    "unbranched_rays": "unbranched soft rays",
    "spines": "spines",
    LATERAL_LINE: "scales of the lateral line",
}
ACROSS = ToMark(
    "Count along a line",
    "Click a line across all rays near their base, where they have not branched yet; or along the "
    "lateral line. Two clicks are enough for a straight one. Then press Enter.",
    least=2,
    most=16,
)
HOW = (
    "Each mark is one. Click beside it to add one, click a mark to take it away; with the keyboard "
    "Left and Right move, Space adds or takes away."
)


class StripView(QWidget):
    """The strip with a numbered mark for each ray.

    Signals
    -------
    changed
        A mark was added or taken away.
    """

    changed = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._image = QImage()
        self._width = 1
        self.columns: list[int] = []
        self._cursor = 0
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        follow_text(self, self._dress)

    def _dress(self) -> None:
        """Take the room that the numbers need."""
        self.setFixedHeight(ems(STRIP_HEIGHT_EMS) + ems(TICK_ROOM_EMS))
        self.setMinimumWidth(ems(46))

    def show_strip(self, strip: Strip, columns: list[int]) -> None:
        """Show another strip with proposed marks."""
        picture = np.ascontiguousarray(strip.picture(ems(STRIP_HEIGHT_EMS)))
        height, self._width = picture.shape
        grey = QImage.Format.Format_Grayscale8
        self._image = QImage(picture.data, self._width, height, self._width, grey).copy()
        self.columns, self._cursor = sorted(columns), self._width // 2
        self.update()

    def sizeHint(self) -> QSize:
        """Ask for a wide strip."""
        return QSize(ems(64), ems(STRIP_HEIGHT_EMS) + ems(TICK_ROOM_EMS))

    def at(self, column: int) -> float:
        """Give the place of a column on the widget."""
        return float((column + 0.5) * self.width() / self._width)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Add a mark, or take the one under the mouse away."""
        self._toggle(int(event.position().x() * self._width / max(self.width(), 1)))

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Move the cursor; add or take away."""
        step = max(1, self._width // 200)
        if event.key() in (Qt.Key.Key_Left, Qt.Key.Key_Right):
            self._cursor += step if event.key() == Qt.Key.Key_Right else -step
            self._cursor = min(max(self._cursor, 0), self._width - 1)
            self.update()
        elif event.key() == Qt.Key.Key_Space:
            self._toggle(self._cursor)
        else:
            super().keyPressEvent(event)

    def paintEvent(self, event: QPaintEvent) -> None:
        """Paint the strip, a numbered mark for each ray, and the cursor."""
        painter = QPainter(self)
        painter.setFont(text_font())
        top, high = ems(TICK_ROOM_EMS), ems(STRIP_HEIGHT_EMS)
        painter.drawImage(QRectF(0, top, self.width(), high), self._image)
        middle, reach = top + high / 2, ems(1.3)  # slanted rays cross the line in the middle
        for number, column in enumerate(self.columns, start=1):
            x = self.at(column)
            for pen in (QPen(QColor("black"), 3.0), QPen(QColor("#e69f00"), 1.4)):
                painter.setPen(pen)
                painter.drawLine(QPointF(x, middle - reach), QPointF(x, middle + reach))
            if len(self.columns) <= 40 or number % 5 == 0:
                painter.setPen(self.palette().text().color())
                painter.drawText(QPointF(x - ems(0.4), top - ems(0.5)), str(number))
        if self.hasFocus():
            painter.setPen(QPen(QColor("#56b4e9"), 1.4, Qt.PenStyle.DashLine))
            x = self.at(self._cursor)
            painter.drawLine(QPointF(x, top), QPointF(x, top + high))
        painter.end()

    def _toggle(self, column: int) -> None:
        """Take the nearest mark away where it is near, else add one."""
        reach = on_screen(REACH_PX) * self._width / max(self.width(), 1)
        near = min(self.columns, key=lambda one: abs(one - column), default=None)
        if near is not None and abs(near - column) <= reach:
            self.columns.remove(near)
        else:
            self.columns = sorted([*self.columns, column])
        self.update()
        self.changed.emit()


class CountDialog(QDialog):
    """Strip, number, and what it is the number of.

    Parameters
    ----------
    parent : QWidget
        The desk.
    bench : Bench
        Whose fish is counted.
    """

    def __init__(self, parent: QWidget, bench: Bench) -> None:
        super().__init__(parent)
        self.setObjectName("finmeasure_count")
        self.setWindowTitle("Count")
        self._bench = bench
        self.strip = StripView()
        self.strip.changed.connect(self._show_count)
        self.number = QLabel()
        self.kind, self.fin = QComboBox(), QComboBox()
        for kind, words in KINDS.items():
            self.kind.addItem(words, kind)
        self.kind.currentIndexChanged.connect(
            lambda: self.fin.setEnabled(self.kind.currentData() != LATERAL_LINE)
        )
        self.keep, self.said = QPushButton("Keep this count"), Words()
        self.rows = Words()
        self.keep.clicked.connect(self.keep_count)
        layout = QVBoxLayout(self)
        layout.addWidget(Words(HOW))
        layout.addWidget(self.strip)
        layout.addWidget(beside(self.number, self.kind, QLabel("of the"), self.fin, self.keep))
        layout.addWidget(self.said)
        layout.addWidget(self.rows)
        self._proposal = CountProposal(np.empty(0, np.intp), 0, 0)
        follow_text(self, self._dress)

    def _dress(self) -> None:
        """Write the number large."""
        self.setStyleSheet(page_style())
        self.number.setStyleSheet(f"font-weight: bold; {text_size(1.6)}")

    def show_line(self, points: list[Place], form: BodyForm) -> None:
        """Count along a line.

        Raises
        ------
        MarkingError
            If the line is too short.
        """
        prepared = self._bench.prepared
        assert prepared is not None
        strip = strip_along(prepared.gray, points)
        self._proposal = count_along(strip)
        chosen = self.fin.currentData()
        self.fin.clear()
        for fin in (fin for fin in form.fins if fin in FIN_LETTERS):
            self.fin.addItem(fin_definitions()[fin].shown, fin)
        self.fin.setCurrentIndex(max(self.fin.findData(chosen), 0))
        self.strip.show_strip(strip, [int(one) for one in self._proposal.columns])
        self._show_count()
        self._show_known()

    def keep_count(self) -> None:
        """Keep the number in the study."""
        label = count_label(str(self.fin.currentData()), str(self.kind.currentData()))
        if self._bench.keep_label(label, str(len(self.strip.columns))):
            self._show_known("Kept.")

    def _show_count(self) -> None:
        """Show the number; while it is only proposed, with its range."""
        count, proposal = len(self.strip.columns), self._proposal
        as_proposed = self.strip.columns == [int(one) for one in proposal.columns]
        self.number.setText(f"{proposal}  ?" if as_proposed else f"{count}")

    def _show_known(self, first: str = "") -> None:
        """Say what was counted on this fish so far, in the usual notation."""
        known = self._bench.counts
        told = "So far: " + ",  ".join(known) + "." if known else "Nothing is counted yet."
        self.said.setText(f"{first} {told} Spines are Roman, soft rays Arabic numbers.".strip())
        rows = self._bench.fitting_rows if known else ()
        self.rows.setText("\n".join((*rows, NOT_IS)) if rows else "")
        self.rows.setVisible(bool(rows))
