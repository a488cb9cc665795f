"""The first screen: three questions in the keeper's words."""

from __future__ import annotations

from dataclasses import dataclass

from qtpy.QtCore import QEvent, QObject, Qt, Signal
from qtpy.QtWidgets import QFrame, QLabel, QPushButton, QSizePolicy, QVBoxLayout, QWidget

from finmeasure.landmarks.drawings.svg import DARK, LIGHT, form_svg
from napari_finmeasure._hint_card import FormPicture
from napari_finmeasure._text_size import ems, follow_text, text_size


@dataclass(frozen=True, slots=True)
class Choice:
    """A button: its id, its words and one sentence."""

    id: str
    words: str
    sentence: str


CHOICES = (
    Choice("folder", "Measure a folder", "Photos of fish before the printed card: lengths, ratios, "
           "fin edges."),
    Choice("sex", "Is it a male?", "One photo, no card needed: which fin tells, and what it says."),
    Choice("study", "Go on with a study", "Everything is as you left it, half-marked fish too."),
)  # fmt: skip


class StartScreen(QFrame):
    """Covers the canvas until something is opened.

    Signals
    -------
    chosen
        Id of the button.
    """

    chosen = Signal(str)

    def __init__(self, canvas: QWidget, *, dark: bool) -> None:
        super().__init__(canvas)
        self.setObjectName("finmeasure_start")
        self._colours = ("#20292e", "#f2f4f5", "#b7c2c8") if dark else (
            "#f4f1e8", "#14212b", "#4a5a64")  # fmt: skip
        layout = QVBoxLayout(self)
        layout.setContentsMargins(24, 12, 24, 18)
        layout.addStretch(1)
        self.picture = FormPicture(self)
        self.picture.show_svg(form_svg("adipose", ink=DARK if dark else LIGHT))
        layout.addWidget(self.picture)
        title = QLabel("What do you want to know?")
        title.setObjectName("start_title")
        layout.addWidget(title, 0, Qt.AlignmentFlag.AlignHCenter)
        self.buttons: dict[str, QPushButton] = {}
        for choice in CHOICES:
            layout.addSpacing(10)
            layout.addWidget(self._button(choice), 0, Qt.AlignmentFlag.AlignHCenter)
            layout.addWidget(QLabel(choice.sentence), 0, Qt.AlignmentFlag.AlignHCenter)
        layout.addSpacing(14)
        drop = QLabel("You can also drop photos or a folder here.")
        layout.addWidget(drop, 0, Qt.AlignmentFlag.AlignHCenter)
        layout.addStretch(2)
        follow_text(self, self._dress)
        canvas.installEventFilter(self)
        self.resize(canvas.size())
        self.show()
        self.take_keyboard()

    def take_keyboard(self) -> None:
        """Let Enter press the first button."""
        self.buttons[CHOICES[0].id].setFocus()

    def _dress(self) -> None:
        """Be as large as the text asks for; the button that Enter presses has a blue frame."""
        ground, ink, quiet = self._colours
        self.setStyleSheet(
            f"#finmeasure_start {{ background: {ground}; }}"
            f"#finmeasure_start QLabel {{ color: {quiet}; background: transparent;"
            f" {text_size(1.1)} }}"
            f"#finmeasure_start QLabel#start_title {{ color: {ink}; {text_size(1.8)} }}"
            f"#finmeasure_start QPushButton {{ background: {ink}; color: {ground};"
            f" {text_size(1.4)} font-weight: bold; padding: 11px; border-radius: 3px;"
            f" border: 3px solid {ink}; border-left: 8px solid #e69f00; text-align: left; }}"
            "#finmeasure_start QPushButton:hover { border-left: 8px solid #56b4e9; }"
            "#finmeasure_start QPushButton:focus"
            " { border: 3px solid #56b4e9; border-left: 8px solid #56b4e9; }"
        )
        self.picture.setFixedHeight(ems(9.3))
        for button in self.buttons.values():
            button.setMinimumWidth(ems(24))

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Keep the size of the canvas."""
        if event.type() == QEvent.Type.Resize:
            self.resize(event.size())
        return False

    def close_down(self) -> None:
        """Uncover the canvas."""
        self.parentWidget().removeEventFilter(self)
        self.hide()
        self.deleteLater()

    def _button(self, choice: Choice) -> QPushButton:
        """Make one large button."""
        button = QPushButton(choice.words)
        button.setObjectName(f"start_{choice.id}")
        button.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)
        button.clicked.connect(lambda: self.chosen.emit(choice.id))
        self.buttons[choice.id] = button
        return button
