"""One way to open things: from the command line, the menu, a drop or napari's own "Open"."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from napari_finmeasure._desk import Desk

if TYPE_CHECKING:
    import napari

WIDGET = "Measure fish"
NAPARIS_OWN = ("layer list", "layer controls")
NOTHING_TO_ADD: list[tuple[Any, ...]] = [(None,)]  # npe2: the reader did its work itself


def desk_of(viewer: napari.Viewer) -> Desk:
    """Give the viewer's desk; open it where there is none.

    Parameters
    ----------
    viewer : napari.Viewer
        A viewer with a window.
    """
    _, desk = viewer.window.add_plugin_dock_widget("finmeasure", WIDGET)
    assert isinstance(desk, Desk)
    return desk


def reader_for(path: str | list[str]) -> Callable[[Any], list[tuple[Any, ...]]]:
    """Give napari a reader that opens paths on the desk, so that napari reads no photo itself.

    Parameters
    ----------
    path : str or list of str
        Photos, a folder or a study.
    """
    return open_on_desk


def open_on_desk(path: str | list[str]) -> list[tuple[Any, ...]]:
    """Open paths on the desk of the present viewer; no layer is handed to napari."""
    import napari

    viewer = napari.current_viewer()
    if viewer is not None:
        paths = [path] if isinstance(path, str) else path
        desk_of(viewer).open_paths([Path(one) for one in paths])
    return NOTHING_TO_ADD


def open_window(paths: list[Path]) -> napari.Viewer:
    """Open a window with the desk and nothing that a keeper does not need.

    Parameters
    ----------
    paths : list of pathlib.Path
        What to open; empty shows the first screen.

    Returns
    -------
    napari.Viewer
        napari's own panels are put away; its Window menu brings them back.
    """
    import napari
    from qtpy.QtWidgets import QDockWidget

    viewer = napari.Viewer(title="finmeasure", show=False)
    desk = desk_of(viewer)
    viewer.show()
    if desk.start is not None:
        desk.start.take_keyboard()  # napari has given it to its own canvas
    window = desk.window()
    for dock in window.findChildren(QDockWidget):
        if dock.objectName() in NAPARIS_OWN:
            dock.hide()
    if paths:
        desk.open_paths(paths)
    return viewer
