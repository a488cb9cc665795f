"""What a person gives to a run: marks, scales and options, brought to each photo."""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

from finmeasure.batch.clips import name_without_frame
from finmeasure.batch.digest import digest_of
from finmeasure.batch.measure_photo import PhotoTask
from finmeasure.batch.name_pattern import NameParts, NamePattern, parse_name_pattern
from finmeasure.batch.plan import Plan, PlannedPhoto
from finmeasure.batch.tagged import Tagged
from finmeasure.exchange.landmarks import read_landmarks
from finmeasure.exchange.marks import MarksTable
from finmeasure.exchange.outlines import read_outlines
from finmeasure.exchange.scales import ScalesTable, read_scales
from finmeasure.exchange.tables import photo_key
from finmeasure.landmarks.scheme import points_for
from finmeasure.proposals.group_prior import GroupPrior
from finmeasure.proposals.weights import weights_id
from finmeasure.reading import Reading
from finmeasure.scale.lens import Lens
from finmeasure.scale.request import PrintCheck, ScaleRequest

_NAMED = 3


@dataclass(frozen=True, slots=True)
class Options:
    """What holds for all photos of a run.

    Parameters
    ----------
    scale_request : ScaleRequest
        How to find the scale, references marked in single photos left out.
    question : str
        ``size``, ``sex``, ``fin:<name>`` or ``full``.
    body_form : str, optional
        Body form of all fish; that of the fish's group, else that of the marks, if None.
    group : str
        Group of all fish whose photo's name gives none.
    name_pattern : NamePattern, optional
        How to read photo names.
    """

    scale_request: ScaleRequest = field(default_factory=ScaleRequest)
    question: str = "full"
    body_form: str | None = None
    group: str = ""
    name_pattern: NamePattern | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Given:
    """Marks, scales and options of a run.

    Parameters
    ----------
    options : Options
        What holds for all photos.
    marks : MarksTable
        Landmarks and outlines by photo.
    scales : ScalesTable
        References marked in photos.
    body_forms : mapping of str to str
        Body form by group, for fish whose body form no option gives.
    tags : Tagged
        Groups and fish that our number tags tell; a photo's name goes before them.
    priors : mapping of str to GroupPrior
        What confirmed readings taught, by group. Photos that were measured are not measured anew
        when it changes.
    places : mapping of str to str
        The name that the tables have for a photo file, by its absolute path: names count from the
        table's own folder too, so that a table serves for each folder below it.
    """

    options: Options = field(default_factory=Options)
    marks: MarksTable = field(default_factory=MarksTable)
    scales: ScalesTable = field(default_factory=lambda: ScalesTable({}, {}))
    body_forms: Mapping[str, str] = field(default_factory=dict)
    tags: Tagged = field(default_factory=Tagged)
    priors: Mapping[str, GroupPrior] = field(default_factory=dict)
    places: Mapping[str, str] = field(default_factory=dict)

    def task(self, photo: PlannedPhoto, overlays: Path | None = None) -> PhotoTask:
        """Put together everything that is given for one photo.

        Parameters
        ----------
        photo : PlannedPhoto
            The photo.
        overlays : Path, optional
            Folder of its pictures.

        Returns
        -------
        PhotoTask
            With the digest of everything given.
        """
        options = self.options
        parts = self._parts(photo.name)
        group = parts.group or self.tags.groups.get(photo.name) or options.group
        told = self._told_as(photo)
        marked, request = self.scales.reference(told), options.scale_request
        request = request if marked is None else request.with_reference(marked)
        task = PhotoTask(
            path=photo.path,
            photo=photo.name,
            url=photo.url,
            readings=self._readings(photo, parts, group),
            problem=" ".join(self.marks.problems(told) + self.scales.problems(told)),
            scale_request=request,
            question=options.question,
            group=group,
            taken_on=parts.taken_on,
        )
        task = self._proposing(task, parts)
        given: tuple[object, ...] = (
            task.readings, task.problem, request, task.question, group, task.taken_on,
        )  # fmt: skip
        if task.proposing:
            # Other weights or another body form would give other marks.
            given = (*given, weights_id(), task.body_form, task.fish)
        if photo.url:  # never read only to compare; without a stamp it is measured anew
            given = (*given, photo.stamp)
        is_dated = bool(photo.stamp) or not photo.url
        digest = digest_of(*given) if is_dated else ""
        return replace(task, given_digest=digest, overlays=overlays)

    def has_marks(self, photo: PlannedPhoto) -> bool:
        """Tell whether a fish or a reference is marked in a photo by hand."""
        told = self._told_as(photo)
        return bool(self.marks.readings(told)) or self.scales.reference(told) is not None

    def with_calibration(
        self, checks: tuple[PrintCheck, ...], lenses: tuple[Lens, ...] = ()
    ) -> Given:
        """Add what the study knows of its printed cards (check lines) and of its cameras."""
        request = replace(self.options.scale_request, print_checks=checks, lenses=lenses)
        return replace(self, options=replace(self.options, scale_request=request))

    def notes(self, plan: Plan) -> tuple[str, ...]:
        """Say what a person should know before the run: words read otherwise, photos missing.

        Parameters
        ----------
        plan : Plan
            The photos of the run.

        Returns
        -------
        tuple of str
            One line each.
        """
        planned = {photo_key(self._told_as(photo)) for photo in plan.photos}
        tables: Mapping[str, Iterable[str]] = {
            "Marks are": self.marks.photos,
            "Scales are": (*self.scales.references, *self.scales.problems_by_photo),
        }
        missing = (
            _missing(what, [photo for photo in photos if photo not in planned])
            for what, photos in tables.items()
        )
        notes = (*self.marks.notes, *self.scales.notes, *missing, self._unread_names(plan))
        return tuple(note for note in notes if note)

    def _told_as(self, photo: PlannedPhoto) -> str:
        """Give the name that the tables have for a photo."""
        return self.places.get(str(photo.path), photo.name)

    def _readings(self, photo: PlannedPhoto, parts: NameParts, group: str) -> tuple[Reading, ...]:
        """Give the readings of a photo, with body form and the fish that its name tells."""
        form = self.options.body_form or self.body_forms.get(group)
        readings = tuple(
            reading if form is None else replace(reading, body_form=form)
            for reading in self.marks.readings(self._told_as(photo))
        )
        name = _fish_name(parts, group) or self.tags.fish.get(photo.name, "")
        if not name or len(readings) != 1 or not readings[0].fish.isdecimal():
            return readings
        return (replace(readings[0], fish=name),)

    def _proposing(self, task: PhotoTask, parts: NameParts) -> PhotoTask:
        """Let the program mark fish on a photo to which no marks are given, where it can."""
        if task.readings or task.problem or not weights_id():
            return task
        form = self.options.body_form or self.body_forms.get(task.group) or ""
        name = _fish_name(parts, task.group) or self.tags.fish.get(task.photo, "")
        return replace(
            task, proposing=True, body_form=form, fish=name, prior=self.priors.get(task.group)
        )

    def _parts(self, photo: str) -> NameParts:
        """Read a photo's name; nothing where there is no pattern or it does not fit."""
        pattern = self.options.name_pattern
        if pattern is None:
            return NameParts()
        return pattern.read(name_without_frame(photo)) or NameParts()

    def _unread_names(self, plan: Plan) -> str:
        """Say which names do not follow the pattern."""
        pattern = self.options.name_pattern
        if pattern is None:
            return ""
        unread = [
            photo.name
            for photo in plan.photos
            if pattern.read(name_without_frame(photo.name)) is None
        ]
        if not unread:
            return ""
        return (
            f"{_some(unread)} do not follow the name pattern {pattern.text!r}; "
            "they are measured without what it would tell."
        )


def read_given(
    *,
    landmarks: Path | None = None,
    outlines: Path | None = None,
    scales: Path | None = None,
    scale_request: ScaleRequest | None = None,
    question: str = "full",
    body_form: str | None = None,
    group: str = "",
    name_pattern: str | None = None,
) -> Given:
    """Read the tables and check the options of a run.

    Parameters
    ----------
    landmarks, outlines, scales : Path, optional
        Tables.
    scale_request : ScaleRequest, optional
        How to find the scale.
    question, body_form, group, name_pattern
        As the options of `measure`.

    Returns
    -------
    Given
        Ready for a run.

    Raises
    ------
    FinmeasureError
        If a table cannot be read at all, or an option is not allowed.
    """
    points_for(question, body_form or "plain")
    marks = MarksTable() if landmarks is None else read_landmarks(landmarks)
    if outlines is not None:
        marks = marks.joined(read_outlines(outlines))
    marked = ScalesTable({}, {}) if scales is None else read_scales(scales)
    request = scale_request or ScaleRequest()
    for reference in marked.references.values():
        request.with_reference(reference)  # says so at once if the options contradict the table
    pattern = None if name_pattern is None else parse_name_pattern(name_pattern)
    options = Options(request, question, body_form, group.strip(), pattern)
    named = {scales: (*marked.references, *marked.problems_by_photo)}
    named |= dict.fromkeys((outlines, landmarks), marks.photos)
    return Given(options, marks, marked, places=_places(named))


def _places(named: Mapping[Path | None, Iterable[str]]) -> dict[str, str]:
    """Give the names in tables by the absolute path that they have seen from the table's folder."""
    return {
        os.path.abspath(table.parent / name): name
        for table, names in named.items()
        if table is not None
        for name in names
    }


def _missing(what: str, photos: list[str]) -> str:
    """Say which photos a table names that the run has not."""
    if not photos:
        return ""
    return f"{what} given for {_some(photos)}, not among the photos of this run. Check the names."


def _some(names: list[str]) -> str:
    """Count photos and name the first of them."""
    shown = ", ".join(names[:_NAMED]) + (", …" if len(names) > _NAMED else "")
    return f"{len(names)} photo{'s' if len(names) > 1 else ''} ({shown})"


def _fish_name(parts: NameParts, group: str) -> str:
    """Name of the only fish of a photo, empty where the photo's name tells none."""
    if parts.fish is None:
        return ""
    # A bare number is no name: it would only count the fish within the photo
    return f"{group or 'fish'} {parts.fish}" if parts.fish.isdecimal() else parts.fish
