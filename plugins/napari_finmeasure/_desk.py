"""The desk: the panel at the right from which a keeper works, and everything it brings along."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from qtpy.QtCore import QEvent, QObject, Qt
from qtpy.QtGui import QKeySequence, QShortcut, QShowEvent
from qtpy.QtWidgets import (
    QApplication,
    QDockWidget,
    QFileDialog,
    QLineEdit,
    QMainWindow,
    QWidget,
)

from finmeasure.errors import FinmeasureError, NotFound
from finmeasure.landmarks.scheme import body_form
from napari_finmeasure._counting import ACROSS, CountDialog
from napari_finmeasure._hands import Place
from napari_finmeasure._hints import KIND_HINT
from napari_finmeasure._keys import KEYS
from napari_finmeasure._photo_actions import PhotoActions
from napari_finmeasure._reference_tool import TO_MARK, NumberedLines, ReferenceTool
from napari_finmeasure._stage import Stage
from napari_finmeasure._start import StartScreen
from napari_finmeasure._text_size import follow_text, text_points
from napari_finmeasure._tools import EdgeTool, PointTool, WaitTool
from napari_finmeasure._wet_hands import WetHandsBar

if TYPE_CHECKING:
    import napari

TITLE_POINTS = 11
PHOTO_ENDINGS = "Photos (*.jpg *.jpeg *.png *.tif *.tiff *.heic *.heif)"


class Desk(PhotoActions):
    """The panel; napari hands the viewer over.

    Parameters
    ----------
    napari_viewer : napari.viewer.Viewer
        The viewer whose canvas is used.
    """

    def __init__(self, napari_viewer: napari.viewer.Viewer) -> None:
        super().__init__(napari_viewer)
        self.start: StartScreen | None = None
        self.count_dialog: CountDialog | None = None
        self.count_line: list[Place] = []
        self._shortcuts: list[QShortcut] = []
        self._connect()

    def _connect(self) -> None:
        """Connect the parts to the bench and to each other."""
        bench = self.bench
        bench.photo_changed.connect(self._photo_changed)
        bench.marks_changed.connect(self._marks_changed)
        bench.live_changed.connect(self._live_changed)
        bench.chosen_changed.connect(lambda: self.numbers.hang_on(bench.chosen_point))
        bench.queue_changed.connect(self._queue_changed)
        self.numbers.chosen.connect(bench.choose_measure)
        self.queue_list.chosen.connect(self.go_to)
        self.prefetch.ready.connect(self._prepared)
        self.prefetch.failed.connect(self._broken)
        self.prefetch.proposed.connect(self._proposed)
        self.prefetch.idle.connect(self._look_ahead)
        self.previous.clicked.connect(self.previous_photo)
        self.following.clicked.connect(self.next_photo)
        self.help.clicked.connect(self.cheat_sheet)
        self.all_fish.clicked.connect(self.contact_sheet)
        self.fish.activated.connect(self._fish_chosen)
        self.welcome.keys.clicked.connect(self.cheat_sheet)
        self.welcome.guide.clicked.connect(self.fin_guide)
        for step, button in self.step_buttons.items():
            button.clicked.connect(lambda _=False, s=step: self.go_to_step(s))
        self.undo_button.clicked.connect(self.undo)
        self.redo_button.clicked.connect(self.redo)
        self.confirm_button.clicked.connect(self.confirm)
        for does, button in self.points_page.answers.items():
            button.clicked.connect(getattr(self, does))
        self.points_page.kind_wanted.connect(self.ask_kind)
        self.kinds.chosen.connect(self._kind_chosen)
        self.points_page.agree.clicked.connect(self.agree)
        self.points_page.agree_all.clicked.connect(self.agree_with_all)
        self.person.answered.connect(self._back_to_photo)
        self.edges_page.fin_chosen.connect(self._trace)
        self.edges_page.pull.clicked.connect(self.pull_to_edge)
        self.scale_page.mark_wanted.connect(self._mark_reference)
        self.scale_page.lines_found.connect(self._show_lines)
        self.scale_page.lines_answered.connect(self._hide_lines)
        self.scale_page.done.connect(lambda: self.go_to_step("points"))

    # -- coming and going ---------------------------------------------------------------------

    def showEvent(self, event: QShowEvent) -> None:
        """Take the canvas as soon as the panel stands in a window."""
        super().showEvent(event)
        if self.stage is None and isinstance(self.window(), QMainWindow):
            self._take_canvas(self.window())

    def event(self, event: QEvent) -> bool:
        """Close down when napari takes the panel out of its dock."""
        if event.type() == QEvent.Type.ParentChange and self.parent() is None:
            self.close_down()
        return bool(super().event(event))

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Close down when the window is closed; minimising is spontaneous."""
        if event.type() == QEvent.Type.Hide and not event.spontaneous():
            self.close_down()
        return False

    def _take_canvas(self, window: QMainWindow) -> None:
        """Bring stage, queue, big buttons and keys into the window."""
        window.installEventFilter(self)
        self.stage = Stage(self.viewer, window, self.bench)
        self.stage.dropped.connect(self.open_paths)
        self.wet_bar = WetHandsBar(self)
        dock = self.viewer.window.add_dock_widget(
            self.queue_list, name="Photos", area="left", tabify=False
        )
        self.queue_dock = dock
        dock.hide()
        for title in (one.titleBarWidget() for one in (dock, self._own_dock()) if one is not None):
            follow_text(title, partial(_fit_in, title))
        window.addToolBar(Qt.ToolBarArea.BottomToolBarArea, self.wet_bar)
        self.wet_bar.hide()
        for key in KEYS:
            shortcut = QShortcut(QKeySequence(key.sequence), window)
            does = getattr(self, key.does)
            shortcut.activated.connect(partial(does, key.given) if key.given else does)
            self._shortcuts.append(shortcut)
        if self.bench.prepared is None:
            self._show_start()

    def _own_dock(self) -> QDockWidget | None:
        """Find the dock that this panel stands in."""
        docks = self.window().findChildren(QDockWidget)
        return next((dock for dock in docks if dock.isAncestorOf(self)), None)

    def close_down(self) -> None:
        """Give everything back: threads, study, canvas, keys."""
        self.prefetch.wait()
        for shortcut in self._shortcuts:
            shortcut.setEnabled(False)
            shortcut.deleteLater()
        self._shortcuts = []
        if self.stage is not None:
            self.stage.close_down()
            self.stage = None
        for part in (self.start, self.wet_bar, self.queue_dock):
            if part is not None:
                part.hide()
                part.deleteLater()
        self.start = self.wet_bar = self.queue_dock = None
        self.bench.close_workspace()

    def _show_start(self) -> None:
        """Show the first screen."""
        assert self.stage is not None
        self.start = StartScreen(self.stage.canvas, dark=self.viewer.theme == "dark")
        self.start.chosen.connect(self._start_chosen)

    def _start_chosen(self, choice: str) -> None:
        """Ask for what to open."""
        if choice == "sex":
            file, _ = QFileDialog.getOpenFileName(self, "Which photo?", "", PHOTO_ENDINGS)
            paths = [file] if file else []
        else:
            words = "Which folder of photos?" if choice == "folder" else "Which study?"
            folder = QFileDialog.getExistingDirectory(self, words)
            paths = [folder] if folder else []
        if paths:
            self.open_paths([Path(path) for path in paths], "sex" if choice == "sex" else "full")

    # -- steps --------------------------------------------------------------------------------

    def go_to_step(self, step: str) -> None:
        """Show the page of a step and let the mouse do what belongs to it."""
        page = {"scale": self.scale_page, "points": self.points_page, "edges": self.edges_page}
        self.pages.setCurrentWidget(page[step])
        self._show_numbers()
        for name, button in self.step_buttons.items():
            button.setChecked(name == step)
        if self.stage is None:
            return
        if step == "edges":
            fins = self.edges_page.fins
            if self.edges_page.fin in fins:
                self.edges_page.choose(self.edges_page.fin)
            elif fins:
                answer = self.bench.sex_answer
                tells = answer is not None and answer.fin in fins
                self.edges_page.choose(answer.fin if answer and tells else fins[0])
        else:
            self.stage.use(PointTool(self.stage))

    def next_fin(self) -> None:
        """Trace the next fin."""
        fins = self.edges_page.fins
        if not fins:
            return
        if self.pages.currentWidget() is not self.edges_page or self.edges_page.fin is None:
            self.go_to_step("edges")
            return
        place = fins.index(self.edges_page.fin) + 1
        if place < len(fins):
            self.edges_page.choose(fins[place])
        else:
            self.edges_page.fin = None
            self.go_to_step("points")

    def open_paths(self, paths: list[Path], question: str = "full") -> None:
        """Open photos, a folder or a study, and show the panel that asks about them."""
        super().open_paths(paths, question)
        self._come_forward()

    def _come_forward(self) -> None:
        """Show this panel: the fin guide may stand before it."""
        if (dock := self._own_dock()) is not None:
            dock.raise_()

    def stop(self) -> None:
        """Stop what was begun: back to the points; while lines are asked about, it says no."""
        self._come_forward()
        if self.scale_page.paper is not None:
            self.scale_page.answer_lines(fits=False)
            return
        self.count_line = []
        self.go_to_step("points")
        self._back_to_photo()

    def confirm(self) -> None:
        """Do what Enter means: a line that is being drawn is done, else the fish is confirmed."""
        if not self.finish_line():
            super().confirm()

    def _trace(self, fin: str) -> None:
        """Let the mouse trace a fin."""
        if self.stage is not None:
            self.stage.use(EdgeTool(self.stage, fin))

    def _mark_reference(self, way: str) -> None:
        """Let the mouse mark what shows the size."""
        if self.stage is not None:
            self.stage.use(ReferenceTool(self.stage, TO_MARK[way], self.scale_page.marked))

    def _show_lines(self, lines: list[tuple[int, NDArray[np.float64]]]) -> None:
        """Show the numbered lines of square paper."""
        if self.stage is not None:
            self.stage.use(NumberedLines(self.stage, lines))
            self.stage.fit()

    def _hide_lines(self) -> None:
        """Let the mouse set points again."""
        if self.stage is not None and isinstance(self.stage.tool, NumberedLines | ReferenceTool):
            self.stage.use(PointTool(self.stage))

    def count(self) -> None:
        """Let the mouse draw the line along which rays or scales are counted."""
        if self.stage is not None and self.bench.session is not None:
            self.count_line = []
            self.stage.use(ReferenceTool(self.stage, ACROSS, self._line_drawn))

    def _line_drawn(self, points: list[Place]) -> None:
        """Remember the line until the person says that it is done."""
        self.count_line = points

    def finish_line(self) -> bool:
        """Show the strip along the line that was drawn; False where none is being drawn."""
        session, points, self.count_line = self.bench.session, self.count_line, []
        if session is None or len(points) < ACROSS.least:
            return False
        if self.count_dialog is None:
            self.count_dialog = CountDialog(self, self.bench)
        try:
            self.count_dialog.show_line(points, body_form(session.marks.body_form))
        except FinmeasureError as error:
            self._say(str(error), trouble=True)
            return True
        self.go_to_step("points")
        self.count_dialog.show()
        self.count_dialog.activateWindow()
        self.count_dialog.strip.setFocus()
        return True

    def ask_kind(self) -> None:
        """Ask which kind of fish it is."""
        self.pages.setCurrentWidget(self.kinds)
        self._show_numbers()
        self.kinds.list.setCurrentRow(max(self.kinds.list.currentRow(), 0))
        self.kinds.list.setFocus()
        if self.stage is not None:
            self.stage.use(WaitTool(KIND_HINT))

    def _back_to_photo(self) -> None:
        """Give the keyboard back to the photo."""
        if self.stage is not None:
            self.stage.canvas.setFocus()

    def _kind_chosen(self, form_id: str) -> None:
        """Use a kind of fish and go on."""
        self.bench.set_body_form(form_id)
        self._back_to_photo()
        no_scale = isinstance(self.bench.scale, NotFound) and not self._needs_no_scale()
        self.go_to_step("scale" if no_scale else "points")

    # -- showing ------------------------------------------------------------------------------

    def _photo_changed(self) -> None:
        """Show another photo's name and begin where it needs a person."""
        if self.bench.prepared is None:
            return
        if self.start is not None:
            self.start.close_down()
            self.start = None
        self.leaves.setCurrentWidget(self.work)
        self._write_name()
        self._show_fish_list()
        self._queue_changed()
        scale_first = isinstance(self.bench.scale, NotFound) and not self._needs_no_scale()
        workspace, session = self.bench.workspace, self.bench.session
        touched = session is not None and session.is_touched  # then its marks know the kind
        if workspace is not None and not workspace.kind_is_known and not touched:
            self.ask_kind()
        else:
            self.go_to_step("scale" if scale_first else "points")
            if not isinstance(QApplication.focusWidget(), QLineEdit):
                self._back_to_photo()


def _fit_in(title: QWidget) -> None:
    """Keep the words of a dock's title bar whole: napari gives the bar one height at any size."""
    title.setStyleSheet(f"font-size: {min(text_points(), TITLE_POINTS)}pt;")
