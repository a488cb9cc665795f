"""Who is marking: asked once per study, shown, and changed at any time."""

from __future__ import annotations

from qtpy.QtCore import Signal
from qtpy.QtWidgets import QFrame, QHBoxLayout, QLabel, QLineEdit, QPushButton

from finmeasure.marking.person import LONGEST_NAME
from napari_finmeasure._bench import Bench

WHY = "Every mark keeps the name of who made it, so that hands can be compared."


class PersonLine(QFrame):
    """A line that asks for the name; it stays until it is answered or put off.

    Signals
    -------
    answered
        The line is no longer needed.
    """

    answered = Signal()

    def __init__(self, bench: Bench) -> None:
        super().__init__()
        self.setObjectName("finmeasure_person")
        self.setToolTip(WHY)
        self._bench = bench
        self._put_off = False
        self.name = QLineEdit()
        self.name.setPlaceholderText("name or initials")
        self.name.setMaxLength(LONGEST_NAME)
        self.good, self.later = QPushButton("OK"), QPushButton("Later")
        self.good.clicked.connect(self.enter)
        self.later.clicked.connect(self._later)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.addWidget(QLabel("Who is marking?"))
        row.addWidget(self.name, 1)
        row.addWidget(self.good)
        row.addWidget(self.later)
        self.hide()

    def show_person(self) -> None:
        """Ask where the name is not known yet."""
        workspace = self._bench.workspace
        asks = workspace is not None and not workspace.person_is_known and not self._put_off
        self.setVisible(asks or (self.isVisible() and self.name.hasFocus()))

    def ask(self) -> None:
        """Ask for another name."""
        workspace = self._bench.workspace
        if workspace is None:
            return
        self.name.setText(workspace.person if workspace.person_is_known else "")
        self.name.selectAll()
        self.show()
        self.name.setFocus()

    def enter(self) -> bool:
        """Use the name that was typed; False where nobody is typing one."""
        if not self.isVisible() or not self.name.text().strip():
            return False
        if self._bench.use_person(self.name.text()):
            self._done()
        return True

    def _later(self) -> None:
        """Put the question off until the window is opened again."""
        self._put_off = True
        self._done()

    def _done(self) -> None:
        """Give the keyboard back to the photo."""
        self.name.clear()
        self.name.clearFocus()
        self.hide()
        self.answered.emit()
