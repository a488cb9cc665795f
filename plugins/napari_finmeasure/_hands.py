"""From mouse events on the canvas to what a person means: click, drag, hover, take away."""

from __future__ import annotations

from collections.abc import Generator
from typing import TYPE_CHECKING, Any, Protocol

import numpy as np

from napari_finmeasure._layers import to_xy

if TYPE_CHECKING:
    import napari

STILL_SCREEN_PX = 4.0  # a click may wander this far
Place = tuple[float, float]


class Tool(Protocol):
    """What the mouse does now. Places are photo pixels (x, y)."""

    freehand: bool

    def pulls_from(self, place: Place) -> bool:
        """Whether a plain drag from here draws a line, in place of moving the photo."""

    def grab(self, place: Place) -> bool:
        """Take hold of what is under the mouse; False where there is nothing to drag."""

    def drag(self, place: Place) -> None:
        """Move what is held."""

    def drop(self, place: Place) -> None:
        """Let go of what was dragged."""

    def tap(self, place: Place) -> None:
        """Let go without having moved."""

    def click(self, place: Place) -> None:
        """Click where nothing can be dragged."""

    def take_away(self, place: Place) -> None:
        """Click with the right button."""

    def draw_freely(self, places: list[Place]) -> None:
        """Show a line that is being drawn with Shift held; only where `freehand` is true."""

    def drawn(self, places: list[Place]) -> None:
        """Take a line that was drawn with Shift held."""

    def hover(self, place: Place) -> None:
        """Move the mouse without a button."""

    def leave(self) -> None:
        """Mouse left the canvas."""


class Hands:
    """Listens to the viewer's mouse and tells the present tool.

    Shift places a point even where another one could be dragged.

    Parameters
    ----------
    viewer : napari.Viewer
        Its own zoom on double click is put aside, as a double click is easily made while marking.
    """

    def __init__(self, viewer: napari.Viewer) -> None:
        self._viewer = viewer
        self.tool: Tool | None = None
        self._put_aside = list(viewer.mouse_double_click_callbacks)
        viewer.mouse_double_click_callbacks.clear()
        viewer.mouse_drag_callbacks.append(self._pressed)
        viewer.mouse_move_callbacks.append(self._moved)

    def let_go(self) -> None:
        """Give the mouse back to the viewer."""
        self.tool = None
        viewer = self._viewer
        viewer.mouse_drag_callbacks.remove(self._pressed)
        viewer.mouse_move_callbacks.remove(self._moved)
        viewer.mouse_double_click_callbacks.extend(self._put_aside)

    def _moved(self, viewer: napari.Viewer, event: Any) -> None:
        """Tell the tool where the mouse is."""
        if self.tool is not None:
            self.tool.hover(to_xy(event.position))

    def _pressed(self, viewer: napari.Viewer, event: Any) -> Generator[None, None, None]:
        """Follow one press to its release."""
        tool = self.tool
        if tool is None:
            return
        start, start_screen = to_xy(event.position), np.asarray(event.pos, float)
        if event.button == 2:
            tool.take_away(start)
            return
        shift = "Shift" in event.modifiers
        held = not shift and tool.grab(start)
        draws = tool.freehand if shift else not held and tool.pulls_from(start)
        camera = viewer.scene.camera
        pans, camera.mouse_pan = camera.mouse_pan, not (held or draws)
        moved, path = False, [start]
        try:
            yield
            while event.type == "mouse_move":
                away = np.hypot(*(np.asarray(event.pos, float) - start_screen))
                moved = moved or away > STILL_SCREEN_PX
                if held and moved:
                    tool.drag(to_xy(event.position))
                elif draws and moved:
                    path.append(to_xy(event.position))
                    tool.draw_freely(path)
                yield
        finally:
            camera.mouse_pan = pans
        place = to_xy(event.position)
        if held:
            tool.drop(place) if moved else tool.tap(place)
        elif draws and moved:
            tool.drawn(path)
        elif not moved:
            tool.click(start)
