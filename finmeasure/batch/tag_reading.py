"""Look for number tags in the photos of a run before they are measured."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

from finmeasure.batch.given import Given
from finmeasure.batch.plan import Plan, PlannedPhoto
from finmeasure.batch.runner import Limits, Trouble, in_workers
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
    study: Study,
    plan: Plan,
    given: Given,
    *,
    jobs: int | None = None,
    limits: Limits | None = None,
) -> tuple[Plan, Given]:
    """Read the tags of all photos of a plan.

    Photos that show a tag alone are recorded as labels and leave the plan.

    Parameters
    ----------
    study : Study
        Open for writing; it remembers what was seen.
    plan, given
        Of the run.
    jobs, limits : optional
        Photos at a time, and what one may take.

    Returns
    -------
    tuple of Plan and Given
        The photos that are left, with a note for each photo of a tag, and what tags tell of them.
    """
    seen: dict[str, list[list[int]]] = study.setting(SETTING) or {}
    sums = _checksums(plan)
    new = {sums[photo.name]: photo for photo in plan.photos if sums[photo.name] not in seen}
    new.pop("", None)
    for photo, found in in_workers(_find, new.values(), jobs=jobs, limits=limits):
        if not isinstance(found, Trouble):  # such a photo shows nothing here and is refused later
            seen[sums[photo.name]] = [list(found.numbers), [int(found.with_card)]]
    study.set_setting(SETTING, seen)
    photos = [_told(photo, given, seen.get(sums[photo.name])) for photo in plan.photos]
    told = tell_tags(photos)
    for photo in plan.photos:
        if photo.name in told.labels:
            _record_label(study, photo)
    left = tuple(photo for photo in plan.photos if photo.name not in told.labels)
    plan = Plan(left, (*plan.notes, *told.notes, *_lines(told)))
    return plan, replace(given, tags=told)


def _checksums(plan: Plan) -> Mapping[str, str]:
    """Checksum of each photo by its name; empty where it cannot be read."""
    sums = {}
    for photo in plan.photos:
        try:
            sums[photo.name] = sha256_of(photo.path)
        except PhotoError:
            sums[photo.name] = ""
    return sums


def _told(photo: PlannedPhoto, given: Given, seen: list[list[int]] | None) -> TaggedPhoto:
    """Put together what one photo tells; nothing where it could not be read."""
    if seen is None:
        return TaggedPhoto(photo.name)
    try:
        taken_at = read_metadata(photo.path).taken_at
    except PhotoError:
        return TaggedPhoto(photo.name)
    numbers, (with_card,) = seen
    shows_fish = bool(with_card) or given.has_marks(photo)
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
