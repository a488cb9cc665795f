"""The card beside the mouse: what to click next, with a drawing of our own."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from qtpy.QtCore import QByteArray, QRectF, QSize, Qt
from qtpy.QtGui import QPainter, QPaintEvent
from qtpy.QtSvg import QSvgRenderer
from qtpy.QtWidgets import QFrame, QHBoxLayout, QVBoxLayout, QWidget

from finmeasure.landmarks.drawings.svg import form_svg
from napari_finmeasure._words import Words, text_size

AWAY = 30
WIDTH = 372


@dataclass(frozen=True, slots=True)
class Hint:
    """What a card says.

    Parameters
    ----------
    title : str
        Name of the point, in the words of the trade.
    synonyms : str
        Other words for it.
    text : str
        One sentence.
    keys : str
        Keys that help here.
    form_id, lit, lit_fin : str
        Drawing and what is lit up in it; no drawing where `form_id` is empty.
    """

    title: str
    text: str
    synonyms: str = ""
    keys: str = ""
    form_id: str = ""
    lit: str = ""
    lit_fin: str = ""


class FormPicture(QWidget):
    """A drawing of a body form that keeps its proportions."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._renderer = QSvgRenderer(self)
        self._shown = ""

    def show_svg(self, svg: str) -> None:
        """Show another drawing."""
        if svg != self._shown:
            self._shown = svg
            self._renderer.load(QByteArray(svg.encode()))
            self.update()

    def sizeHint(self) -> QSize:
        """Ask for the drawing's own size."""
        return self._renderer.defaultSize()

    def paintEvent(self, event: QPaintEvent) -> None:
        """Paint the drawing as large as it fits."""
        size = self._renderer.defaultSize()
        if not size.isValid():
            return
        share = min(self.width() / size.width(), self.height() / size.height())
        width, height = size.width() * share, size.height() * share
        left, top = (self.width() - width) / 2.0, (self.height() - height) / 2.0
        painter = QPainter(self)
        self._renderer.render(painter, QRectF(left, top, width, height))
        painter.end()


class HintCard(QFrame):
    """The card; a child of the glass, so the mouse goes through it.

    Parameters
    ----------
    parent : QWidget
        The glass.
    """

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.setObjectName("finmeasure_hint_card")
        self.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
        # always light, like a paper label: readable on every photo and in both themes
        self.setStyleSheet(
            "#finmeasure_hint_card { background: rgba(250, 248, 240, 236); border-radius: 3px;"
            " border-left: 6px solid #d55e00; }"
            "#finmeasure_hint_card QLabel { color: #14212b; background: transparent; }"
        )
        self._picture = FormPicture()
        self._picture.setFixedSize(138, 96)
        self._title, self._synonyms, self._text, self._keys = (Words() for _ in range(4))
        self._title.setObjectName("hint_title")
        self._title.setStyleSheet(f"font-weight: bold; {text_size(1.25)}")
        self._synonyms.setStyleSheet("font-style: italic;")
        words = QVBoxLayout()
        words.setSpacing(2)
        for label in (self._title, self._synonyms, self._text, self._keys):
            words.addWidget(label)
        row = QHBoxLayout(self)
        row.setContentsMargins(10, 6, 8, 6)
        row.addWidget(self._picture, 0, Qt.AlignmentFlag.AlignTop)
        row.addLayout(words, 1)
        self.setFixedWidth(WIDTH)
        self._hint: Hint | None = None

    @property
    def hint(self) -> Hint | None:
        """What the card says now."""
        return self._hint

    def say(self, hint: Hint | None) -> None:
        """Say something else, or nothing at all."""
        if hint == self._hint:
            return
        self._hint = hint
        self.setVisible(hint is not None)
        if hint is None:
            return
        self._title.setText(hint.title)
        for label, text in (
            (self._synonyms, hint.synonyms),
            (self._text, hint.text),
            (self._keys, hint.keys),
        ):
            label.setText(text)
            label.setVisible(bool(text))
        self._picture.setVisible(bool(hint.form_id))
        if hint.form_id:
            lit = hint.lit or None
            self._picture.show_svg(form_svg(hint.form_id, lit=lit, lit_fin=hint.lit_fin or None))
        self.layout().activate()
        self.setFixedHeight(self.layout().totalHeightForWidth(WIDTH))

    def stand_by(self, place: tuple[float, float]) -> None:
        """Stand beside a place on the glass, on the side away from the middle of the photo."""
        glass = self.parentWidget()
        room = np.array([glass.width() - self.width(), glass.height() - self.height()], float)
        at = np.asarray(place, float)
        size = np.array([self.width(), self.height()], float)
        outside = at - size - AWAY
        beyond = at + AWAY
        upper = at < np.array([glass.width(), glass.height()]) / 2.0
        wanted = np.where(upper, outside, beyond)
        wanted = np.where(wanted < 0, beyond, wanted)
        wanted = np.where(wanted > room, outside, wanted)
        x, y = np.clip(wanted, 0, np.maximum(room, 0))
        covers = x < at[0] < x + size[0] and y < at[1] < y + size[1]
        if covers:  # too little room on this side: change sides
            x = float(np.clip(beyond[0] if x < at[0] - size[0] / 2 else outside[0], 0, room[0]))
        self.move(int(x), int(y))

    def park(self) -> None:
        """Stand in the lower left corner, while the mouse is elsewhere."""
        self.move(10, self.parentWidget().height() - self.height() - 10)
