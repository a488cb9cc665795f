"""What leads from one photo to another: opening, stepping, the program's proposals, confirming."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from qtpy.QtCore import Qt
from qtpy.QtWidgets import (
    QAbstractButton,
    QApplication,
    QComboBox,
    QDockWidget,
    QListWidget,
)

from finmeasure.errors import FinmeasureError
from napari_finmeasure._change_panel import ChangePanel
from napari_finmeasure._contact_sheet import ContactSheet
from napari_finmeasure._diary import Diary
from napari_finmeasure._key_actions import KeyActions
from napari_finmeasure._prefetch import Prefetch
from napari_finmeasure._same_fish import SameFishPanel
from napari_finmeasure._workspace import Proposals, Workspace

if TYPE_CHECKING:
    import napari


class PhotoActions(KeyActions):
    """The panel with everything that leads to another photo or fish.

    Parameters
    ----------
    viewer : napari.Viewer
        The window's viewer.
    """

    def __init__(self, viewer: napari.Viewer) -> None:
        super().__init__(viewer)
        self.prefetch = Prefetch(self)
        self.proposes = True
        self.queue_dock: QDockWidget | None = None
        self.all_fish_sheet: ContactSheet | None = None
        self.change_panel: ChangePanel | None = None
        self.same_fish_panel: SameFishPanel | None = None
        self.diary_page: Diary | None = None
        self._wanted: str | None = None
        self._wanted_fish = ""

    # -- opening ------------------------------------------------------------------------------

    def open_paths(self, paths: list[Path], question: str = "full") -> None:
        """Open photos, a folder or a study; say in one sentence why that cannot be.

        Parameters
        ----------
        paths : list of pathlib.Path
            Photos and folders, or one study.
        question : str
            What the person wants to know.
        """
        try:
            if self.bench.workspace is not None and self.bench.workspace.holds(paths):
                self.bench.close_workspace()
            workspace = Workspace.open(paths)
        except FinmeasureError as error:
            self._say(str(error), trouble=True)
            return
        workspace.question, workspace.proposes = question, self.proposes
        self.prefetch.forget()
        self.bench.open_workspace(workspace)
        if workspace.read_only:
            self._say(workspace.read_only, trouble=True)
        if self.queue_dock is not None:
            self.queue_dock.setVisible(len(workspace.queue) > 1)
        if workspace.queue.current is None:
            self._say("There is no photo in there. Choose a folder that holds JPEG, PNG, TIFF "
                      "or HEIC files.", trouble=True)  # fmt: skip
            return
        self.go_to(workspace.queue.current)

    def go_to(self, photo: str) -> None:
        """Open a photo of the queue."""
        workspace = self.bench.workspace
        if workspace is None:
            return
        self._wanted = photo
        if self.prefetch.take(photo) is None:
            self.photo_name.setText(f"Opening {photo} …")
            self.prefetch.want(workspace, photo)
        else:
            self._prepared(photo)

    def _fish_chosen(self) -> None:
        """Go to another fish of the photo."""
        workspace, prepared = self.bench.workspace, self.bench.prepared
        if workspace is not None and prepared is not None and workspace.queue.current is not None:
            fish = self.fish.currentData()
            self.bench.put(workspace.lay_out(workspace.queue.current, prepared, fish))

    def contact_sheet(self) -> None:
        """Show all fish of the study at a glance."""
        workspace = self.bench.workspace
        if workspace is None:
            self._say("Open a folder or a study first; then C shows all its fish.")
            return
        if self.all_fish_sheet is None:
            self.all_fish_sheet = ContactSheet(self)
            self.all_fish_sheet.opened.connect(self._open_fish)
            self.all_fish_sheet.marked.connect(self._fish_marked)
        self.all_fish_sheet.show_study(workspace)
        self.all_fish_sheet.show()
        self.all_fish_sheet.raise_()
        self.all_fish_sheet.activateWindow()

    def change_over_time(self) -> None:
        """Show what became of every fin of the study."""
        workspace = self.bench.workspace
        if workspace is None:
            self._say("Open a study first; then V shows what became of its fins.")
            return
        if self.change_panel is None:
            self.change_panel = ChangePanel(self)
        QApplication.setOverrideCursor(Qt.CursorShape.WaitCursor)
        try:
            self.change_panel.show_study(workspace.study)
        finally:
            QApplication.restoreOverrideCursor()
        self.change_panel.show()
        self.change_panel.raise_()
        self.change_panel.activateWindow()

    def same_fish(self) -> None:
        """Show pairs of two visits that may be one fish."""
        workspace = self.bench.workspace
        if workspace is None:
            self._say("Open a study first; then Shift+V shows which fish may be the same.")
            return
        if self.same_fish_panel is None:
            self.same_fish_panel = SameFishPanel(self)
            self.same_fish_panel.named.connect(self._fish_marked)
        self.same_fish_panel.show()
        self.same_fish_panel.show_study(workspace)
        self.same_fish_panel.raise_()
        self.same_fish_panel.activateWindow()

    def diary(self) -> None:
        """Show the diary of the study's groups."""
        workspace = self.bench.workspace
        if workspace is None:
            self._say("Open a folder or a study first; then D opens its diary.")
            return
        if self.diary_page is None:
            self.diary_page = Diary(self)
        self.diary_page.show_study(workspace)
        self.diary_page.show()
        self.diary_page.raise_()
        self.diary_page.activateWindow()

    def _open_fish(self, photo: str, fish: str) -> None:
        """Open a fish that was chosen among all."""
        workspace = self.bench.workspace
        if workspace is None or photo not in workspace.queue:
            self._say(f"The file of {photo} is not in this folder any more.", trouble=True)
            return
        self._wanted_fish = fish
        self.go_to(photo)

    def _fish_marked(self) -> None:
        """Put the present photo on the bench anew: its fish may have other names now."""
        workspace, prepared = self.bench.workspace, self.bench.prepared
        if workspace is not None and prepared is not None and workspace.queue.current is not None:
            self.bench.put(workspace.lay_out(workspace.queue.current, prepared))

    def next_photo(self) -> None:
        """Go one photo on."""
        self._step(1)

    def previous_photo(self) -> None:
        """Go one photo back."""
        self._step(-1)

    def _step(self, by: int) -> None:
        """Go to another photo of the queue."""
        workspace = self.bench.workspace
        found = None if workspace is None else workspace.queue.step(by)
        if found is not None:
            self.go_to(found.photo)
        elif workspace is not None:
            self._say("This is the last photo." if by > 0 else "This is the first photo.")

    def _prepared(self, photo: str) -> None:
        """Put a photo on the bench if it is still wanted, and prepare the next one."""
        workspace, prepared = self.bench.workspace, self.prefetch.take(photo)
        if photo != self._wanted or workspace is None or prepared is None:
            return
        self._wanted = None
        fish, self._wanted_fish = self._wanted_fish or None, ""
        self.bench.put(workspace.lay_out(photo, prepared, fish))
        self.prefetch.want(workspace, photo)  # the program has yet to look at it, or nothing
        self._look_ahead()

    def _look_ahead(self) -> None:
        """Prepare the next photo once nothing else is under way."""
        workspace = self.bench.workspace
        following = None if workspace is None else workspace.queue.step(1)
        if workspace is None or following is None or following.state == "refused":
            return
        if self.prefetch.is_idle and self.prefetch.take(following.photo) is None:
            self.prefetch.want(workspace, following.photo)

    def _proposed(self, photo: str, seen: Proposals) -> None:
        """Show what the program saw, if that photo is on the bench."""
        workspace = self.bench.workspace
        if workspace is None or photo not in workspace.queue:
            return
        workspace.keep_proposal(photo, seen)
        if photo == workspace.queue.current and self.bench.prepared is not None:
            self.bench.show_proposal()
            self._show_fish_list()
        self.bench.queue_changed.emit()

    def toggle_proposals(self) -> None:
        """Let the program mark first, or leave everything to the person."""
        workspace = self.bench.workspace
        if workspace is None or workspace.queue.current is None:
            return
        workspace.proposes = self.proposes = not self.proposes
        if not self.proposes:
            self._say("From the next photo on, you mark alone. Press O to let the program help.")
            return
        self._say("The program marks first; you check. Press O to mark alone.")
        self.prefetch.want(workspace, workspace.queue.current)

    def _broken(self, photo: str, reason: str) -> None:
        """Put a photo aside that cannot be opened; go on with what is open."""
        workspace = self.bench.workspace
        if workspace is None:
            return
        workspace.refuse(photo, reason)
        self.bench.queue_changed.emit()
        if photo == self._wanted:
            self._wanted = None
            self._say(reason, trouble=True)
            self._write_name()
            if self.bench.prepared is None and (other := workspace.queue.next_in_need()):
                self.go_to(other.photo)

    # -- finishing ---------------------------------------------------------------------------

    def confirm(self) -> None:
        """Make the marks a reading and go to the next photo that needs a person."""
        if self.person.name.hasFocus() and self.person.enter():
            return
        if self._entered() or self.scale_page.enter():
            return
        if not self.bench.confirm():
            return
        workspace, prepared = self.bench.workspace, self.bench.prepared
        assert workspace is not None
        photo = workspace.queue.current or ""
        waiting = workspace.fish_waiting(photo) if workspace.purpose == "work" else ()
        following = workspace.queue.next_in_need()
        if waiting and prepared is not None:
            self.bench.put(workspace.lay_out(photo, prepared, waiting[0]))
            self._say(f"Saved. Now fish {waiting[0]} of this photo.")
        elif following is not None:
            self.go_to(following.photo)
        else:
            self._say("Saved. Nothing more waits here; all photos are done.")

    def _entered(self) -> bool:
        """Let Enter do what belongs to the button, box or list line that Tab led to."""
        focus = QApplication.focusWidget()
        if isinstance(focus, QAbstractButton):
            focus.click()
            return True
        if isinstance(focus, QComboBox):
            focus.showPopup()
            return True
        if isinstance(focus, QListWidget) and focus.currentItem() is not None:
            focus.itemActivated.emit(focus.currentItem())
            return True
        return False

    def mark_again(self) -> None:
        """Mark the present photo once more without seeing the first marks."""
        workspace, prepared = self.bench.workspace, self.bench.prepared
        if workspace is None or prepared is None or workspace.queue.current is None:
            return
        photo = workspace.queue.current
        if workspace.queue[photo].state != "confirmed":
            self._say("Confirm this photo first; then it can be marked a second time.")
            return
        fish = self.fish.currentData()
        self.bench.put(workspace.lay_out_again(photo, prepared, fish))
        self._say("Second marking, blind to the first: it tells how good your hands are and "
                  "never replaces the first.")  # fmt: skip
