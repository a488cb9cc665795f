"""Marks that were given as tables: readings per photo, and what is wrong with which photo."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType

from finmeasure.errors import NotFound
from finmeasure.exchange.tables import Row, photo_key
from finmeasure.landmarks.names import NameMatch
from finmeasure.reading import Landmark, Outline, Reading

_MOST_PROBLEMS = 5


@dataclass(frozen=True, slots=True, eq=False)
class MarksTable:
    """Readings by photo.

    Parameters
    ----------
    by_photo : mapping of str to tuple of Reading
        Readings of photos without problems, fish in the order of the table.
    problems_by_photo : mapping of str to tuple of str
        One line per problem; a photo with a problem gives no reading.
    notes : tuple of str
        How other words for landmarks and fins were read, and rows that name no photo; to be shown
        once.
    """

    by_photo: Mapping[str, tuple[Reading, ...]] = field(
        default_factory=lambda: MappingProxyType({})
    )
    problems_by_photo: Mapping[str, tuple[str, ...]] = field(
        default_factory=lambda: MappingProxyType({})
    )
    notes: tuple[str, ...] = ()

    @property
    def photos(self) -> tuple[str, ...]:
        """Photos that the table names, those with problems too."""
        return tuple(dict.fromkeys([*self.by_photo, *self.problems_by_photo]))

    def readings(self, photo: str) -> tuple[Reading, ...]:
        """Give a photo's readings; none where it is not named or has a problem."""
        return self.by_photo.get(photo_key(photo), ())

    def problems(self, photo: str) -> tuple[str, ...]:
        """Say what is wrong with a photo's rows."""
        return self.problems_by_photo.get(photo_key(photo), ())

    def joined(self, other: MarksTable) -> MarksTable:
        """Put marks of two tables together, fish by fish; a problem in either refuses a photo."""
        problems = {
            photo: self.problems(photo) + other.problems(photo)
            for photo in dict.fromkeys([*self.problems_by_photo, *other.problems_by_photo])
        }
        photos = dict.fromkeys([*self.by_photo, *other.by_photo])
        by_photo = {
            photo: _joined(self.readings(photo), other.readings(photo))
            for photo in photos
            if photo not in problems
        }
        notes = tuple(dict.fromkeys(self.notes + other.notes))
        return MarksTable(MappingProxyType(by_photo), MappingProxyType(problems), notes)


class MarksCollector:
    """Gathers rows into a :class:`MarksTable`."""

    def __init__(self) -> None:
        self._readings: dict[str, dict[str, Reading]] = defaultdict(dict)
        self._landmarks: dict[tuple[str, str], dict[str, Landmark]] = defaultdict(dict)
        self._outlines: dict[tuple[str, str], dict[str, Outline]] = defaultdict(dict)
        self._row_of: dict[tuple[str, str, str], int] = {}
        self._problems: dict[str, list[str]] = defaultdict(list)
        self._notes: dict[str, None] = {}

    def complain(self, row: Row, problem: str) -> None:
        """Keep what is wrong with a row, by its photo."""
        photo = photo_key(row.exact_text("photo"))
        if photo:
            self._problems[photo].append(problem)
        else:
            self._notes[problem] = None

    def match(self, row: Row, column: str, found: NameMatch | NotFound) -> str:
        """Give the name that was meant, keeping a note where it is not the one typed."""
        if isinstance(found, NotFound):
            row.refuse_because(column, str(found))
        if found.note:
            self._notes[f"{row.table}: {found.note}"] = None
        return found.name

    def add_landmark(self, row: Row, landmark: Landmark) -> None:
        """Keep a landmark."""
        key = self._fish(row, "landmark", landmark.name, landmark.placed_by)
        self._landmarks[key][landmark.name] = landmark

    def add_outline(self, row: Row, outline: Outline) -> None:
        """Keep an outline."""
        key = self._fish(row, "part", outline.part, outline.placed_by)
        self._outlines[key][outline.part] = outline

    def table(self) -> MarksTable:
        """Give everything that was gathered."""
        by_photo = {
            photo: tuple(self._filled(photo, reading) for reading in readings.values())
            for photo, readings in self._readings.items()
            if photo not in self._problems
        }
        problems = {photo: _few(lines) for photo, lines in self._problems.items()}
        notes = tuple(self._notes)
        return MarksTable(MappingProxyType(by_photo), MappingProxyType(problems), notes)

    def _fish(self, row: Row, column: str, name: str, placed_by: str) -> tuple[str, str]:
        """Photo and fish of a row; refuses a second row for the same thing."""
        photo = photo_key(row.exact_text("photo"))
        if not photo:
            row.refuse("photo", "the photo's path relative to its folder; fill the cell")
        fish = row.text("fish", default="1")
        earlier = self._row_of.setdefault((photo, fish, name), row.number)
        if earlier != row.number:
            row.refuse(column, f"each once per fish and photo; row {earlier} has it already")
        if fish not in self._readings[photo]:
            self._readings[photo][fish] = Reading(fish, {}, placed_by=placed_by)
        return photo, fish

    def _filled(self, photo: str, reading: Reading) -> Reading:
        key = (photo, reading.fish)
        return replace(
            reading,
            landmarks=MappingProxyType(self._landmarks.get(key, {})),
            outlines=MappingProxyType(self._outlines.get(key, {})),
        )


def _few(lines: list[str]) -> tuple[str, ...]:
    """First problems of a photo, and how many more there are."""
    more = len(lines) - _MOST_PROBLEMS
    return (*lines[:_MOST_PROBLEMS], *([f"… and {more} more rows."] if more > 0 else []))


def _joined(first: tuple[Reading, ...], second: tuple[Reading, ...]) -> tuple[Reading, ...]:
    """Join the readings of one photo by fish."""
    joined = {reading.fish: reading for reading in first}
    for reading in second:
        known = joined.get(reading.fish)
        joined[reading.fish] = reading if known is None else _merged(known, reading)
    return tuple(joined.values())


def _merged(first: Reading, second: Reading) -> Reading:
    return replace(
        first,
        landmarks=MappingProxyType({**second.landmarks, **first.landmarks}),
        outlines=MappingProxyType({**second.outlines, **first.outlines}),
    )
