"""Undo and redo without limit, over states that are never changed in place."""

from __future__ import annotations

from collections.abc import Callable
from typing import Generic, TypeVar

State = TypeVar("State")


class History(Generic[State]):
    """A line of states with a present one.

    Parameters
    ----------
    present : State
        The first state.

    Examples
    --------
    >>> line = History(1)
    >>> line.push(2)
    >>> line.undo(), line.present, line.redo(), line.present
    (True, 1, True, 2)
    """

    def __init__(self, present: State) -> None:
        """Start with one state."""
        self.present = present
        self._past: list[State] = []
        self._future: list[State] = []

    def push(self, state: State) -> None:
        """Make a new state the present one; what was undone before is dropped."""
        self._past.append(self.present)
        self._future.clear()
        self.present = state

    def rewrite(self, change: Callable[[State], State]) -> None:
        """Change every state in the same way; undo leads through the changed ones."""
        self._past = [change(state) for state in self._past]
        self._future = [change(state) for state in self._future]
        self.present = change(self.present)

    def undo(self) -> bool:
        """Go one state back; False where there is none."""
        return self._step(self._past, self._future)

    def redo(self) -> bool:
        """Go one state forward again; False where there is none."""
        return self._step(self._future, self._past)

    @property
    def can_undo(self) -> bool:
        """Whether there is something to undo."""
        return bool(self._past)

    @property
    def can_redo(self) -> bool:
        """Whether there is something to redo."""
        return bool(self._future)

    def _step(self, source: list[State], target: list[State]) -> bool:
        """Take the last state of one list and keep the present one in the other."""
        if not source:
            return False
        target.append(self.present)
        self.present = source.pop()
        return True
