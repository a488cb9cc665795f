"""All parts of the panel at the right: where they stand and what they show."""

from __future__ import annotations

from typing import TYPE_CHECKING

from qtpy.QtCore import Qt
from qtpy.QtWidgets import (
    QCheckBox,
    QComboBox,
    QHBoxLayout,
    QLabel,
    QListWidget,
    QPushButton,
    QSizePolicy,
    QStackedWidget,
    QTableWidget,
    QVBoxLayout,
    QWidget,
)

from finmeasure.landmarks.drawings.svg import DARK, LIGHT
from finmeasure.landmarks.scheme import body_form
from napari_finmeasure._bench import Bench
from napari_finmeasure._edges_page import EdgesPage
from napari_finmeasure._kinds import KindPicker
from napari_finmeasure._person import PersonLine
from napari_finmeasure._points_page import PointsPage
from napari_finmeasure._queue_list import QueueList
from napari_finmeasure._scale_page import ScalePage
from napari_finmeasure._table import NumbersTable
from napari_finmeasure._text_size import ems, follow_text, page_style
from napari_finmeasure._welcome import Welcome

if TYPE_CHECKING:
    import napari

STEPS = ("scale", "points", "edges")
WIDTH_EMS, SMALL_BUTTON_EMS = 29, 2.4


class Panel(QWidget):
    """Photo name, steps, the page of the present step, numbers, buttons.

    Parameters
    ----------
    viewer : napari.Viewer
        For its theme.
    """

    def __init__(self, viewer: napari.Viewer) -> None:
        super().__init__()
        self.setObjectName("finmeasure_desk")
        self.viewer = viewer
        self.bench = Bench(self)
        self._make_pages()
        self._lay_out()
        # a click must not take the keyboard away from the photo; Tab still goes everywhere
        for kind in (QPushButton, QListWidget, QTableWidget, QComboBox, QCheckBox):
            for widget in (*self.findChildren(kind), *self.queue_list.findChildren(kind)):
                widget.setFocusPolicy(Qt.FocusPolicy.TabFocus)

    def _make_pages(self) -> None:
        """Make all parts of the panel."""
        dark = self.viewer.theme == "dark"
        ink = DARK if dark else LIGHT
        self.queue_list = QueueList()
        self.photo_name = QLabel("No photo is open")
        self.photo_name.setObjectName("finmeasure_photo_name")
        self.fish = QComboBox()
        self.fish.setToolTip("Which fish of this photo, counted from left to right")
        self.previous, self.following = QPushButton("◀"), QPushButton("▶")
        self.help = QPushButton("?")
        self.all_fish = QPushButton("▦")
        self.all_fish.setToolTip("All fish at a glance  (C)")
        self.step_buttons = {step: QPushButton() for step in STEPS}
        for button in self.step_buttons.values():
            button.setCheckable(True)
        self.scale_page = ScalePage(self.bench)
        self.points_page = PointsPage(self.bench, ink)
        self.edges_page = EdgesPage(self.bench)
        self.kinds = KindPicker(ink)
        self.pages = QStackedWidget()
        for page in (self.scale_page, self.points_page, self.edges_page, self.kinds):
            self.pages.addWidget(page)
        self.numbers = NumbersTable()
        self.person = PersonLine(self.bench)
        self.person_button = QPushButton("✎ who?")
        self.person_button.setToolTip("Who is marking; click to change it")
        self.person_button.clicked.connect(self.person.ask)
        self.undo_button, self.redo_button = QPushButton("↶ Undo"), QPushButton("↷ Redo")
        self.confirm_button = QPushButton("✓ Confirm, next photo  (Enter)")
        self.confirm_button.setObjectName("finmeasure_confirm")
        self.confirm_button.setStyleSheet("font-weight: bold; padding: 6px;")
        self.work, self.welcome = QWidget(), Welcome()

    def _lay_out(self) -> None:
        """Put the parts below each other."""
        top, steps, hands = QHBoxLayout(), QHBoxLayout(), QHBoxLayout()
        shown = (self.previous, self.photo_name, self.fish, self.following)
        for widget in (*shown, self.all_fish, self.help):
            top.addWidget(widget, 1 if widget is self.photo_name else 0)
        for button in self.step_buttons.values():
            steps.addWidget(button)
        for button in (self.undo_button, self.redo_button, self.person_button):
            hands.addWidget(button)
        layout = QVBoxLayout(self.work)
        layout.setContentsMargins(6, 4, 6, 4)
        layout.setSpacing(5)
        layout.addLayout(top)
        layout.addWidget(self.person)
        layout.addLayout(steps)
        layout.addWidget(self.pages, 5)
        layout.addWidget(self.numbers, 6)
        layout.addLayout(hands)
        layout.addWidget(self.confirm_button)
        self.leaves = QStackedWidget()
        self.leaves.addWidget(self.welcome)
        self.leaves.addWidget(self.work)
        whole = QVBoxLayout(self)
        whole.setContentsMargins(0, 0, 0, 0)
        whole.addWidget(self.leaves)
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Expanding)
        follow_text(self, self._dress)

    def _dress(self) -> None:
        """Take the width that the text needs."""
        self.setStyleSheet(page_style())
        self.setMinimumWidth(ems(WIDTH_EMS))
        for button in (self.previous, self.following, self.all_fish, self.help):
            button.setFixedWidth(ems(SMALL_BUTTON_EMS))

    def _show_fish_list(self) -> None:
        """Offer the fish of the present photo, and another one."""
        workspace, session = self.bench.workspace, self.bench.session
        if workspace is None or session is None or workspace.queue.current is None:
            return
        known = list(dict.fromkeys((*workspace.fish_of(workspace.queue.current), session.fish)))
        self.fish.clear()
        for one in known:
            self.fish.addItem(f"fish {one}" if one.isdigit() else one, one)
        numbers = [int(one) for one in known if one.isdigit()]
        self.fish.addItem("another fish", str(max(numbers, default=len(known)) + 1))
        self.fish.setCurrentIndex(known.index(session.fish))

    def _needs_no_scale(self) -> bool:
        """Whether the question is about shape only."""
        session = self.bench.session
        return session is not None and session.marks.question.startswith(("sex", "fin"))

    def _show_numbers(self) -> None:
        """Show the table, unless the scale, kinds or the answer about the sex need the room."""
        session, page = self.bench.session, self.pages.currentWidget()
        answers = session is not None and session.marks.question == "sex"
        needed = page in (self.kinds, self.scale_page) or (page is self.points_page and answers)
        self.numbers.setVisible(not needed)

    def _live_changed(self) -> None:
        """Show the numbers of a point that is being dragged."""
        session, live = self.bench.session, self.bench.live
        if session is not None and live is not None:
            never = body_form(session.marks.body_form).absent
            self.numbers.show_measures(live, never, self.bench.ranges)

    def _marks_changed(self) -> None:
        """Show numbers and how far each step is."""
        session = self.bench.session
        if session is None:
            return
        never = body_form(session.marks.body_form).absent
        self.numbers.show_measures(self.bench.measures, never, self.bench.ranges)
        self._show_numbers()
        done = len(session.order) - len(session.open_points)
        traced = sum(len(o.points_px) > 2 for o in session.marks.outlines.values())
        scaled = "✓" if self.bench.scale else "✕"
        self.step_buttons["scale"].setText(f"{scaled} Scale")
        self.step_buttons["points"].setText(f"Points {done}/{len(session.order)}")
        self.step_buttons["edges"].setText(f"Edges {traced}")
        open_points = len(session.order) - done
        to_check = len(session.to_check)
        parts = [f"{to_check} ◆ right"] if to_check else []
        parts += [f"{open_points} hidden"] if open_points else []
        rest = f": {', '.join(parts)}" if parts else ", next photo"
        self.confirm_button.setText(f"✓ Confirm{rest}  (Enter)")
        workspace = self.bench.workspace
        known = workspace is not None and workspace.person_is_known
        self.person_button.setText(f"✎ {workspace.person}" if workspace and known else "✎ who?")
        self.person.show_person()
        self.undo_button.setEnabled(session.can_undo)
        self.redo_button.setEnabled(session.can_redo)

    def _queue_changed(self) -> None:
        """Show the queue."""
        workspace = self.bench.workspace
        self.queue_list.show_queue(None if workspace is None else workspace.queue)

    def _write_name(self) -> None:
        """Write the present photo's name."""
        workspace = self.bench.workspace
        if workspace is None or self.bench.prepared is None:
            self.photo_name.setText("No photo is open")
            return
        name = workspace.queue.current or ""
        if workspace.purpose == "repeat":
            name = f"{name} (second marking)"
        self.photo_name.setText(name)
        self.photo_name.setToolTip(str(self.bench.prepared.file))
