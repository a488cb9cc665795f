"""The card beside the mouse: what to click next, with a drawing of our own."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from qtpy.QtCore import QByteArray, QRectF, QSize, Qt
from qtpy.QtGui import QPainter, QPaintEvent
from qtpy.QtSvg import QSvgRenderer
from qtpy.QtWidgets import QFrame, QHBoxLayout, QVBoxLayout, QWidget

from finmeasure.landmarks.drawings.svg import form_svg
from napari_finmeasure._text_size import ems, follow_text, text_size
from napari_finmeasure._words import Words

AWAY = 30
WIDTH_EMS, PICTURE_WIDTH_EMS, PICTURE_HEIGHT_EMS = 26.7, 9.9, 6.9
MARGINS = (12, 6, 8, 6)
LINE_GAP = 3
STRIP_EMS = 4.6  # kept free at the foot of the canvas, for messages


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
        self._picture = FormPicture()
        self._title, self._synonyms, self._text, self._keys = (Words() for _ in range(4))
        self._title.setObjectName("hint_title")
        self._synonyms.setObjectName("hint_synonyms")
        words = QVBoxLayout()
        words.setSpacing(LINE_GAP)
        for label in (self._title, self._synonyms, self._text, self._keys):
            words.addWidget(label)
        words.addStretch(1)
        row = QHBoxLayout(self)
        row.setContentsMargins(*MARGINS)
        row.addWidget(self._picture, 0, Qt.AlignmentFlag.AlignTop)
        row.addLayout(words, 1)
        self._hint: Hint | None = None
        follow_text(self, self._dress)

    def _dress(self) -> None:
        """Be as large as the text asks for; always light, like a paper label on any photo."""
        self.setStyleSheet(
            "#finmeasure_hint_card { background: rgba(250, 248, 240, 236); border-radius: 3px;"
            " border-left: 6px solid #d55e00; }"
            "#finmeasure_hint_card QLabel { color: #14212b; background: transparent; }"
            f"#finmeasure_hint_card #hint_title {{ font-weight: bold; {text_size(1.25)} }}"
            "#finmeasure_hint_card #hint_synonyms { font-style: italic; }"
        )
        self._picture.setFixedSize(ems(PICTURE_WIDTH_EMS), ems(PICTURE_HEIGHT_EMS))
        self.setFixedWidth(ems(WIDTH_EMS))
        hint, self._hint = self._hint, None
        self.say(hint)

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
        picture = ems(PICTURE_WIDTH_EMS) + self.layout().spacing() if hint.form_id else 0
        for label in (self._title, self._synonyms, self._text, self._keys):
            label.setFixedWidth(ems(WIDTH_EMS) - MARGINS[0] - MARGINS[2] - picture)
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
        self.setFixedHeight(self._height_needed())

    def _height_needed(self) -> int:
        """Height of the words that are shown, or of the picture if that is higher."""
        labels = (self._title, self._synonyms, self._text, self._keys)
        shown = [label.minimumHeight() for label in labels if label.text()]
        words = sum(shown) + LINE_GAP * (len(shown) - 1)
        picture = ems(PICTURE_HEIGHT_EMS) if self._hint is not None and self._hint.form_id else 0
        return int(MARGINS[1] + max(words, picture) + MARGINS[3])

    def stand_by(self, place: tuple[float, float], avoid: Sequence[QRectF]) -> None:
        """Stand beside a place on the glass where it covers least of the fish.

        Parameters
        ----------
        place : tuple of float
            The mouse, pixels of the glass.
        avoid : sequence of QRectF
            What should stay in sight, pixels of the glass.
        """
        glass = self.parentWidget()
        room_x, room_y = (
            glass.width() - self.width(),
            glass.height() - self.height() - ems(STRIP_EMS),
        )
        x, y = place
        best, least = (0.0, 0.0), float("inf")
        for left in (x - self.width() - AWAY, x + AWAY, x - self.width() / 2):
            for top in (y - self.height() - AWAY, y + AWAY, 0.0, float(room_y)):
                at = (min(max(left, 0.0), room_x), min(max(top, 0.0), room_y))
                cost = self._cost(at, place, avoid)
                if cost < least:
                    best, least = at, cost
        self.move(int(best[0]), int(best[1]))

    def _cost(
        self, at: tuple[float, float], place: tuple[float, float], avoid: Sequence[QRectF]
    ) -> float:
        """Tell how bad a place is: on the mouse, on the fish, far from the mouse."""
        card = QRectF(at[0], at[1], self.width(), self.height())
        mouse = QRectF(place[0] - AWAY / 2, place[1] - AWAY / 2, AWAY, AWAY)
        parts = [card.intersected(box) for box in avoid]
        covered = sum(part.width() * part.height() for part in parts)
        away = abs(card.center().x() - place[0]) + abs(card.center().y() - place[1])
        return float(1e7 * card.intersects(mouse) + covered + 4.0 * away)

    def park(self) -> None:
        """Stand in the lower left corner, while the mouse is elsewhere."""
        self.move(10, self.parentWidget().height() - self.height() - ems(STRIP_EMS))
