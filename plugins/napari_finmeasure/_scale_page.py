"""What is known about the scale, and the ways out where the photo shows none."""

from __future__ import annotations

from collections.abc import Callable

from qtpy.QtCore import Qt, Signal
from qtpy.QtWidgets import (
    QFormLayout,
    QGroupBox,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QSizePolicy,
    QVBoxLayout,
    QWidget,
)

from finmeasure.errors import MarkingError, NotFound
from finmeasure.flags import FLAGS
from finmeasure.report.numbers import with_limits
from finmeasure.scale.calibration import Scale
from finmeasure.scale.request import Bar, ScaleRequest
from napari_finmeasure._bench import Bench
from napari_finmeasure._hands import Place
from napari_finmeasure._words import Words

METHODS = {
    "window_card": "our window card",
    "squares_card": "our squares card",
    "square_paper": "square paper",
    "ruler": "a ruler",
    "bar": "a length that you marked",
    "known": "the number that you typed",
}


class ScalePage(QWidget):
    """Scale in words, and three ways to give one.

    Signals
    -------
    bar_wanted
        The person wants to mark a bar on the photo.
    done
        A scale was accepted.
    """

    bar_wanted = Signal()
    done = Signal()

    def __init__(self, bench: Bench, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._bench = bench
        self._ends: tuple[Place, Place] | None = None
        self.words = Words()
        self.words.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.mark = QPushButton("Mark a length I know on the photo")
        self.mark.clicked.connect(self.bar_wanted)
        self.length, self.length_u = _number("10"), _number("0.1")
        self.use_bar = QPushButton("Use this length")
        self.use_bar.setEnabled(False)
        self.use_bar.clicked.connect(lambda: self._use(self._bar_request))
        self.px_per_mm, self.px_per_mm_u = _number(""), _number("")
        self.square_mm = _number("5")
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addWidget(self.words)
        self._ways = QGroupBox("Give the scale yourself")
        self._ways.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)
        form = QFormLayout(self._ways)
        form.addRow(self.mark)
        form.addRow("its length", _row(self.length, QLabel("mm ±"), self.length_u))
        form.addRow(self.use_bar)
        form.addRow("pixels per mm", _row(self.px_per_mm, QLabel("±"), self.px_per_mm_u,
                                          self._button("Use", self._known_request)))  # fmt: skip
        form.addRow("square paper", _row(self.square_mm, QLabel("mm"),
                                         self._button("Look", self._squares_request)))  # fmt: skip
        form.addRow(self._button("Look for our printed card again", ScaleRequest))
        layout.addWidget(self._ways)
        layout.addStretch(1)
        bench.marks_changed.connect(self.show_scale)
        bench.photo_changed.connect(self._new_photo)

    def bar_marked(self, first: Place, second: Place) -> None:
        """Take both ends of a bar."""
        self._ends = (first, second)
        self.use_bar.setEnabled(True)
        self.length.setFocus()
        self.length.selectAll()

    def enter(self) -> bool:
        """Use the number in the field that has the keyboard; False where none has it."""
        for field, make_request in (
            (self.length, self._bar_request if self._ends is not None else None),
            (self.length_u, self._bar_request if self._ends is not None else None),
            (self.px_per_mm, self._known_request),
            (self.px_per_mm_u, self._known_request),
            (self.square_mm, self._squares_request),
        ):
            if field.hasFocus():
                if make_request is not None:
                    self._use(make_request)
                return True
        return False

    def show_scale(self) -> None:
        """Say what is known."""
        self.words.setText(scale_words(self._bench.scale))

    def _new_photo(self) -> None:
        """Forget the bar of another photo."""
        self._ends = None
        self.use_bar.setEnabled(False)

    def _use(self, make_request: Callable[[], ScaleRequest]) -> None:
        """Try a scale."""
        if self._bench.set_scale(make_request):
            self.done.emit()

    def _button(self, words: str, make_request: Callable[[], ScaleRequest]) -> QPushButton:
        """Make a button that tries a scale."""
        button = QPushButton(words)
        button.clicked.connect(lambda: self._use(make_request))
        return button

    def _bar_request(self) -> ScaleRequest:
        """Make a request from the marked bar."""
        assert self._ends is not None
        (x1, y1), (x2, y2) = self._ends
        length, u = _value(self.length, "length"), _value(self.length_u, "uncertainty")
        return ScaleRequest(bar=Bar(x1, y1, x2, y2, length, u))

    def _known_request(self) -> ScaleRequest:
        """Make a request from typed pixels per millimetre."""
        u = _value(self.px_per_mm_u, "uncertainty") if self.px_per_mm_u.text().strip() else None
        return ScaleRequest(px_per_mm=_value(self.px_per_mm, "pixels per mm"), px_per_mm_u=u)

    def _squares_request(self) -> ScaleRequest:
        """Make a request from the spacing of square paper."""
        return ScaleRequest(card="squares", square_mm=_value(self.square_mm, "spacing"))


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
    lines = [f"{line.source} {100 * line.u_rel:.2g} %" for line in scale.budget]
    if lines:
        said += " What the ± is made of: " + ", ".join(lines) + "."
    return " ".join([said, *(FLAGS[flag] for flag in scale.flags)])


def _value(field: QLineEdit, what: str) -> float:
    """Read a number as people type it, with decimal point or comma.

    Raises
    ------
    MarkingError
        If it is none.
    """
    text = field.text().strip().replace(",", ".")
    try:
        return float(text)
    except ValueError as error:
        message = f"The {what} is {field.text()!r}. Type a number, for example 10 or 12.5."
        raise MarkingError(message) from error


def _number(text: str) -> QLineEdit:
    """Make a short field."""
    field = QLineEdit(text)
    field.setMaximumWidth(70)
    return field


def _row(*widgets: QWidget) -> QWidget:
    """Put widgets beside each other."""
    holder = QWidget()
    layout = QHBoxLayout(holder)
    layout.setContentsMargins(0, 0, 0, 0)
    for widget in widgets:
        layout.addWidget(widget)
    layout.addStretch(1)
    return holder
