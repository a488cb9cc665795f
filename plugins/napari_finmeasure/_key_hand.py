"""A cross-hair on the photo that keys move: what the mouse does there can be done without one."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from qtpy.QtCore import Qt
from qtpy.QtGui import QKeyEvent

from napari_finmeasure._hands import Place
from napari_finmeasure._text_size import on_screen

if TYPE_CHECKING:
    from napari_finmeasure._stage import Stage

Key, Modifier = Qt.Key, Qt.KeyboardModifier
WAYS = {Key.Key_Left: (-1, 0), Key.Key_Right: (1, 0), Key.Key_Up: (0, -1), Key.Key_Down: (0, 1)}
ZOOMS = {Key.Key_Plus: 1.25, Key.Key_Equal: 1.25, Key.Key_Minus: 0.8}
STEP_SCREEN_PX, FASTEST_SCREEN_PX = 10.0, 60.0
FASTER = 1.12  # with every repeat of a key that is held down
RIM_SCREEN_PX = 40.0  # nearer to the rim of the canvas the photo moves along


class KeyHand:
    """The cross-hair, and what it holds.

    Arrows move it, with Ctrl by one pixel of the screen. Space does what a click does: it sets a
    point, or takes hold of one that is there; then arrows move it and Space lets go. With Shift a
    point is set on top of another one.

    Parameters
    ----------
    stage : Stage
        Canvas, bench and the present tool.
    """

    def __init__(self, stage: Stage) -> None:
        self._stage = stage
        self.at: Place | None = None
        self._holds = self._moved = False
        self._step = STEP_SCREEN_PX

    def press(self, event: QKeyEvent) -> bool:
        """Do what a key on the photo means; False where it means nothing here."""
        if self._stage.bench.session is None:
            return False
        key, held = event.key(), event.modifiers()
        if key in WAYS and not held & Modifier.ShiftModifier:
            self._walk(WAYS[key], event)
        elif key in ZOOMS:
            self._zoom(ZOOMS[key])
        elif key == Key.Key_Space:
            self._click(on_top=bool(held & Modifier.ShiftModifier))
        else:
            return False
        return True

    def let_go(self) -> None:
        """Hold nothing any more, as when the tool changes."""
        self._holds = False

    def put_away(self) -> None:
        """Let go and hide the cross-hair, as when the mouse moves."""
        if self.at is not None:
            self.let_go()
            self.at = None
            self._stage.glass.show_cross(None)

    def _walk(self, way: tuple[int, int], event: QKeyEvent) -> None:
        """Move the cross-hair and what it holds."""
        if self.at is None:
            self._show(self._stage.asked or self._stage.middle)
            return
        self._step = min(self._step * FASTER, FASTEST_SCREEN_PX)
        if not event.isAutoRepeat():
            self._step = STEP_SCREEN_PX
        fine = bool(event.modifiers() & Modifier.ControlModifier)
        step = (1.0 if fine else on_screen(self._step)) / self._stage.zoom
        self._show((self.at[0] + way[0] * step, self.at[1] + way[1] * step))

    def _show(self, place: Place) -> None:
        """Put the cross-hair somewhere in the photo and let the tool follow."""
        prepared = self._stage.bench.prepared
        assert prepared is not None
        x, y = np.clip(place, 0.0, np.array(prepared.size_px) - 1.0)
        self.at = (float(x), float(y))
        self._stage.keep_in_sight(self.at, on_screen(RIM_SCREEN_PX))
        self._stage.glass.show_cross(self.at)
        if self._holds:
            self._moved = True
            self._stage.tool.drag(self.at)
        else:
            self._stage.tool.hover(self.at)

    def _zoom(self, times: float) -> None:
        """Enlarge the photo round the cross-hair, or round the middle."""
        self._stage.zoom_at(self.at or self._stage.middle, times)

    def _click(self, *, on_top: bool) -> None:
        """Press and release at the cross-hair; what is taken hold of is let go by the next one."""
        if self.at is None:
            self._show(self._stage.asked or self._stage.middle)
            return
        tool, place = self._stage.tool, self.at
        if self._holds:
            self._holds = False
            tool.drop(place) if self._moved else tool.tap(place)
        elif not on_top and tool.grab(place):
            self._holds, self._moved = True, False
            self._stage.bench.said.emit("Held. Arrows move it, Space lets go.", False)
        else:
            tool.click(place)
