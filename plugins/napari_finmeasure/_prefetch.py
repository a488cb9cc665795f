"""Photos are read and their scale is found in a thread, the next one before it is asked for."""

from __future__ import annotations

from functools import partial
from typing import Any

from napari.qt.threading import FunctionWorker, create_worker
from qtpy.QtCore import QObject, Signal

from finmeasure.errors import FinmeasureError, NotFound
from finmeasure.marking.prepare import PreparedPhoto
from napari_finmeasure._workspace import Workspace

KEPT = 2  # the photo on the bench and the next one; 12 MP take 50 MB each


class Prefetch(QObject):
    """Prepares photos one after another.

    Signals
    -------
    ready
        Name of a photo that `take` now gives.
    failed
        Name of a photo and why it cannot be opened.
    """

    ready = Signal(str)
    failed = Signal(str, str)

    def __init__(self, parent: QObject) -> None:
        super().__init__(parent)
        self._kept: dict[str, PreparedPhoto] = {}
        self._workers: dict[str, FunctionWorker[Any]] = {}
        self._closed = False

    def take(self, photo: str) -> PreparedPhoto | None:
        """Give a prepared photo; None while it is not ready."""
        return self._kept.get(photo)

    def want(self, workspace: Workspace, photo: str) -> None:
        """Prepare a photo unless that is done or on the way."""
        if photo in self._kept or photo in self._workers:
            return
        worker = create_worker(_prepared_or_why_not, workspace, photo, _start_thread=False)
        worker.returned.connect(partial(self._returned, photo))
        self._workers[photo] = worker
        worker.start()

    def forget(self) -> None:
        """Forget all photos, as when another study is opened."""
        self._kept.clear()

    def wait(self) -> None:
        """Let running threads end, before the window closes; what they still send is dropped."""
        self._closed = True
        for worker in list(self._workers.values()):
            worker.returned.disconnect()
            worker.await_workers(10_000)
        self._workers.clear()
        self._kept.clear()

    def _returned(self, photo: str, result: PreparedPhoto | NotFound) -> None:
        """Keep a photo that is ready, the oldest goes; or tell why it cannot be opened."""
        if self._closed:  # it was on its way when the window closed
            return
        self._workers.pop(photo, None)
        if isinstance(result, NotFound):
            self.failed.emit(photo, str(result))
            return
        self._kept[photo] = result
        while len(self._kept) > KEPT:
            self._kept.pop(next(iter(self._kept)))
        self.ready.emit(photo)


def _prepared_or_why_not(workspace: Workspace, photo: str) -> PreparedPhoto | NotFound:
    """Prepare a photo; a bad photo is a result like any other."""
    try:
        return workspace.prepare(photo)
    except FinmeasureError as error:
        return NotFound(str(error))
