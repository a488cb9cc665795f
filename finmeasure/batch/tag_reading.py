"""Look for number tags in the photos of a run before they are measured."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from typing import TYPE_CHECKING

from finmeasure.batch.given import Given
from finmeasure.batch.plan import Plan, PlannedPhoto
from finmeasure.batch.tagged import Tagged, TaggedPhoto, tell_tags
from finmeasure.errors import PhotoError
from finmeasure.photo.files import sha256_of
from finmeasure.photo.metadata import read_metadata
from finmeasure.photo.reading import read_photo
from finmeasure.scale.tags import TagsInPhoto, find_tags

if TYPE_CHECKING:
    from finmeasure.study.store import Study

SETTING = "tags_seen"
"""Key under which a study keeps what was seen, by checksum, so that it is looked for once."""


def with_tags(
    study: Study, plan: Plan, given: Given, *, jobs: int | None = None
) -> tuple[Plan, Given]:
    """Read the tags of all photos of a plan.

    Photos that show a tag alone are recorded as labels and leave the plan.

    Parameters
    ----------
    study : Study
        Open for writing; it remembers what was seen.
    plan, given
        Of the run.
    jobs : int, optional
        Photos at a time.

    Returns
    -------
    tuple of Plan and Given
        The photos that are left, with a note for each photo of a tag, and what tags tell of them.
    """
    seen: dict[str, list[list[int]]] = study.setting(SETTING) or {}
    with ThreadPoolExecutor(jobs) as pool:
        photos = list(pool.map(lambda photo: _look(photo, given, seen), plan.photos))
    study.set_setting(SETTING, seen)
    told = tell_tags(photos)
    for photo in plan.photos:
        if photo.name in told.labels:
            _record_label(study, photo)
    left = tuple(photo for photo in plan.photos if photo.name not in told.labels)
    plan = Plan(left, (*plan.notes, *told.notes, *_lines(told)))
    return plan, replace(given, tags=told)


def _look(photo: PlannedPhoto, given: Given, seen: dict[str, list[list[int]]]) -> TaggedPhoto:
    """Look at one photo; one that cannot be read shows nothing here and is refused later."""
    try:
        key, taken_at = sha256_of(photo.path), read_metadata(photo.path).taken_at
        if key not in seen:
            found = _find(photo)
            seen[key] = [list(found.numbers), [int(found.with_card)]]
    except PhotoError:
        return TaggedPhoto(photo.name)
    numbers, (with_card,) = seen[key]
    shows_fish = bool(with_card) or given.has_marks(photo.name)
    return TaggedPhoto(photo.name, taken_at, tuple(numbers), shows_fish)


def _find(photo: PlannedPhoto) -> TagsInPhoto:
    return find_tags(read_photo(photo.path).gray())


def _record_label(study: Study, photo: PlannedPhoto) -> None:
    study.add_photo(
        photo.name,
        sha256_of(photo.path),
        metadata=read_metadata(photo.path),
        file=photo.path,
        role="label",
    )


def _lines(told: Tagged) -> list[str]:
    """Say for each photo of a tag alone how many photos follow it."""
    return [
        f"{photo}: shows {group} alone; {sum(one == group for one in told.groups.values())} "
        "photos belong to this group."
        for photo, group in told.labels.items()
        if group
    ]
