"""What keys and buttons do with points, fins and the view."""

from __future__ import annotations

from typing import TYPE_CHECKING

from finmeasure.landmarks.drawings.svg import DARK, LIGHT
from napari_finmeasure._cheat_sheet import CheatSheet
from napari_finmeasure._panel import Panel
from napari_finmeasure._reference_tool import ReferenceTool
from napari_finmeasure._tools import EdgeTool
from napari_finmeasure._wet_hands import WetHandsBar

if TYPE_CHECKING:
    import napari

    from napari_finmeasure._stage import Stage

PULL_REACH_SCREEN_PX = 14.0
NUDGES = {"left": (-1, 0), "right": (1, 0), "up": (0, -1), "down": (0, 1)}


class KeyActions(Panel):
    """The panel with everything that a key does without going to another photo.

    Parameters
    ----------
    viewer : napari.Viewer
        The window's viewer.
    """

    def __init__(self, viewer: napari.Viewer) -> None:
        super().__init__(viewer)
        self.stage: Stage | None = None
        self.wet_bar: WetHandsBar | None = None
        self.sheet: CheatSheet | None = None

    def answer_absent(self) -> None:
        """Say that the fish has no such point."""
        self.bench.answer("absent")

    def answer_hidden(self) -> None:
        """Say that the point cannot be seen."""
        self.bench.answer("hidden")

    def agree(self) -> None:
        """Say that the proposed point asked for is right."""
        session = self.bench.session
        if session is not None and session.at in session.to_check:
            self.bench.agree()
        elif session is not None:
            self._say("The program has put no point here. Click the point that the card names.")

    def agree_with_all(self) -> None:
        """Say that all proposed points are right."""
        self.bench.agree_with_all()

    def drop_proposal(self) -> None:
        """Throw the program's points away."""
        self.bench.drop_proposal()

    def skip(self) -> None:
        """Ask for this point later."""
        self.bench.skip()

    def back(self) -> None:
        """Ask for the point before."""
        self.bench.back()

    def undo(self) -> None:
        """Undo."""
        self.bench.undo()

    def redo(self) -> None:
        """Redo."""
        self.bench.redo()

    def nudge(self, way: str) -> None:
        """Move the chosen point by one pixel of the screen."""
        name = self.bench.chosen_point
        place = self.stage.placed(name) if self.stage is not None and name is not None else None
        if self.stage is None or name is None or place is None:
            self._say("Choose a point first: click it, or press Enter on it in the list.")
            return
        across, down = NUDGES[way]
        zoom = self.stage.zoom
        self.bench.move(name, (place[0] + across / zoom, place[1] + down / zoom), zoom)

    def rename(self) -> None:
        """Give the chosen point another name."""
        name = self.bench.chosen_point
        if name is None:
            self._say("Click a point that is set, then press R to give it another name.")
            return
        new_name = self.points_page.ask_new_name(name)
        if new_name is not None:
            self.bench.rename(name, new_name)

    def remove(self) -> None:
        """Take away what is under the cross-hair of the keys; else the chosen point."""
        at = None if self.stage is None else self.stage.key_hand.at
        if self.stage is not None and at is not None:
            self.stage.tool.take_away(at)
        elif self.bench.chosen_point is not None:
            self.bench.remove(self.bench.chosen_point)
            self.bench.choose_point(None)

    def pull_to_edge(self) -> None:
        """Pull the traced line of the present fin to the edge."""
        if self.edges_page.fin is not None and self.stage is not None:
            reach_px = PULL_REACH_SCREEN_PX / self.stage.zoom
            self.bench.pull_to_edge(self.edges_page.fin, reach_px)

    def last_corner_away(self) -> None:
        """Take the last corner of the line away."""
        if self.stage is not None and isinstance(self.stage.tool, EdgeTool | ReferenceTool):
            self.stage.tool.take_last_away()

    def mark_edge(self, mark: str) -> None:
        """Say what the present fin's edge looks like."""
        self.edges_page.set_edge(mark)

    def mark_spread(self, spread: str) -> None:
        """Say how the present fin is held."""
        self.edges_page.set_spread(spread)

    def show_fish(self) -> None:
        """Show the fish as large as it fits."""
        if self.stage is not None:
            self.stage.show_fish()

    def fit(self) -> None:
        """Show the whole photo."""
        if self.stage is not None:
            self.stage.fit()

    def toggle_magnifier(self) -> None:
        """Enlarged view on or off."""
        if self.stage is not None:
            self.stage.magnifies = not self.stage.magnifies
            self.stage.magnifier.setVisible(False)

    def toggle_wet_hands(self) -> None:
        """Big buttons on or off."""
        if self.wet_bar is not None:
            self.wet_bar.setVisible(not self.wet_bar.isVisible())

    def toggle_theme(self) -> None:
        """Light or dark."""
        self.viewer.theme = "light" if self.viewer.theme == "dark" else "dark"
        ink = DARK if self.viewer.theme == "dark" else LIGHT
        self.kinds.use(ink)
        self.points_page.use(ink)

    def fin_guide(self) -> None:
        """Show which fin is which."""
        _, guide = self.viewer.window.add_plugin_dock_widget("finmeasure", "Fin guide", tabify=True)
        if self.bench.session is not None:
            guide.show_kind(self.bench.session.marks.body_form.partition("+")[0])

    def cheat_sheet(self) -> None:
        """Show all keys."""
        if self.sheet is None:
            self.sheet = CheatSheet(self)
        self.sheet.show()
        self.sheet.raise_()
        self.sheet.activateWindow()

    def _say(self, sentence: str, *, trouble: bool = False) -> None:
        """Say a sentence at the foot of the canvas."""
        self.bench.said.emit(sentence, trouble)
