"""New photos in a folder that something else fills, for example a phone: each told once, whole."""

from __future__ import annotations

import os
import time
from dataclasses import dataclass, field
from pathlib import Path

from finmeasure.batch.plan import plan_photos

#: A file whose size and time of change stay the same for so long is complete.
STEADY_S = 0.4

_State = tuple[int, int]  # bytes, time of change in nanoseconds


@dataclass(slots=True)
class Arrivals:
    """Photos that come into a folder after the watch began.

    Parameters
    ----------
    folder : Path
        Watched to the bottom, as `measure` reads it.
    steady_s : float
        How long a file must stay as it is.
    """

    folder: Path
    steady_s: float = STEADY_S
    _told: dict[Path, _State] = field(default_factory=dict)
    _growing: dict[Path, tuple[_State, float]] = field(default_factory=dict)

    def begin(self) -> int:
        """Take the photos that are there as known, and give their number."""
        self._told = self._here()
        return len(self._told)

    def ready(self) -> list[Path]:
        """Give photos that are new, or written anew, and complete; oldest first.

        A file counts as complete when its size and its time of change have stayed as they are
        since an earlier call, `steady_s` ago or more.
        """
        now, here = time.monotonic(), self._here()
        self._growing = {path: seen for path, seen in self._growing.items() if path in here}
        done = []
        for path, state in here.items():
            if self._told.get(path) == state:
                continue
            before = self._growing.get(path)
            if before is None or before[0] != state:
                self._growing[path] = (state, now)
            elif now - before[1] >= self.steady_s:
                done.append(path)
                self._told[path] = self._growing.pop(path)[0]
        return sorted(done, key=lambda path: self._told[path][1])

    def _here(self) -> dict[Path, _State]:
        """All photos of the folder that hold anything, with size and time of change."""
        found = {}
        for photo in plan_photos([self.folder]).photos:
            try:
                status = os.stat(photo.path)
            except OSError:  # gone since it was listed: renamed by what fills the folder
                continue
            if status.st_size:
                found[photo.path] = (status.st_size, status.st_mtime_ns)
        return found
