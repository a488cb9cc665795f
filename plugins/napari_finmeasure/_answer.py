"""The answer to "Is it a male?", in the keeper's words, ready to be sent on."""

from __future__ import annotations

from pathlib import Path

from qtpy.QtGui import QResizeEvent
from qtpy.QtWidgets import QApplication, QFileDialog, QFrame, QHBoxLayout, QPushButton, QVBoxLayout

from finmeasure.landmarks.scheme import fin_definitions
from finmeasure.report.counter import NO_GUARANTEE
from napari_finmeasure._bench import Bench
from napari_finmeasure._text_size import follow_text, text_size
from napari_finmeasure._words import Words

#: Shape first: an answer is read from across the room, whatever its colour.
SIGNS = {"male-like": "♂", "female-like": "♀", "not told yet": "…", "looks alike": "="}
UNCHECKED = "By the program's points; check them first."


class AnswerBox(QFrame):
    """Answer, reason, caution, and two buttons to send it on; only for the question of the sex.

    Parameters
    ----------
    bench : Bench
        Where the answer comes from.
    """

    def __init__(self, bench: Bench) -> None:
        super().__init__()
        self.setObjectName("finmeasure_answer")
        self.setStyleSheet("#finmeasure_answer { border-left: 6px solid #e69f00; }")
        self._bench = bench
        self.answer, self.reason = Words(), Words()
        follow_text(self, self._dress)
        self.copy, self.save = QPushButton("Copy reply"), QPushButton("Save picture …")
        self.copy.setToolTip("Puts answer and reason on the clipboard")
        self.save.setToolTip("Saves the photo with the fin and the answer on it")
        self.copy.clicked.connect(self.copy_reply)
        self.save.clicked.connect(self._ask_where)
        buttons = QHBoxLayout()
        buttons.addWidget(self.copy)
        buttons.addWidget(self.save)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(8, 2, 2, 2)
        layout.addWidget(self.answer)
        layout.addWidget(self.reason)
        layout.addLayout(buttons)
        self.hide()

    def _dress(self) -> None:
        """Write the answer large."""
        self.answer.setStyleSheet(f"font-weight: bold; {text_size(1.6)}")

    @property
    def reply(self) -> str:
        """What is sent on; empty without an answer."""
        answer = self._bench.sex_answer
        return "" if answer is None else f"{answer} {NO_GUARANTEE}"

    def show_answer(self) -> None:
        """Show the answer once every point is decided."""
        session, answer = self._bench.session, self._bench.sex_answer
        ready = session is not None and answer is not None and not session.open_points
        self.setVisible(ready)
        if session is None or answer is None or not ready:
            return
        self.answer.setText(f"{SIGNS.get(answer.answer, '?')}  {answer.answer}")
        told = [answer.reason, answer.caution, UNCHECKED if session.to_check else ""]
        if answer.fin:
            told.insert(0, f"Look at the {fin_definitions()[answer.fin].shown} (ring):")
        self.reason.setText(" ".join(part for part in told if part))
        self._ask_for_height()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Follow the width."""
        super().resizeEvent(event)
        self._ask_for_height()

    def _ask_for_height(self) -> None:
        """Ask for all the height that the words need, so that nothing is cut off."""
        self.setFixedHeight(self.layout().totalHeightForWidth(self.width()))

    def copy_reply(self) -> None:
        """Put the reply on the clipboard."""
        QApplication.clipboard().setText(self.reply)
        self._bench.said.emit("Copied. Paste it into your message.", False)

    def save_picture(self, file: Path) -> None:
        """Write the picture to send on."""
        try:
            file.write_bytes(self._bench.picture_to_send())
        except OSError as error:
            why = f"{file.name} cannot be written ({error.strerror}). Choose another folder."
            self._bench.said.emit(why, True)
            return
        self._bench.said.emit(f"Saved {file.name}.", False)

    def _ask_where(self) -> None:
        """Ask where the picture goes."""
        file, _ = QFileDialog.getSaveFileName(self, "Save the picture", "reply.jpg", "JPEG (*.jpg)")
        if file:
            self.save_picture(Path(file).with_suffix(".jpg"))
