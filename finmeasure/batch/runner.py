"""Run the measuring of many photos in worker processes, so that one bad photo stops nothing."""

from __future__ import annotations

import multiprocessing
import os
import signal
import threading
import time
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import TimeoutError as FutureTimeoutError
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass, field
from multiprocessing import connection
from pathlib import Path
from typing import Any

from pebble import ProcessExpired, ProcessFuture, ProcessPool

from finmeasure.batch.measure_photo import PhotoTask, failed, measure_photo, refused
from finmeasure.errors import FinmeasureError
from finmeasure.study.records import PhotoResult

WAITING_PER_WORKER = 3
"""Photos handed out ahead: enough that no worker waits, few enough that results stay small."""

PHOTOS_PER_WORKER = 500
"""A worker is replaced after this many photos, so that no leak of a library can add up."""

LOOK_SECONDS = 1.0
"""How often a pool that gives no answer is looked at."""

RESTARTS = 5
"""How often the pool is started anew without one photo done in between."""


@dataclass(frozen=True, slots=True)
class Limits:
    """What one photo may take before it is refused and the run goes on.

    Parameters
    ----------
    seconds : float
        Time from the start of the photo.
    memory_mb : int
        Memory beyond what the worker holds when it starts, megabytes; kept where the system can
        (on Linux; not on Windows).
    """

    seconds: float = 60.0
    memory_mb: int = 2048


@dataclass(frozen=True, slots=True)
class Trouble:
    """Why a worker gave no answer for one file; false in a truth test.

    Parameters
    ----------
    reason, remedy : str
        What was seen and what to do.
    error : BaseException, optional
        What went wrong in the program itself; None where a limit was broken.
    """

    reason: str
    remedy: str = ""
    error: BaseException | None = None

    def __bool__(self) -> bool:
        """Tell that there is no answer."""
        return False

    def __str__(self) -> str:
        """Give reason and remedy in one line."""
        return f"{self.reason} {self.remedy}".strip()


def measure_all(
    tasks: Iterable[PhotoTask], *, jobs: int | None = None, limits: Limits | None = None
) -> Iterator[PhotoResult]:
    """Measure photos, several at a time; results come in the order of the tasks.

    Parameters
    ----------
    tasks : iterable of PhotoTask
        Read as they are needed, so their number does not matter.
    jobs : int, optional
        Photos at a time; as many as there are processor cores if None. With 0, everything runs
        in this process, without limits, so that a debugger can follow.
    limits : Limits, optional
        Limits per photo.

    Yields
    ------
    PhotoResult
        One for each task; a photo that breaks a limit, or whose worker dies, is refused.

    Raises
    ------
    FinmeasureError
        If no worker can be kept running.
    """
    for task, answer in in_workers(measure_photo, tasks, jobs=jobs, limits=limits):
        if isinstance(answer, PhotoResult):
            yield answer
        elif answer.error is not None:
            yield failed(task, answer.error)
        else:
            yield refused(task, answer.reason, answer.remedy, again=True)


def in_workers(
    function: Callable[[Any], Any],
    items: Iterable[Any],
    *,
    jobs: int | None = None,
    limits: Limits | None = None,
) -> Iterator[tuple[Any, Any]]:
    """Call a function with each of many items in worker processes, each within limits.

    Parameters
    ----------
    function : callable
        Of one argument, at the top of a module, so that workers can find it.
    items : iterable
        Read as they are needed.
    jobs : int, optional
        Items at a time; as many as there are processor cores if None; 0: in this process, without
        limits.
    limits : Limits, optional
        Limits per item.

    Yields
    ------
    tuple
        Each item with its answer, or with a `Trouble`, in the order of the items.

    Raises
    ------
    FinmeasureError
        If no worker can be kept running.
    """
    if jobs == 0:
        for item in items:
            try:
                answer = function(item)
            except FinmeasureError as error:
                answer = Trouble(str(error), error=error)
            yield item, answer
        return
    run = _PoolRun(function, jobs or os.cpu_count() or 1, limits or Limits())
    try:
        yield from run.results(iter(items))
    finally:
        run.stop()


@dataclass(slots=True)
class _PoolRun:
    """A pool of workers and the items handed to it, oldest first."""

    function: Callable[[Any], Any]
    jobs: int
    limits: Limits
    waiting: deque[tuple[Any, ProcessFuture]] = field(default_factory=deque)
    pool: ProcessPool | None = None
    restarts: int = 0

    def results(self, items: Iterator[Any]) -> Iterator[tuple[Any, Any]]:
        """Keep the workers busy and give each answer in its turn."""
        while True:
            self._hand_out(items)
            if not self.waiting:
                return
            try:
                answer = self._oldest_answer()
            except BrokenProcessPool:
                self._start_anew()
                continue
            item, _ = self.waiting.popleft()
            self.restarts = 0
            yield item, answer

    def stop(self) -> None:
        """End the workers."""
        if self.pool is not None:
            self.pool.stop()
            self.pool.join()
            self.pool = None

    def _hand_out(self, items: Iterator[Any]) -> None:
        """Hand items to the pool until enough are waiting."""
        while len(self.waiting) < self.jobs * WAITING_PER_WORKER:
            try:
                item = next(items)
            except StopIteration:
                return
            self.waiting.append((item, self._schedule(item)))

    def _schedule(self, item: Any) -> ProcessFuture:
        """Give one item to the pool; the pool starts with the first."""
        if self.pool is None:
            self.pool = _new_pool(self.jobs, self.limits)
        try:
            return self.pool.schedule(self.function, (item,), timeout=self.limits.seconds)
        except RuntimeError:  # the pool broke since the last look
            broken = ProcessFuture()
            broken.set_exception(BrokenProcessPool())
            return broken

    def _oldest_answer(self) -> Any:
        """Wait for the oldest item's answer; a broken pool is an exception."""
        try:
            return self._answer(self.waiting[0][1])
        except BrokenProcessPool:
            raise
        except ProcessExpired as error:
            return _died(error.exitcode, self.limits)
        except FutureTimeoutError:
            return Trouble(
                f"Measuring took more than {self.limits.seconds:g} s.",
                "Make the photo smaller (a clip: shorter), or allow more with --photo-seconds.",
            )
        except Exception as error:  # the answer could not be sent, or the like
            return Trouble(" ".join(str(error).split()), error=error)

    def _answer(self, future: ProcessFuture) -> Any:
        """Wait for an item's answer, but never for one that a broken pool will not give."""
        # A pool whose message pipe a dying worker tore looks alive: wait for it, but not for ever
        end = time.monotonic() + self.limits.seconds * (WAITING_PER_WORKER + 2)
        while True:
            try:
                return future.result(timeout=LOOK_SECONDS)
            except FutureTimeoutError:
                if future.done():  # the item's own time limit, or an answer that just came
                    return future.result()
                if self._broken() or time.monotonic() > end:
                    raise BrokenProcessPool from None

    def _broken(self) -> bool:
        """Tell whether the pool has given up; photos handed to it just then are never answered."""
        return self.pool is None or not self.pool.active

    def _start_anew(self) -> None:
        """Replace a broken pool and hand it everything that is not done."""
        self.restarts += 1
        if self.restarts > RESTARTS:
            message = (
                f"The worker processes ended {RESTARTS} times in a row. "
                "Close other programs, or run with --jobs 0 to see why."
            )
            raise FinmeasureError(message)
        self.stop()
        for number, (item, future) in enumerate(self.waiting):
            if not (future.done() and _has_answer(future)):
                self.waiting[number] = (item, self._schedule(item))


def _has_answer(future: ProcessFuture) -> bool:
    """Tell whether a finished future says something about its item."""
    return not future.cancelled() and not isinstance(future.exception(), BrokenProcessPool)


def _died(exit_code: int | None, limits: Limits) -> Trouble:
    """Reason and remedy for a photo whose worker ended."""
    return Trouble(
        f"The worker process ended at this file (exit code {exit_code}).",
        f"It may have needed more memory than there is (limit {limits.memory_mb} MB): "
        "run again with fewer --jobs, make the photo smaller, or give --photo-memory-mb.",
    )


def _new_pool(jobs: int, limits: Limits) -> ProcessPool:
    """Start a pool whose workers begin with everything imported where the system can do that."""
    for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
        os.environ.setdefault(name, "1")  # one photo, one core: threads would only get in the way
    methods = multiprocessing.get_all_start_methods()
    context = multiprocessing.get_context("forkserver" if "forkserver" in methods else "spawn")
    if "forkserver" in methods:
        context.set_forkserver_preload(["finmeasure.batch.measure_photo"])
        _start_server_deaf_to_interrupts()
        # Wait until it has loaded: a worker born after an interrupt would miss what it shares.
        first = context.Process(target=int)  # type: ignore[attr-defined]
        first.start()
        first.join()
    return ProcessPool(
        max_workers=jobs,
        max_tasks=PHOTOS_PER_WORKER,
        initializer=_prepare_worker,
        initargs=(limits.memory_mb,),
        context=context,
    )


def _start_server_deaf_to_interrupts() -> None:
    """Start the server that forks the workers so that Ctrl-C reaches the main process alone.

    A terminal interrupts the whole group; workers that still load would print their stack. What a
    process ignores when it starts, its children ignore too.
    """
    from multiprocessing import forkserver

    if threading.current_thread() is not threading.main_thread():
        return  # only the main thread may say what signals do
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        forkserver.ensure_running()
    finally:
        signal.signal(signal.SIGINT, before)


def _prepare_worker(memory_mb: int) -> None:
    """Set the limits of a worker process."""
    import cv2

    cv2.setNumThreads(1)
    _limit_memory(memory_mb)
    threading.Thread(target=_end_with_parent, daemon=True).start()


def _limit_memory(memory_mb: int) -> None:
    """Make an allocation beyond the limit fail instead of taking the whole machine down."""
    try:
        import resource
    except ImportError:  # Windows has no such limit
        return
    _, hard = resource.getrlimit(resource.RLIMIT_DATA)
    limit = _data_in_use() + memory_mb * 1_000_000
    if hard == resource.RLIM_INFINITY or limit < hard:
        resource.setrlimit(resource.RLIMIT_DATA, (limit, hard))


def _data_in_use() -> int:
    """Bytes of data that this process holds: it inherits those of the server that forked it."""
    try:
        status = Path("/proc/self/status").read_text(encoding="ascii")
    except OSError:  # no such file outside Linux
        return 0
    kilobytes = next(line.split()[1] for line in status.splitlines() if line.startswith("VmData"))
    return int(kilobytes) * 1024


def _end_with_parent() -> None:
    """End this worker as soon as the process that started the run is gone, however it went."""
    parent = multiprocessing.parent_process()
    if parent is not None:
        connection.wait([parent.sentinel])
        os._exit(1)
