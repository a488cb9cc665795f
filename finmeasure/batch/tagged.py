"""What the number tags seen in photos tell: groups that they open, and fish that they name."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import PurePosixPath

from finmeasure.tag_design import tag_name


@dataclass(frozen=True, slots=True)
class TaggedPhoto:
    """One photo in a run that reads tags.

    Parameters
    ----------
    name : str
        In the study.
    taken_at : datetime, optional
        The camera's time.
    numbers : tuple of int
        Tags that are seen.
    shows_fish : bool
        Whether a card or marks say that this is the photo of a fish.
    """

    name: str
    taken_at: datetime | None = None
    numbers: tuple[int, ...] = ()
    shows_fish: bool = False


@dataclass(frozen=True, slots=True)
class Tagged:
    """Groups and fish by photo, the photos that show a tag alone, and what was unclear.

    Parameters
    ----------
    groups, fish : mapping of str to str
        By photo.
    labels : mapping of str to str
        Photos that show one tag and nothing else, and the group that each opens.
    notes : tuple of str
        One line for each photo whose tags tell nothing.
    """

    groups: Mapping[str, str] = field(default_factory=dict)
    fish: Mapping[str, str] = field(default_factory=dict)
    labels: Mapping[str, str] = field(default_factory=dict)
    notes: tuple[str, ...] = ()


def tell_tags(photos: Sequence[TaggedPhoto]) -> Tagged:
    """Work out what tags tell.

    Within a folder photos follow each other by the camera's time where every one has it, else by
    name. A photo of one tag alone opens its group for the photos that follow in its folder, until
    the next such photo. A tag on the photo of a fish names it.

    Parameters
    ----------
    photos : sequence of TaggedPhoto
        All photos of a run.
    """
    groups: dict[str, str] = {}
    fish: dict[str, str] = {}
    labels: dict[str, str] = {}
    notes: list[str] = []
    for folder in dict.fromkeys(_folder(photo) for photo in photos):
        group = ""
        for photo in _in_order([one for one in photos if _folder(one) == folder]):
            names = [tag_name(number) for number in photo.numbers]
            if len(names) > 1:
                notes.append(_several(photo, names))
            if names and not photo.shows_fish:
                group = names[0] if len(names) == 1 else ""
                labels[photo.name] = group
            else:
                groups[photo.name] = group
            if len(names) == 1 and photo.shows_fish:
                fish[photo.name] = names[0]
    return Tagged(groups, fish, labels, tuple(notes))


def _folder(photo: TaggedPhoto) -> PurePosixPath:
    return PurePosixPath(photo.name).parent


def _in_order(photos: list[TaggedPhoto]) -> list[TaggedPhoto]:
    """Sort the photos of one folder."""
    if all(photo.taken_at is not None for photo in photos):
        return sorted(photos, key=lambda one: (one.taken_at or datetime.min, one.name))
    return sorted(photos, key=lambda one: one.name)


def _several(photo: TaggedPhoto, names: list[str]) -> str:
    ends = "names no fish" if photo.shows_fish else "opens no group, and the group before it ends"
    return (
        f"{photo.name}: {len(names)} tags are seen ({', '.join(names)}), so it {ends}. "
        "Photograph one tag at a time."
    )
