"""What is known about the scale, the ways to give one, and what its ± is made of."""

from __future__ import annotations

from dataclasses import replace

from qtpy.QtCore import Qt, Signal
from qtpy.QtWidgets import (
    QAbstractItemView,
    QFrame,
    QHeaderView,
    QLineEdit,
    QPushButton,
    QScrollArea,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from finmeasure.errors import NotFound
from finmeasure.flags import FLAGS
from finmeasure.report.numbers import with_limits
from finmeasure.scale.budget import shares
from finmeasure.scale.calibration import Scale
from finmeasure.scale.paper import FoundPaper
from finmeasure.scale.request import ScaleRequest
from napari_finmeasure._bench import Bench
from napari_finmeasure._hands import Place
from napari_finmeasure._reference_tool import TO_MARK
from napari_finmeasure._scale_fields import MARKED_WAYS, DepthFields, ReferenceFields
from napari_finmeasure._text_size import ems, follow_text, set_line_height
from napari_finmeasure._words import Words, beside

METHODS = {
    "window_card": "our window card",
    "squares_card": "our squares card",
    "square_paper": "square paper",
    "ruler": "a ruler",
    "bar": "a length that you marked",
    "known_object": "the card or coin that you marked",
    "known": "the number that you typed",
}
SOURCES = {
    "click": "where you clicked",
    "fit": "fit to the picture",
    "corners": "blur of the corners",
    "print": "printing, not measured",
    "paper": "the paper itself",
    "reference": "the length itself",
    "plane": "fish not in its plane",
    "tilt": "tilt of the camera",
    "lens": "bending by the lens",
    "water": "water and glass",
    "stated": "as you stated",
}
LINE_EMS = 1.6
RIGHT = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter


class ScalePage(QScrollArea):
    """Scale in words, the ways to give one, and its budget of uncertainty.

    Signals
    -------
    mark_wanted
        The person wants to mark a reference on the photo: which.
    lines_found
        Square paper was found, and its numbered lines are to be shown.
    lines_answered
        The person has said whether the numbers are right.
    done
        A scale was accepted.
    """

    mark_wanted = Signal(str)
    lines_found = Signal(list)
    lines_answered = Signal()
    done = Signal()

    def __init__(self, bench: Bench, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._bench = bench
        self._points: list[Place] = []
        self.paper: FoundPaper | None = None
        self.words = Words()
        self.words.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.reference, self.depth = ReferenceFields(), DepthFields()
        self.reference.way.currentIndexChanged.connect(self._way_changed)
        self.mark = QPushButton("Mark it on the photo")
        self.mark.clicked.connect(lambda: self.mark_wanted.emit(self.reference.chosen))
        self.use = QPushButton("Use it")
        self.use.clicked.connect(self.try_it)
        self.question = Words()
        self.yes, self.no = QPushButton("Yes, they fit"), QPushButton("No")
        self.yes.clicked.connect(lambda: self.answer_lines(fits=True))
        self.no.clicked.connect(lambda: self.answer_lines(fits=False))
        self.answers = beside(self.yes, self.no)
        self.budget = _budget_table()
        self._lay_out()
        bench.marks_changed.connect(self.show_scale)
        bench.photo_changed.connect(self._new_photo)
        self._way_changed()
        follow_text(self, self._dress)

    def _dress(self) -> None:
        """Show as much of the table as there is, at most five lines."""
        set_line_height(self.budget, LINE_EMS)
        high = self.budget.horizontalHeader().sizeHint().height()
        self.budget.setFixedHeight(high + min(self.budget.rowCount(), 5) * ems(LINE_EMS) + 8)

    def _lay_out(self) -> None:
        """Put the parts below each other."""
        inside = QWidget()
        layout = QVBoxLayout(inside)
        layout.setContentsMargins(0, 0, 4, 0)
        for part in (self.words, self.budget, self.reference, self.depth):
            layout.addWidget(part)
        self.buttons = beside(self.mark, self.use)
        for part in (self.buttons, self.question, self.answers):
            layout.addWidget(part)
        layout.addStretch(1)
        self.setWidget(inside)
        self.setWidgetResizable(True)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)

    # -- what the person does -----------------------------------------------------------------

    def marked(self, points: list[Place]) -> None:
        """Take the points that were marked so far."""
        self._points = points
        enough = self._is_marked
        self.use.setEnabled(enough)
        if enough and self.reference.chosen == "bar":
            self.reference.length.setFocus()
            self.reference.length.selectAll()

    def enter(self) -> bool:
        """Do what Enter means here; False where it means nothing on this page."""
        if self.paper is not None:
            self.answer_lines(fits=True)
            return True
        if not any(field.hasFocus() for field in self.findChildren(QLineEdit)):
            return False
        if self.use.isEnabled():
            self.try_it()
        return True

    def try_it(self) -> None:
        """Look for the scale with what is typed and marked."""
        if self.reference.chosen == "paper":
            self.paper = self._bench.look_for_paper(self._request)
            self._ask_about_lines()
        elif self._bench.set_scale(self._request):
            self.done.emit()

    def answer_lines(self, *, fits: bool) -> None:
        """Take or drop the scale of square paper."""
        self.paper = None
        self._ask_about_lines()
        self.lines_answered.emit()
        if fits and self._bench.set_scale(self._request):
            self.done.emit()
        elif not fits:
            self.reference.square_mm.setFocus()
            self.reference.square_mm.selectAll()

    # -- showing ------------------------------------------------------------------------------

    def show_scale(self) -> None:
        """Say what is known, and what its ± is made of."""
        scale = self._bench.scale
        self.words.setText(scale_words(scale))
        lines = shares(scale) if isinstance(scale, Scale) else ()
        self.budget.setVisible(bool(lines))
        self.budget.setRowCount(len(lines))
        for row, (line, share) in enumerate(lines):
            name = SOURCES.get(line.source, line.source)
            for column, text in enumerate((name, f"{196 * line.u_rel:.2g} %", f"{share:.0%}")):
                item = QTableWidgetItem(text)
                item.setToolTip(line.note)
                if column:
                    item.setTextAlignment(RIGHT)
                self.budget.setItem(row, column, item)
        self._dress()

    def _ask_about_lines(self) -> None:
        """Ask whether the numbers of the lines are right; or no longer."""
        asks = self.paper is not None
        for part in (self.question, self.answers):
            part.setVisible(asks)
        if self.paper is None:
            return
        across, down = self.paper.counted
        spacing = self.reference.square_mm.text()
        self.question.setText(
            f"{across} × {down} squares are counted as {spacing} mm each. Look at the blue lines "
            "on the photo: are there ten squares between 0 and 10?"
        )
        self.lines_found.emit(self.paper.lines_px())

    def _way_changed(self) -> None:
        """Offer what belongs to another way."""
        way = self.reference.chosen
        self._points = []
        self.mark.setVisible(way in MARKED_WAYS)
        self.use.setText("Look for it" if way in ("card", "paper") else "Use it")
        self.use.setEnabled(self._is_marked)
        self.paper = None
        self._ask_about_lines()
        self.lines_answered.emit()

    def _new_photo(self) -> None:
        """Forget what was marked on another photo."""
        self.paper = None
        self._way_changed()

    @property
    def _is_marked(self) -> bool:
        """Whether enough is marked for the way that is chosen."""
        way = self.reference.chosen
        return way not in MARKED_WAYS or len(self._points) >= TO_MARK[way].least

    def _request(self) -> ScaleRequest:
        """Make a request from everything on this page."""
        request = self.reference.request(self._points)
        return replace(request, **self.depth.given())  # type: ignore[arg-type]


def scale_words(scale: Scale | NotFound) -> str:
    """Say in plain words what the scale is, or why there is none.

    Parameters
    ----------
    scale : Scale or NotFound
        Of the photo.
    """
    if isinstance(scale, NotFound):
        return f"No scale: {scale} Ratios are measured all the same; millimetres are not given."
    size = with_limits(scale.px_per_mm, scale.px_per_mm_u)
    said = f"Scale from {METHODS.get(scale.method, scale.method)}: {size} pixels per mm."
    return " ".join([said, *(FLAGS[flag] for flag in scale.flags)])


def _budget_table() -> QTableWidget:
    """Make the table of what the ± is made of."""
    table = QTableWidget(0, 3)
    table.setObjectName("finmeasure_budget")
    table.setHorizontalHeaderLabels(["What the ± is made of", "± (95 %)", "share"])
    header = table.horizontalHeader()
    header.setSectionResizeMode(0, QHeaderView.ResizeMode.Stretch)
    for column in (1, 2):
        header.setSectionResizeMode(column, QHeaderView.ResizeMode.ResizeToContents)
    table.verticalHeader().hide()
    table.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
    table.setSelectionMode(QAbstractItemView.SelectionMode.NoSelection)
    table.setTabKeyNavigation(False)
    return table
