"""Likely the same fish at two visits, side by side, for a person to say so."""

from __future__ import annotations

from qtpy.QtCore import QEvent, Qt, QTimer, Signal
from qtpy.QtGui import QImage, QKeyEvent, QKeySequence, QPixmap
from qtpy.QtWidgets import (
    QApplication,
    QDialog,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QProgressBar,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from finmeasure.errors import FinmeasureError
from finmeasure.report.change_likely import (
    Looked,
    flank_of,
    level_picture,
    pairs_to_look_at,
    seen_fish,
)
from finmeasure.report.change_pairs import (
    Answer,
    Decision,
    FishPair,
    SeenFish,
    decide,
    free_name,
    left_after,
    take_back,
)
from finmeasure.timeseries.same_fish import FlankView
from napari_finmeasure._text_size import ems, follow_text, page_style, stretch_to
from napari_finmeasure._words import Words
from napari_finmeasure._workspace import Workspace

PICTURE_EMS = (37, 19)
NOTHING_TO_COMPARE = (
    "There is nothing to compare. This page looks for the same fish on two days of one group, "
    "where some fish have no name yet. Confirm the fish of two visits (same group, both dates "
    "known); then come back."
)
NONE_ALIKE = (
    "There is no pair to look at: what was answered is not asked again, and other fish are not "
    "alike enough. Plain flanks say nothing, and only photos of the same side can be compared. If "
    "you know a fish, give it its name yourself under All fish (C)."
)
ALL_ANSWERED = "All pairs are answered. Ctrl+Z takes the last answer back; Esc closes this page."
ANSWERS: tuple[tuple[Answer, str, str], ...] = (
    ("same", "Same fish", "S"),
    ("different", "Different fish", "D"),
    ("not sure", "Not sure", "N"),
)


class SameFishPanel(QDialog):
    """Pairs of the open study that may show one fish.

    Signals
    -------
    named
        Names were given or taken back.

    Parameters
    ----------
    parent : QWidget
        The desk.
    """

    named = Signal()

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.setObjectName("finmeasure_same_fish")
        self.setWindowTitle("The same fish?")
        self._workspace: Workspace | None = None
        self._waiting: list[SeenFish] = []
        self._looked: list[Looked] = []
        self._left_out = 0
        self._history: list[tuple[Decision, tuple[FishPair, ...]]] = []
        self.pairs: tuple[FishPair, ...] = ()
        self.at = 0
        self.place, self.why, self.said = Words(), Words(), Words()
        self.pictures, self.captions = (QLabel(), QLabel()), (Words(), Words())
        self.name, self.progress = QLineEdit(), QProgressBar()
        self.name_words = QLabel("Name of the fish")
        self.buttons: dict[Answer, QPushButton] = {}
        self.undo_button = self._button("Undo  (Ctrl+Z)", self.undo)
        self.before_button = self._button("◀  Pair before  (PgUp)", self.show_before)
        self.next_button = self._button("Next pair  (PgDown)  ▶", self.show_next)
        self._soon = QTimer(self)
        self._soon.timeout.connect(self._look_at_one)
        self._lay_out()
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        follow_text(self, self._dress)

    def _button(self, words: str, does: object) -> QPushButton:
        """Make a button that Enter does not press by itself."""
        button = QPushButton(words)
        button.setAutoDefault(False)
        button.clicked.connect(does)
        return button

    def _lay_out(self) -> None:
        """Put everything in its place."""
        sides, name, row, last = (QHBoxLayout() for _ in range(4))
        for picture, caption in zip(self.pictures, self.captions, strict=True):
            picture.setAlignment(Qt.AlignmentFlag.AlignCenter)
            column = QVBoxLayout()
            column.addWidget(picture)
            column.addWidget(caption)
            sides.addLayout(column, 1)
        name.addWidget(self.name_words)
        name.addWidget(self.name, 1)
        name.addStretch(2)
        self.name_words.setBuddy(self.name)
        for answer, words, key in ANSWERS:
            self.buttons[answer] = self._button(
                f"{words}  ({key})", lambda _=False, answer=answer: self.answer(answer)
            )
            row.addWidget(self.buttons[answer], 1)
        for button in (self.before_button, self.next_button, self.undo_button):
            last.addWidget(button, 1)
        layout = QVBoxLayout(self)
        layout.addWidget(self.place)
        layout.addWidget(self.progress)
        layout.addLayout(sides)
        layout.addWidget(self.why)
        layout.addLayout(name)
        layout.addLayout(row)
        layout.addLayout(last)
        layout.addWidget(self.said)
        layout.addStretch(1)

    @property
    def _keys(self) -> dict[str, QPushButton]:
        """What each key presses."""
        return {key: self.buttons[answer] for answer, _, key in ANSWERS} | {
            "Ctrl+Z": self.undo_button,
            "PgUp": self.before_button,
            "PgDown": self.next_button,
        }

    def event(self, event: QEvent) -> bool:
        """Keep the keys of this page from the window behind it."""
        if event.type() == QEvent.Type.ShortcutOverride and _typed(event) in self._keys:
            event.accept()
            return True
        return bool(super().event(event))

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Let keys answer; letters typed into the name's field never come here."""
        typed = _typed(event)
        if typed in self._keys:
            self._keys[typed].click()
        elif typed in ("Return", "Enter") and self.name.hasFocus():
            self.buttons["same"].setFocus()
        else:
            super().keyPressEvent(event)

    def _dress(self) -> None:
        """Take the room that the text needs."""
        self.setStyleSheet(page_style())
        for button in self.buttons.values():
            button.setMinimumHeight(ems(2.6))
        stretch_to(self, 80, 40)
        self._show_pair()

    # -- looking ------------------------------------------------------------------------------

    def show_study(self, workspace: Workspace) -> None:
        """Look through the fish of a study, one photo after the other, and show likely pairs."""
        self._workspace = workspace
        self._waiting = list(seen_fish(workspace.study))
        self._looked, self._history, self.pairs = [], [], ()
        self._left_out = self.at = 0
        self.progress.setMaximum(max(len(self._waiting), 1))
        self.progress.setValue(0)
        self.said.setText(workspace.read_only)
        if self._waiting:
            self._soon.start(0)
        self._show_pair()

    def hideEvent(self, event: object) -> None:
        """Stop looking when nobody waits for it."""
        self._soon.stop()

    def _look_at_one(self) -> None:
        """Cut out one more flank; the window stays alive between two."""
        if self._waiting:
            fish = self._waiting.pop(0)
            view = flank_of(fish)
            if isinstance(view, FlankView):
                self._looked.append((fish, view))
            else:
                self._left_out += 1
            self.progress.setValue(self.progress.value() + 1)
            return
        self._soon.stop()
        self.setFocus()
        if self._workspace is not None:
            self.pairs = pairs_to_look_at(self._workspace.study, self._looked)
            self._show_pair()

    # -- showing ------------------------------------------------------------------------------

    @property
    def pair(self) -> FishPair | None:
        """The pair that is shown."""
        return self.pairs[self.at] if self.at < len(self.pairs) else None

    def show_before(self) -> None:
        """Go one pair back."""
        self._go(-1)

    def show_next(self) -> None:
        """Go one pair on."""
        self._go(1)

    def _go(self, by: int) -> None:
        if self.pairs:
            self.at = (self.at + by) % len(self.pairs)
            self._show_pair()

    def _show_pair(self) -> None:
        """Show the pair, or say why there is none."""
        pair, looking = self.pair, self._soon.isActive()
        self.progress.setVisible(looking)
        for widget in (*self.pictures, *self.captions, self.name, self.name_words, self.why,
                       *self.buttons.values(), self.before_button, self.next_button):  # fmt: skip
            widget.setVisible(pair is not None)
        self.undo_button.setVisible(pair is not None or bool(self._history))
        self.undo_button.setEnabled(bool(self._history))
        self.before_button.setEnabled(len(self.pairs) > 1)
        self.next_button.setEnabled(len(self.pairs) > 1)
        if pair is None:
            self.place.setText("Looking through the photos …" if looking else self._empty_words())
            return
        for place, fish in enumerate((pair.earlier, pair.later)):
            self.pictures[place].setPixmap(_pixmap(fish))
            self.captions[place].setText(_caption(fish))
        self._write_words(pair)

    def _write_words(self, pair: FishPair) -> None:
        """Say where the pair is from, why it is shown, and what name it would get."""
        assert self._workspace is not None
        days = (pair.later.visit - pair.earlier.visit).days
        group = f"{pair.later.group}, " if pair.later.group else ""
        unsure = " You were not sure of it before." if pair.unsure else ""
        self.place.setText(
            f"<b>The same fish?</b> Pair {self.at + 1} of {len(self.pairs)}: {group}{days} "
            f"{'day' if days == 1 else 'days'} apart.{unsure}"
        )
        self.why.setText("  ".join(pair.reasons))
        self.name.setText(pair.name or free_name(self._workspace.study, pair.later.group))
        self.name.setReadOnly(bool(pair.name))
        for button in self.buttons.values():
            button.setEnabled(not self._workspace.read_only)

    def _empty_words(self) -> str:
        """Say why there is no pair."""
        if self._history:
            return ALL_ANSWERED
        if not self._looked and not self._left_out:
            return NOTHING_TO_COMPARE
        if not self._left_out:
            return NONE_ALIKE
        return (
            f"{NONE_ALIKE} {self._left_out} fish could not be compared: their snout, tail base or "
            "dorsal fin is not marked, or the photo is gone."
        )

    # -- answering ----------------------------------------------------------------------------

    def answer(self, answer: Answer) -> None:
        """Write what the person says into the study and show the next pair."""
        pair, workspace = self.pair, self._workspace
        if pair is None or workspace is None:
            return
        try:
            decision = decide(
                workspace.study, pair, answer, person=workspace.person, name=self.name.text()
            )
        except FinmeasureError as error:
            self.said.setText(str(error))
            return
        self._history.append((decision, self.pairs))
        self.pairs = left_after(self.pairs, decision)
        if answer == "not sure" and self.at == len(self.pairs) - 1:
            self.at = 0
        self.at = min(self.at, max(len(self.pairs) - 1, 0))
        self.said.setText(_kept_words(decision))
        self._show_pair()
        if answer == "same":
            self.named.emit()

    def undo(self) -> None:
        """Take the last answer back and show its pair again."""
        if not self._history or self._workspace is None:
            return
        decision, before = self._history.pop()
        try:
            take_back(self._workspace.study, decision)
        except FinmeasureError as error:
            self.said.setText(str(error))
            return
        self.pairs, self.at = before, before.index(decision.pair)
        self.said.setText("Taken back.")
        self._show_pair()
        self.named.emit()


def _typed(event: QKeyEvent) -> str:
    """Name a key as the buttons do."""
    return str(QKeySequence(event.keyCombination()).toString())


def _kept_words(decision: Decision) -> str:
    """Say what was kept."""
    if decision.answer == "same":
        return f"Kept: both photos show {decision.name}. Ctrl+Z takes it back."
    if decision.answer == "different":
        return "Kept: two different fish; this pair is not asked again. Ctrl+Z takes it back."
    return "Kept: not sure; this pair comes again at the end. Ctrl+Z takes it back."


def _caption(fish: SeenFish) -> str:
    """Say which fish it is."""
    who = f"<b>{fish.name}</b>" if fish.name else f"fish {fish.number}, no name yet"
    return f"{fish.visit.isoformat()}: {who}<br>{fish.photo}"


def _pixmap(fish: SeenFish) -> QPixmap:
    """Make the picture of a fish, as sharp as the screen shows it."""
    screen = QApplication.primaryScreen().availableSize()
    width = min(ems(PICTURE_EMS[0]), (screen.width() - 100) // 2)
    height = round(width * PICTURE_EMS[1] / PICTURE_EMS[0])
    pixels = level_picture(fish, (width, height))
    if not pixels.size:
        return QPixmap()
    image = QImage(pixels.data, width, height, 3 * width, QImage.Format.Format_RGB888)
    return QPixmap.fromImage(image.copy())
