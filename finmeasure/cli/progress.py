"""How far a run is: a bar on a terminal, one line per photo otherwise."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Protocol

from finmeasure.cli.printing import counted, one_line, say

if TYPE_CHECKING:
    from finmeasure.study.records import PhotoResult


class Progress(Protocol):
    """Something that is told how a run goes on."""

    def start(self, total: int) -> None:
        """Take note of the number of photos."""

    def skipped(self) -> None:
        """Take note of a photo that is as before."""

    def done(self, result: PhotoResult) -> None:
        """Take note of a photo that was recorded."""


class PlainLines:
    """One line for each photo that is measured or refused."""

    def __init__(self) -> None:
        self._total = 0
        self._number = 0

    def start(self, total: int) -> None:
        """Write how many photos there are."""
        self._total = total
        say(f"{counted(total, 'photo')} to look at.")

    def skipped(self) -> None:
        """Count a photo that is as before."""
        self._number += 1

    def done(self, result: PhotoResult) -> None:
        """Write what became of a photo."""
        self._number += 1
        say(f"{self._number}/{self._total} {outcome(result)}")


def outcome(result: PhotoResult) -> str:
    """Say in one line what became of a photo."""
    if result.state == "refused":
        return f"{result.photo}: refused. {result.reason}"
    scale = "" if result.scale is not None else " (no scale: ratios only)"
    advice = " ".join(result.scale.advice) if result.scale is not None else result.scale_reason
    hint = f". Next photo: {advice}" if advice else ""
    return f"{result.photo}: {len(result.fish)} fish measured{scale}{hint}"


class _Bar:
    """A progress bar; refusals are written above it."""

    def __init__(self) -> None:
        from rich.console import Console
        from rich.progress import BarColumn, MofNCompleteColumn, Progress, TimeRemainingColumn

        columns = (BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
        self.progress = Progress(*columns, console=Console(highlight=False), transient=True)
        self._task = self.progress.add_task("", total=None)

    def start(self, total: int) -> None:
        """Set the length of the bar."""
        self.progress.update(self._task, total=total)

    def skipped(self) -> None:
        """Move on by one photo."""
        self.progress.advance(self._task)

    def done(self, result: PhotoResult) -> None:
        """Move on by one photo; say so if it was refused."""
        self.progress.advance(self._task)
        if result.state == "refused":
            self.progress.console.print(one_line(outcome(result)), markup=False, soft_wrap=True)


@contextmanager
def shown_progress() -> Iterator[Progress]:
    """Show progress in the way that suits where the output goes."""
    if not sys.stdout.isatty():
        yield PlainLines()
        return
    bar = _Bar()
    with bar.progress:
        yield bar
