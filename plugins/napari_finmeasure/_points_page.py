"""The points of the question: what is asked now, what is set, and which kind of fish it is."""

from __future__ import annotations

from qtpy.QtCore import QSize, Qt, Signal
from qtpy.QtWidgets import (
    QComboBox,
    QGridLayout,
    QHBoxLayout,
    QInputDialog,
    QListWidget,
    QListWidgetItem,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from finmeasure.landmarks.drawings.svg import Ink
from finmeasure.landmarks.scheme import (
    LONG_FIN,
    body_form,
    landmark_definition,
    points_for,
    questions,
)
from finmeasure.marking.session import MarkingSession
from napari_finmeasure._answer import AnswerBox
from napari_finmeasure._bench import Bench
from napari_finmeasure._kinds import kind_icon
from napari_finmeasure._text_size import ems, follow_text
from napari_finmeasure._words import Words

SIGNS = {"placed": "●", "absent": "–", "hidden": "?", "proposed": "◆", "open": "○", "next": "▶"}
ANSWERS = (
    ("answer_absent", "None", "A", "The fish has no such fin or point"),
    ("answer_hidden", "Hidden", "H", "It cannot be seen in this photo"),
    ("back", "Back", "B", "Ask for the point before again"),
    ("skip", "Later", "S", "Ask for this point again at the end"),
)


class PointsPage(QWidget):
    """Question, kind of fish, answers and the list of points.

    Signals
    -------
    kind_wanted
        The person wants to choose the kind of fish.
    """

    kind_wanted = Signal()

    def __init__(self, bench: Bench, ink: Ink, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._bench, self._ink = bench, ink
        self.question = QComboBox()
        self.question.setToolTip("Only the points that the question needs are asked for")
        self.question.activated.connect(self._asked)
        self.kind = QPushButton()
        self.kind.setObjectName("finmeasure_kind")
        self.kind.clicked.connect(self.kind_wanted)
        self.next = Words()
        self.next.setObjectName("finmeasure_next")
        self.told = Words()
        self.told.setObjectName("finmeasure_told")
        self.answer = AnswerBox(bench)
        self.agree = QPushButton("Yes, it is right  (Y)")
        self.agree.setToolTip("The point in the ring is right where the program put it")
        self.agree_all = QPushButton("All ◆ are right  (Shift+Y)")
        self.agree_all.setToolTip("All points that the program put are right")
        self.answers = {does: QPushButton(f"{words}  ({key})") for does, words, key, _ in ANSWERS}
        self.list = QListWidget()
        self.list.setObjectName("finmeasure_points")
        self.list.itemClicked.connect(self._picked)
        self.list.itemActivated.connect(self._picked)
        grid = QGridLayout()
        for place, (does, _, _, tip) in enumerate(ANSWERS):
            self.answers[does].setToolTip(tip)
            grid.addWidget(self.answers[does], 0, place)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addWidget(self.kind)
        layout.addWidget(self.question)
        layout.addWidget(self.told)
        layout.addWidget(self.answer)
        layout.addWidget(self.next)
        layout.addLayout(grid)
        yes = QHBoxLayout()
        for button in (self.agree, self.agree_all):
            yes.addWidget(button)
        layout.addLayout(yes)
        layout.addWidget(self.list, 1)
        bench.marks_changed.connect(self.show_marks)
        bench.chosen_changed.connect(self.show_marks)
        follow_text(self, self._dress)

    def _dress(self) -> None:
        """Take the room that the text needs."""
        self.kind.setIconSize(_icon_size())
        self.list.setMinimumHeight(ems(6))
        self.use(self._ink)

    def use(self, ink: Ink) -> None:
        """Draw the kind's picture in other colours."""
        self._ink = ink
        self.kind.setText("")
        self.show_marks()

    def show_marks(self) -> None:
        """Show what is asked and what is set."""
        session = self._bench.session
        self.setEnabled(session is not None)
        if session is None:
            return
        self._show_kind(session)
        done = len(session.order) - len(session.open_points)
        if session.at is None:
            self.next.setText("All points are set. Check the numbers, then confirm (Enter).")
        elif session.is_proposed(session.at):
            shown, waiting = landmark_definition(session.at).shown, len(session.to_check)
            self.next.setText(f"Is the ring on the <b>{shown}</b>? ({waiting} to check)")
        else:
            shown = landmark_definition(session.at).shown
            self.next.setText(f"Click the <b>{shown}</b> ({done + 1} of {len(session.order)})")
        for button in (self.agree, self.agree_all):
            button.setVisible(bool(session.to_check))
        sex_note = body_form(session.marks.body_form).sex_note
        told = sex_note if session.marks.question == "sex" and session.open_points else ""
        if self._bench.unseen and not session.is_touched:
            told = f"{told} The program has marked nothing: {self._bench.unseen}".strip()
        self.told.setText(told)
        self.told.setVisible(bool(self.told.text()))
        self.answer.show_answer()
        self._fill(session)

    def ask_new_name(self, name: str) -> str | None:
        """Ask for another name of a point; None where nothing is chosen."""
        session = self._bench.session
        assert session is not None
        names = [n for n in points_for("full", session.marks.body_form) if n != name]
        shown = [landmark_definition(n).shown for n in names]
        title = f"The {landmark_definition(name).shown} is really the …"
        words, good = QInputDialog.getItem(self, "Another name", title, shown, 0, False)
        return names[shown.index(words)] if good else None

    def _show_kind(self, session: MarkingSession) -> None:
        """Show kind and question."""
        form = body_form(session.marks.body_form)
        text = f"  {form.shown.partition(' (')[0]}"
        text += ", long-fin strain" if form.id.endswith(LONG_FIN) else ""
        if self.kind.text() != text:
            self.kind.setText(text)
            self.kind.setToolTip(f"{form.shown}. Click to choose another kind of fish.")
            self.kind.setIcon(kind_icon(form.id, self._ink, _icon_size()))
        wanted = [*_question_ids(form.fins)]
        if [self.question.itemData(i) for i in range(self.question.count())] != wanted:
            self.question.clear()
            for one in wanted:
                self.question.addItem(f"I want to know: {_question_words(one)}", one)
        self.question.setCurrentIndex(max(self.question.findData(session.marks.question), 0))

    def _fill(self, session: MarkingSession) -> None:
        """Write the list of points."""
        self.list.blockSignals(True)
        names = session.order
        while self.list.count() > len(names):
            self.list.takeItem(self.list.count() - 1)
        while self.list.count() < len(names):
            self.list.addItem(QListWidgetItem())
        for row, name in enumerate(names):
            item = self.list.item(row)
            text = f"{SIGNS[point_state(session, name)]}  {landmark_definition(name).shown}"
            if session.is_proposed(name):
                text += f"   {100 * (session.marks.landmarks[name].confidence or 0.0):.0f} % sure"
            if item.text() != text:
                item.setText(text)
            item.setData(Qt.ItemDataRole.UserRole, name)
        at = self._bench.chosen_point or session.at
        if at in names:
            self.list.setCurrentRow(names.index(at))
        self.list.blockSignals(False)

    def _picked(self, item: QListWidgetItem) -> None:
        """Ask for an open point; choose a placed one."""
        name = item.data(Qt.ItemDataRole.UserRole)
        session = self._bench.session
        if session is None:
            return
        if point_state(session, name) in ("placed", "proposed"):
            self._bench.choose_point(name)
        else:
            self._bench.ask_for(name)

    def _asked(self) -> None:
        """Change the question."""
        self._bench.set_question(self.question.currentData())


def point_state(session: MarkingSession, name: str) -> str:
    """Give the state of a point as a key of :data:`SIGNS`."""
    if name == session.at:
        return "next"
    landmark = session.marks.landmarks.get(name)
    if landmark is None:
        return "open"
    return "proposed" if session.is_proposed(name) else landmark.state


def _icon_size() -> QSize:
    """Size of the picture on the button, pixels."""
    return QSize(ems(4.3), ems(2.4))


def _question_ids(fins: tuple[str, ...]) -> list[str]:
    """Give the questions that a body form can be asked."""
    return ["full", "size", "sex", *(f"fin:{fin}" for fin in fins)]


def _question_words(question: str) -> str:
    """Give a question in the keeper's words."""
    kind, _, fin = question.partition(":")
    shown = questions()[kind].shown
    return f"{shown}: {fin.replace('_', ' ')}" if fin else shown
