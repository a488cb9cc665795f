"""Photos are read and their scale is found in a thread, the next one before it is asked for."""

from __future__ import annotations

from functools import partial
from typing import Any

from napari.qt.threading import FunctionWorker, create_worker
from qtpy.QtCore import QObject, Signal

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

    def take(self, photo: str) -> PreparedPhoto | None:
        """Give a prepared photo; None while it is not ready."""
        return self._kept.get(photo)

    def want(self, workspace: Workspace, photo: str) -> None:
        """Prepare a photo unless that is done or on the way."""
        if photo in self._kept or photo in self._workers:
            return
        worker = create_worker(
            workspace.prepare, photo, _start_thread=False, _progress={"desc": f"Reading {photo}"}
        )
        worker.returned.connect(partial(self._prepared, photo))
        worker.errored.connect(partial(self._broken, photo))
        self._workers[photo] = worker
        worker.start()

    def forget(self) -> None:
        """Forget all photos, as when another study is opened."""
        self._kept.clear()

    def wait(self) -> None:
        """Let running threads end, before the window closes."""
        for worker in list(self._workers.values()):
            worker.returned.disconnect()
            worker.errored.disconnect()
            worker.await_workers(10_000)
        self._workers.clear()
        self._kept.clear()

    def _prepared(self, photo: str, prepared: PreparedPhoto) -> None:
        """Keep a photo that is ready; the oldest goes."""
        self._workers.pop(photo, None)
        self._kept[photo] = prepared
        while len(self._kept) > KEPT:
            self._kept.pop(next(iter(self._kept)))
        self.ready.emit(photo)

    def _broken(self, photo: str, error: Exception) -> None:
        """Tell why a photo cannot be opened."""
        self._workers.pop(photo, None)
        self.failed.emit(photo, str(error))
