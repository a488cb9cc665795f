"""The photos of a folder or study in the order in which they need a person."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import Literal

QueueState = Literal["begun", "proposal", "to_do", "refused", "confirmed"]
STATE_WORDS: dict[QueueState, str] = {
    "begun": "begun",
    "proposal": "proposal to check",
    "to_do": "to do",
    "refused": "refused",
    "confirmed": "done",
}
_NEED = {state: rank for rank, state in enumerate(STATE_WORDS)}


@dataclass(frozen=True, slots=True)
class QueuePhoto:
    """One photo in the queue.

    Parameters
    ----------
    photo : str
        Its name in the study.
    file : pathlib.Path
        Where it lies.
    state : {"begun", "proposal", "to_do", "refused", "confirmed"}
        ``begun``: a draft waits; ``refused``: `reason` says why.
    reason : str
        Plain words for a refusal.
    group : str
        Group of the fish, or empty.
    taken_on : datetime.date, optional
        Date of the photo.
    confidence : float, optional
        Lowest confidence among the proposed marks.
    """

    photo: str
    file: Path
    state: QueueState = "to_do"
    reason: str = ""
    group: str = ""
    taken_on: date | None = None
    confidence: float | None = None


def by_need(photos: Iterable[QueuePhoto]) -> list[QueuePhoto]:
    """Sort photos so that what most needs a person comes first.

    Work that was begun, then proposals from the least confident, then photos to do, refused
    and done ones; within one state by name.

    Examples
    --------
    >>> one, two = QueuePhoto("a", Path("a"), "confirmed"), QueuePhoto("b", Path("b"))
    >>> [photo.photo for photo in by_need([one, two])]
    ['b', 'a']
    """

    def need(photo: QueuePhoto) -> tuple[int, float, str]:
        sure = 0.0 if photo.confidence is None else photo.confidence
        return _NEED[photo.state], sure if photo.state == "proposal" else 0.0, photo.photo

    return sorted(photos, key=need)


class Queue:
    """The list of photos with a filter and a place.

    The order is fixed when the queue is made or sorted anew, so that photos do not jump about
    under the person's hands while their states change.

    Parameters
    ----------
    photos : iterable of QueuePhoto
        In any order.
    """

    def __init__(self, photos: Iterable[QueuePhoto]) -> None:
        """Sort the photos by need and begin at the first."""
        self._photos = {photo.photo: photo for photo in by_need(photos)}
        self.group: str | None = None
        self.day: date | None = None
        self.current: str | None = next(iter(self._photos), None)

    def __len__(self) -> int:
        """How many photos there are, filter or not."""
        return len(self._photos)

    def __iter__(self) -> Iterator[QueuePhoto]:
        """Give the photos that the filter lets through, in order."""
        return iter(self.shown)

    def __getitem__(self, photo: str) -> QueuePhoto:
        """Give one photo by name."""
        return self._photos[photo]

    def __contains__(self, photo: object) -> bool:
        """Whether a photo is in the queue."""
        return photo in self._photos

    @property
    def shown(self) -> tuple[QueuePhoto, ...]:
        """Photos that the filter by group and day lets through."""
        return tuple(photo for photo in self._photos.values() if self._lets_through(photo))

    @property
    def groups(self) -> tuple[str, ...]:
        """Names of the groups, sorted."""
        return tuple(sorted({photo.group for photo in self._photos.values() if photo.group}))

    @property
    def days(self) -> tuple[date, ...]:
        """Days on which photos were taken, sorted."""
        taken = {photo.taken_on for photo in self._photos.values()}
        return tuple(sorted(day for day in taken if day is not None))

    @property
    def progress(self) -> tuple[int, int]:
        """How many of the shown photos need nothing more, and how many are shown."""
        shown = self.shown
        return sum(photo.state in ("confirmed", "refused") for photo in shown), len(shown)

    def set_state(
        self, photo: str, state: QueueState, reason: str = "", *, confidence: float | None = None
    ) -> None:
        """Give a photo another state; it keeps its place in the list."""
        changed = {"state": state, "reason": reason, "confidence": confidence}
        self._photos[photo] = replace(self._photos[photo], **changed)  # type: ignore[arg-type]

    def sort_again(self) -> None:
        """Sort by need anew."""
        self._photos = {photo.photo: photo for photo in by_need(self._photos.values())}

    def describe(self, photo: str, taken_on: date) -> None:
        """Note the day on which a photo was taken, once its file was read."""
        self._photos[photo] = replace(self._photos[photo], taken_on=taken_on)

    def step(self, by: int) -> QueuePhoto | None:
        """Give the photo `by` places further among the shown ones; None beyond the ends."""
        names = [photo.photo for photo in self.shown]
        if self.current not in names:
            return self.shown[0] if names else None
        place = names.index(self.current) + by
        return self.shown[place] if 0 <= place < len(names) else None

    def next_in_need(self) -> QueuePhoto | None:
        """Give the next shown photo that still needs a person, going round once."""
        shown = self.shown
        names = [photo.photo for photo in shown]
        start = names.index(self.current) + 1 if self.current in names else 0
        turned = [*shown[start:], *shown[:start]]
        waiting = (p for p in turned if p.state in ("begun", "proposal", "to_do"))
        return next((photo for photo in waiting if photo.photo != self.current), None)

    def _lets_through(self, photo: QueuePhoto) -> bool:
        """Whether the filter shows a photo."""
        return (self.group is None or photo.group == self.group) and (
            self.day is None or photo.taken_on == self.day
        )
