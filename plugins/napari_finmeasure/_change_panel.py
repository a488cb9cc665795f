"""What became of every fin: verdict per fin and interval in words, and its plot."""

from __future__ import annotations

import itertools
from collections.abc import Iterator

from qtpy.QtCore import Qt
from qtpy.QtGui import QPixmap
from qtpy.QtWidgets import (
    QAbstractItemView,
    QDialog,
    QHBoxLayout,
    QHeaderView,
    QLabel,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from finmeasure.errors import FinmeasureError
from finmeasure.report.change_plots import fin_over_time
from finmeasure.report.change_tables import fin_words, sentence
from finmeasure.study.over_time import ChangeOverTime
from finmeasure.study.store import Study
from finmeasure.timeseries.change import Change
from finmeasure.timeseries.judge import JudgedSeries, JudgedVisit
from napari_finmeasure._text_size import ems, follow_text, page_style, stretch_to
from napari_finmeasure._words import Words

VERDICT_SIGNS = {"changed": "●", "cannot tell": "?", "no change to be seen": "○"}
EMPTY = (
    "No fish was followed yet. Give fish names (All fish, or the name pattern of the photos) and "
    "photograph them on more than one day; then this page shows what became of each fin."
)
PLOT_WIDTH_EMS = 40


class ChangePanel(QDialog):
    """Fins over time of the open study.

    Parameters
    ----------
    parent : QWidget
        The desk.
    """

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.setObjectName("finmeasure_change")
        self.setWindowTitle("Change over time")
        self._judged: tuple[JudgedSeries, ...] = ()
        self.fins = _table(("", "fish", "fin", "last verdict"))
        self.fins.itemSelectionChanged.connect(self._show_fin)
        self.steps = _table(("from", "to", "verdict", "change (95 %)", "shows from"))
        self.story, self.remarks = Words(), Words()
        self.plot = QLabel()
        self.plot.setAlignment(Qt.AlignmentFlag.AlignCenter)
        right = QVBoxLayout()
        for part in (self.story, self.plot, self.steps):
            right.addWidget(part)
        right.addStretch(1)
        top = QHBoxLayout()
        top.addWidget(self.fins, 2)
        top.addLayout(right, 3)
        layout = QVBoxLayout(self)
        layout.addLayout(top, 1)
        layout.addWidget(self.remarks)
        follow_text(self, self._dress)

    def _dress(self) -> None:
        """Take the room that the text needs."""
        self.setStyleSheet(page_style())
        self.steps.setMaximumHeight(ems(17))
        stretch_to(self, 84, 49)

    def show_study(self, study: Study) -> None:
        """Work out and show what became of the fins of a study."""
        try:
            change = study.change_over_time()
            self._judged = _most_changed_first(change)
            self.remarks.setText("  ".join(change.remarks))
        except FinmeasureError as error:
            self._judged = ()
            self.remarks.setText(str(error))
        self.fins.setRowCount(len(self._judged))
        for row, one in enumerate(self._judged):
            verdict = one.last.change_verdict or "seen once"
            words = (VERDICT_SIGNS.get(verdict, ""), one.series.fish, fin_words(one), verdict)
            _write(self.fins, row, words)
        if self._judged:
            self.fins.selectRow(0)
        self._show_fin()

    def _show_fin(self) -> None:
        """Show the fin whose line is chosen."""
        row = self.fins.currentRow()
        if not 0 <= row < len(self._judged):
            self.story.setText(EMPTY)
            self.plot.clear()
            self.steps.setRowCount(0)
            return
        one = self._judged[row]
        self.story.setText(f"<b>{one.series.fish}: {fin_words(one)}.</b> {sentence(one)}")
        self.plot.clear()
        if len(one.visits) > 1:
            picture = QPixmap()
            picture.loadFromData(fin_over_time(one), "PNG")
            smooth = Qt.TransformationMode.SmoothTransformation
            self.plot.setPixmap(picture.scaledToWidth(ems(PLOT_WIDTH_EMS), smooth))
        steps = list(_steps(one))
        self.steps.setRowCount(len(steps))
        for number, words in enumerate(steps):
            _write(self.steps, number, words)


def _most_changed_first(change: ChangeOverTime) -> tuple[JudgedSeries, ...]:
    """Sort fins: changed ones first, then by fish."""
    order = list(VERDICT_SIGNS)

    def rank(one: JudgedSeries) -> tuple[int, str, str]:
        verdict = one.last.change_verdict
        place = order.index(verdict) if verdict in order else len(order)
        return place, one.series.fish, one.series.fin

    return tuple(sorted(change.judged, key=rank))


def _steps(one: JudgedSeries) -> Iterator[tuple[str, ...]]:
    """Give a line for each interval between visits, and one for the whole time."""
    visits = one.visits
    for before, after in itertools.pairwise(visits):
        yield _step(before, after, after.step, after.step_verdict)
    if len(visits) > 2:
        yield _step(visits[0], visits[-1], visits[-1].change, visits[-1].change_verdict)


def _step(
    before: JudgedVisit, after: JudgedVisit, change: Change | None, verdict: str | None
) -> tuple[str, ...]:
    """Say what happened between two visits."""
    days = before.visit.day.isoformat(), after.visit.day.isoformat()
    if change is None:
        return (*days, verdict or "cannot tell", "", "")
    low, high = change.interval
    limits = f"{change.percent:+.1f} %  ({low:+.1f} to {high:+.1f})"
    return (*days, verdict or "cannot tell", limits, f"{change.minimal_detectable:.1f} %")


def _table(headings: tuple[str, ...]) -> QTableWidget:
    """Make a table for reading."""
    table = QTableWidget(0, len(headings))
    table.setHorizontalHeaderLabels(list(headings))
    table.verticalHeader().hide()
    table.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
    table.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
    table.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
    table.setTabKeyNavigation(False)
    header = table.horizontalHeader()
    header.setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
    header.setStretchLastSection(True)
    return table


def _write(table: QTableWidget, row: int, words: tuple[str, ...]) -> None:
    """Write a line."""
    for column, text in enumerate(words):
        table.setItem(row, column, QTableWidgetItem(text))
