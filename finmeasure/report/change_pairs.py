"""Two photos that may show one fish, and what a person says of them."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from finmeasure.errors import FinmeasureError
from finmeasure.exchange.inputs import LabelRow
from finmeasure.reading import Reading

if TYPE_CHECKING:
    from finmeasure.study.store import Study

Answer = Literal["same", "different", "not sure"]
#: Character of the label that keeps each answer, on the later fish of the pair.
CHARACTERS: dict[Answer, str] = {
    "same": "same_fish",
    "different": "other_fish",
    "not sure": "same_fish_unsure",
}
_ENTRY = re.compile(r"(.+) fish (\d+) and (.+) fish (\d+)")
Place = tuple[str, int]


@dataclass(frozen=True, slots=True, eq=False)
class SeenFish:
    """A confirmed fish on one photo of a visit.

    Parameters
    ----------
    photo, number : str, int
        Where it is.
    name : str
        Empty where it has only its number.
    group : str
        Tank, or empty.
    visit : datetime.date
        Day.
    file : pathlib.Path
        The photo.
    reading : Reading
        Marks.
    """

    photo: str
    number: int
    name: str
    group: str
    visit: date
    file: Path
    reading: Reading

    @property
    def place(self) -> Place:
        """Photo and number: what stays when names change."""
        return self.photo, self.number


@dataclass(frozen=True, slots=True, eq=False)
class FishPair:
    """Two photos that may show one fish.

    Parameters
    ----------
    earlier, later : SeenFish
        Of two visits; at most one has a name.
    likeness : float
        See :class:`finmeasure.timeseries.same_fish.LikelyPair`.
    reasons : tuple of str
        Why they may be the same, and what speaks against it.
    unsure : bool
        A person looked at them before and was not sure.
    """

    earlier: SeenFish
    later: SeenFish
    likeness: float
    reasons: tuple[str, ...]
    unsure: bool = False

    @property
    def name(self) -> str:
        """Name that one of the two has; empty where neither has one."""
        return self.earlier.name or self.later.name


@dataclass(frozen=True, slots=True, eq=False)
class Decision:
    """What a person said of a pair, with what is needed to take it back."""

    pair: FishPair
    answer: Answer
    person: str
    name: str
    named: tuple[Place, ...]


def free_name(study: Study, group: str) -> str:
    """Suggest a name that no fish of the study has."""
    taken = {one.reading.fish for one in study.current_readings()}
    stem = f"{group}-" if group else "fish-"
    return next(name for number in range(1, 10**6) if (name := f"{stem}{number}") not in taken)


def decide(
    study: Study, pair: FishPair, answer: Answer, *, person: str, name: str = ""
) -> Decision:
    """Write a person's answer into the study: a label, and for the same fish the name.

    Parameters
    ----------
    study : Study
        Open for writing.
    pair : FishPair
        The pair.
    answer : {"same", "different", "not sure"}
        Kept as a label of the later fish (``same_fish``, ``other_fish``, ``same_fish_unsure``).
    person : str
        Who says so.
    name : str
        For the same fish: its name, where neither has one yet.

    Raises
    ------
    FinmeasureError
        If the same fish would stay without a name, or the name is taken on one of the photos.
    """
    named: list[Place] = []
    chosen = pair.name or name.strip() if answer == "same" else ""
    if answer == "same":
        if not chosen:
            message = "The fish has no name yet. Type one: both photos are filed under it."
            raise FinmeasureError(message)
        named = _name_both(study, pair, chosen)
    entry = f"{_words(pair.earlier.place)} and {_words(pair.later.place)}"
    _put_label(
        study, pair.later.place, answer, person, [*_entries(study, pair, answer, person), entry]
    )
    return Decision(pair, answer, person, chosen, tuple(named))


def _name_both(study: Study, pair: FishPair, name: str) -> list[Place]:
    """Give both fish one name, or none of them where one photo does not allow it."""
    named: list[Place] = []
    for one in (pair.earlier, pair.later):
        if one.name:
            continue
        try:
            study.name_fish(one.photo, str(one.number), name)
        except FinmeasureError:
            for photo, number in named:
                study.name_fish(photo, str(number), "")
            raise
        named.append(one.place)
    return named


def left_after(pairs: Sequence[FishPair], decision: Decision) -> tuple[FishPair, ...]:
    """Give the pairs that are left to look at after an answer, in the order of before.

    A name that was given holds in the other pairs too; a pair that a person is not sure of goes to
    the end.
    """
    left = [
        replace(
            pair,
            earlier=_named(pair.earlier, decision),
            later=_named(pair.later, decision),
        )
        for pair in pairs
        if pair is not decision.pair
    ]
    if decision.answer == "not sure":
        left.append(replace(decision.pair, unsure=True))
    return tuple(pair for pair in left if not (pair.earlier.name and pair.later.name))


def _named(fish: SeenFish, decision: Decision) -> SeenFish:
    return replace(fish, name=decision.name) if fish.place in decision.named else fish


def take_back(study: Study, decision: Decision) -> None:
    """Undo an answer: the names that it gave go, and so does its label's entry."""
    pair = decision.pair
    for photo, number in decision.named:
        study.name_fish(photo, str(number), "")
    kept = _entries(study, pair, decision.answer, decision.person)
    _put_label(study, pair.later.place, decision.answer, decision.person, kept)


def answers(study: Study) -> dict[frozenset[Place], Answer]:
    """Give what was said of each pair of fish; the surer answer counts."""
    found: dict[frozenset[Place], Answer] = {}
    labels = study.labels()
    for answer in ("not sure", "different", "same"):
        for label in labels:
            if label.character == CHARACTERS[answer]:
                found |= {places: answer for places in _places(label.value)}
    return found


def _places(value: str) -> Iterable[frozenset[Place]]:
    """Read the pairs that a label names."""
    for entry in value.split("; "):
        if read := _ENTRY.fullmatch(entry):
            first, number, second, other = read.groups()
            yield frozenset([(first, int(number)), (second, int(other))])


def _words(place: Place) -> str:
    return f"{place[0]} fish {place[1]}"


def _entries(study: Study, pair: FishPair, answer: Answer, person: str) -> list[str]:
    """Give the other entries of the label that an answer is kept in."""
    photo, number = pair.later.place
    mine = frozenset([pair.earlier.place, pair.later.place])
    return [
        entry
        for label in study.labels()
        if (label.photo, label.fish, label.set_by) == (photo, str(number), person)
        and label.character == CHARACTERS[answer]
        for entry in label.value.split("; ")
        if entry and mine not in _places(entry)
    ]


def _put_label(
    study: Study, place: Place, answer: Answer, person: str, entries: Sequence[str]
) -> None:
    photo, number = place
    study.add_labels([LabelRow(str(number), CHARACTERS[answer], "; ".join(entries), person, photo)])
