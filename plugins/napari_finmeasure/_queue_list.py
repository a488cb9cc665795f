"""The list of photos at the left: what is done and what still needs a person."""

from __future__ import annotations

from datetime import date

from qtpy.QtCore import QSize, Qt, Signal
from qtpy.QtGui import QBrush, QColor
from qtpy.QtWidgets import (
    QComboBox,
    QListWidget,
    QListWidgetItem,
    QProgressBar,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from finmeasure.marking.queue import STATE_WORDS, Queue, QueuePhoto
from napari_finmeasure._text_size import ems, follow_text, page_style
from napari_finmeasure._words import Words

SIGNS = {"begun": "◐", "proposal": "◆", "to_do": "○", "refused": "✕", "confirmed": "✓"}
COLOURS = {"begun": "#e69f00", "proposal": "#56b4e9", "refused": "#d55e00", "confirmed": "#009e73"}
EVERYTHING = "all"


class QueueList(QWidget):
    """Photos with a sign for their state, filters and progress.

    Signals
    -------
    chosen
        Name of the photo that was clicked.
    """

    chosen = Signal(str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._queue: Queue | None = None
        self._offered: tuple[tuple[str, ...], tuple[date, ...]] = ((), ())
        self.progress = QProgressBar()
        self.progress.setFormat("%v of %m done")
        self.groups, self.days = QComboBox(), QComboBox()
        self.groups.currentIndexChanged.connect(self._filtered)
        self.days.currentIndexChanged.connect(self._filtered)
        self.list = QListWidget()
        self.list.setObjectName("finmeasure_queue")
        self.list.setWordWrap(True)
        self.list.itemClicked.connect(lambda item: self.chosen.emit(self._name(item)))
        self.list.itemActivated.connect(lambda item: self.chosen.emit(self._name(item)))
        self.reason = Words()
        self.sort = QPushButton("Sort by need")
        self.sort.setToolTip("Begun, then proposals from the least sure, then photos to do")
        self.sort.clicked.connect(self._sort)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(4, 4, 4, 4)
        for widget in (self.progress, self.groups, self.days):
            layout.addWidget(widget)
        layout.addWidget(self.list, 1)
        layout.addWidget(self.reason)
        layout.addWidget(self.sort)
        follow_text(self, self._dress)

    def _dress(self) -> None:
        """Take little room, the photo needs it more."""
        self.setStyleSheet(page_style())
        self.setMinimumWidth(ems(12))
        self.setMaximumWidth(ems(16.5))

    def sizeHint(self) -> QSize:
        """Ask for little width, the photo needs it more."""
        return QSize(ems(13.3), ems(28))

    def show_queue(self, queue: Queue | None) -> None:
        """Show a queue, or its new states."""
        offered = (queue.groups, queue.days) if queue is not None else ((), ())
        if queue is not self._queue or offered != self._offered:
            self._queue, self._offered = queue, offered
            self._fill_filters()
        self._fill()

    def _fill_filters(self) -> None:
        """Offer the groups and days there are; a filter with one choice is not shown."""
        queue = self._queue
        for box, word, values in (
            (self.groups, "groups", queue.groups if queue else ()),
            (self.days, "days", queue.days if queue else ()),
        ):
            box.blockSignals(True)
            chosen = box.currentData()
            box.clear()
            box.addItem(f"{EVERYTHING} {word}", None)
            for value in values:
                box.addItem(str(value), value)
            box.setCurrentIndex(max(box.findData(chosen), 0))
            box.setVisible(len(values) > 1)
            box.blockSignals(False)

    def _filtered(self) -> None:
        """Show only what the filters let through."""
        if self._queue is not None:
            day: date | None = self.days.currentData()
            self._queue.group, self._queue.day = self.groups.currentData(), day
            self._fill()

    def _sort(self) -> None:
        """Sort anew."""
        if self._queue is not None:
            self._queue.sort_again()
            self._fill()

    def _fill(self) -> None:
        """Write the list."""
        self.list.clear()
        queue = self._queue
        if queue is None:
            return
        for photo in queue:
            self.list.addItem(_item(photo))
            if photo.photo == queue.current:
                self.list.setCurrentRow(self.list.count() - 1)
        done, total = queue.progress
        self.progress.setMaximum(max(total, 1))
        self.progress.setValue(done)
        reason = queue[queue.current].reason if queue.current is not None else ""
        self.reason.setText(reason)
        self.reason.setVisible(bool(reason))

    @staticmethod
    def _name(item: QListWidgetItem) -> str:
        """Name of the photo of a line."""
        return str(item.data(Qt.ItemDataRole.UserRole))


def _item(photo: QueuePhoto) -> QListWidgetItem:
    """Make one line."""
    item = QListWidgetItem(f"{SIGNS[photo.state]}  {photo.photo}")
    item.setData(Qt.ItemDataRole.UserRole, photo.photo)
    words = STATE_WORDS[photo.state]
    item.setToolTip(f"{words}: {photo.reason}" if photo.reason else words)
    if photo.state in COLOURS:
        item.setForeground(QBrush(QColor(COLOURS[photo.state])))
    return item
