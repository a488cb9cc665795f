"""The live table of numbers."""

from __future__ import annotations

from collections.abc import Collection, Mapping

from qtpy.QtCore import Qt, Signal
from qtpy.QtGui import QBrush, QColor, QResizeEvent
from qtpy.QtWidgets import (
    QAbstractItemView,
    QHeaderView,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from finmeasure.measurements.definitions import MEASURES
from finmeasure.measurements.records import Measures
from finmeasure.shipment.group_range import GroupRange
from napari_finmeasure._rows import Line, lines
from napari_finmeasure._show import measures_on
from napari_finmeasure._text_size import follow_text, set_line_height
from napari_finmeasure._words import Words

LINE_EMS = 1.85
EMPTY = "Numbers appear here while you set points."


class NumbersTable(QWidget):
    """Measure, value ± and share of standard length, one line each; a note below.

    Signals
    -------
    chosen
        Id of the measure whose line was chosen.
    """

    chosen = Signal(str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.table = QTableWidget(0, 3)
        self.table.setObjectName("finmeasure_numbers")
        self.table.setHorizontalHeaderLabels(["Measure", "value ± (95 %)", "/ std. length"])
        header = self.table.horizontalHeader()
        header.setSectionResizeMode(0, QHeaderView.ResizeMode.Stretch)
        for column in (1, 2):
            header.setSectionResizeMode(column, QHeaderView.ResizeMode.ResizeToContents)
        self.table.verticalHeader().hide()
        self.table.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.table.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.table.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.table.setTabKeyNavigation(False)  # Tab leads on, arrows move in the table
        self.table.itemSelectionChanged.connect(self._selected)
        self.note = Words(EMPTY)
        self.note.setObjectName("finmeasure_note")
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addWidget(self.table, 1)
        layout.addWidget(self.note)
        self._lines: list[Line] = []
        self._marked: Collection[str] = ()
        self._look_at: tuple[str, ...] = ()
        follow_text(self, self._dress)

    def _dress(self) -> None:
        """Make lines as high as the text asks for."""
        set_line_height(self.table, LINE_EMS)
        self._high_enough()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Follow the width."""
        super().resizeEvent(event)
        self._high_enough()

    def _high_enough(self) -> None:
        """Give long names a second line, so that none is cut off."""
        self.table.resizeRowsToContents()

    def show_measures(
        self,
        measures: Measures,
        not_of_this_kind: Collection[str] = (),
        ranges: Mapping[str, GroupRange] | None = None,
    ) -> None:
        """Show other numbers; only cells that differ are touched."""
        fresh = lines(measures, not_of_this_kind, ranges or {})
        self.table.blockSignals(True)
        if [line.id for line in fresh] != [line.id for line in self._lines]:
            self.table.setRowCount(len(fresh))
            self._lines = []
        for row, line in enumerate(fresh):
            if not self._lines or line != self._lines[row]:
                self._fill(row, line)
        rebuilt, self._lines = not self._lines, fresh
        self._look_at = measures.notes
        self.table.blockSignals(False)
        if rebuilt:
            self.mark(self._marked)
            self._high_enough()
        self._write_note()

    def mark(self, ids: Collection[str]) -> None:
        """Mark the lines that hang on a point by a bar at their left and a tint."""
        self._marked = ids
        for row, line in enumerate(self._lines):
            hangs = any(id_ in ids for id_ in line.ids)
            item = self.table.item(row, 0)
            item.setText(f"▌{line.shown}" if hangs else line.shown)

    def hang_on(self, point: str | None) -> None:
        """Mark the lines that hang on a point."""
        self.mark(measures_on(point) if point is not None else ())

    def cell(self, measure_id: str, column: int) -> str:
        """Text of a cell by measure; empty where there is no such line."""
        rows = [r for r, line in enumerate(self._lines) if measure_id in line.ids]
        return self.table.item(rows[0], column).text() if rows else ""

    def _fill(self, row: int, line: Line) -> None:
        """Write one line."""
        sign = "⚠ " if line.doubtful else ""
        for column, text in enumerate((line.shown, sign + line.value, line.odd + line.share)):
            item = self.table.item(row, column)
            if item is None:
                item = QTableWidgetItem()
                self.table.setItem(row, column, item)
            item.setText(text)
            if column:
                item.setTextAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
            item.setForeground(QBrush(QColor("#e69f00")) if line.doubtful or line.odd else QBrush())
            item.setToolTip("\n".join((line.shown, *line.notes)))

    def _selected(self) -> None:
        """Tell which measure was chosen."""
        row = self.table.currentRow()
        if 0 <= row < len(self._lines) and self.table.selectedItems():
            self.chosen.emit(self._lines[row].id)
        self._write_note()

    def _write_note(self) -> None:
        """Explain the chosen line, or say what the table is."""
        row = self.table.currentRow()
        if not self._lines:
            self.note.setText(EMPTY)
        elif 0 <= row < len(self._lines) and self.table.selectedItems():
            line = self._lines[row]
            self.note.setText(" ".join([MEASURES[line.id].explanation, *line.notes]))
        else:
            hint = "Choose a line to see on the fish what it measures."
            self.note.setText(" ".join(f"⚠ {words}" for words in self._look_at) or hint)
