"""Photos are read, their scale is found and the fish is looked for in a thread.

The photo is shown as soon as it is read; the program's proposal comes when it is ready. The next
photo is prepared before it is asked for, but never while the present one still waits.
"""

from __future__ import annotations

from collections.abc import Generator
from functools import partial
from typing import Any

from napari.qt.threading import GeneratorWorker, create_worker
from qtpy.QtCore import QObject, Signal

from finmeasure.errors import FinmeasureError
from finmeasure.marking.prepare import PreparedPhoto
from napari_finmeasure._workspace import Proposals, Workspace

KEPT = 2  # the photo on the bench and the next one; 12 MP take 50 MB each


class Prefetch(QObject):
    """Prepares photos one after another; napari's activity dock shows what is under way.

    Signals
    -------
    ready
        Name of a photo that `take` now gives.
    failed
        Name of a photo and why it cannot be opened.
    proposed
        Name of a photo that the program has looked at, and what it saw.
    idle
        Nothing is under way any more.
    """

    ready = Signal(str)
    failed = Signal(str, str)
    proposed = Signal(str, object)
    idle = Signal()

    def __init__(self, parent: QObject) -> None:
        super().__init__(parent)
        self._kept: dict[str, PreparedPhoto] = {}
        self._workers: dict[str, GeneratorWorker[Any, Any, Any]] = {}
        self._closed = False

    @property
    def is_idle(self) -> bool:
        """Whether nothing is under way."""
        return not self._workers

    def take(self, photo: str) -> PreparedPhoto | None:
        """Give a prepared photo; None while it is not ready."""
        return self._kept.get(photo)

    def want(self, workspace: Workspace, photo: str) -> None:
        """Prepare a photo and look at it, unless that is done or on the way."""
        looks = workspace.wants_proposal(photo)
        if photo in self._workers or (photo in self._kept and not looks):
            return
        worker = create_worker(
            _prepared_then_looked_at,
            workspace,
            photo,
            kept=self._kept.get(photo),
            looks=looks,
            _start_thread=False,
            _progress={"total": 1 + looks, "desc": f"Reading {photo}, looking for the fish"},
        )
        worker.yielded.connect(partial(self._came, photo))
        worker.finished.connect(partial(self._finished, photo, worker))
        self._workers[photo] = worker
        worker.start()

    def forget(self) -> None:
        """Forget all photos, as when another study is opened; what still comes is dropped."""
        self._kept.clear()
        for worker in self._workers.values():
            worker.yielded.disconnect()
            worker.quit()
        self._workers.clear()

    def wait(self) -> None:
        """Let running threads end, before the window closes; what they still send is dropped."""
        self._closed = True
        for worker in list(self._workers.values()):
            worker.yielded.disconnect()
            worker.quit()
            worker.await_workers(10_000)
        self._workers.clear()
        self._kept.clear()

    def _came(self, photo: str, result: PreparedPhoto | Proposals | str) -> None:
        """Keep a photo that is ready, the oldest goes; pass on what was seen, or what is wrong."""
        if self._closed:  # it was on its way when the window closed
            return
        if isinstance(result, str):
            self.failed.emit(photo, result)
        elif isinstance(result, PreparedPhoto):
            self._kept[photo] = result
            while len(self._kept) > KEPT:
                self._kept.pop(next(iter(self._kept)))
            self.ready.emit(photo)
        else:
            self.proposed.emit(photo, result)

    def _finished(self, photo: str, worker: object) -> None:
        """Tell when nothing is under way any more."""
        if self._workers.get(photo) is worker:
            del self._workers[photo]
        if not self._closed and self.is_idle:
            self.idle.emit()


def _prepared_then_looked_at(
    workspace: Workspace, photo: str, *, kept: PreparedPhoto | None, looks: bool
) -> Generator[PreparedPhoto | Proposals | str, None, None]:
    """Give a photo, then the program's marks on it; a bad photo gives the reason."""
    prepared = kept
    if prepared is None:
        try:
            prepared = workspace.prepare(photo)
        except FinmeasureError as error:
            yield str(error)
            return
        yield prepared
    if looks:
        yield workspace.propose(photo, prepared)
