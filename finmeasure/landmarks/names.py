"""Other people's words for landmarks and fins, turned into the names used here."""

from __future__ import annotations

import difflib
import re
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from functools import cache, lru_cache
from types import MappingProxyType

from finmeasure.errors import NotFound
from finmeasure.landmarks.scheme import fin_definitions, landmark_definitions
from finmeasure.photo.files import printable
from finmeasure.reading import PARTS

_WHOLE_PARTS = {"fish": ("whole", "whole_fish"), "body": ("whole_body", "trunk")}


@dataclass(frozen=True, slots=True)
class NameMatch:
    """A typed name and what it was read as.

    Parameters
    ----------
    name : str
        Name used here.
    note : str
        The mapping in plain words; empty where the name was typed as it is used here.
    ask : bool
        True where the word means something else to some people, so that a person who types it
        should be asked.
    """

    name: str
    note: str = ""
    ask: bool = False


# A table with a wrong column repeats the same few unknown words a hundred thousand times.
@lru_cache(maxsize=256)
def match_landmark(typed: str) -> NameMatch | NotFound:
    """Find the landmark that a typed name means.

    Parameters
    ----------
    typed : str
        E.g. ``"pelvic_tip"``, ``"Ventral tip"``, ``"tail-fork"``.

    Returns
    -------
    NameMatch or NotFound
        NotFound names the nearest landmarks.

    Examples
    --------
    >>> match_landmark("Ventral tip").name
    'pelvic_tip'
    """
    return _match("landmark", typed, landmark_definitions(), _landmark_words())


def match_fin(typed: str) -> NameMatch | NotFound:
    """Find the fin that a typed word means.

    Examples
    --------
    >>> match_fin("tail").name
    'caudal'
    >>> match_fin("ventral").ask
    True
    """
    return _match("fin", typed, fin_definitions(), _fin_words())


@lru_cache(maxsize=256)
def match_part(typed: str) -> NameMatch | NotFound:
    """Find the part (fin, body or whole fish) that a typed word means."""
    whole = {word: NameMatch(part) for part, words in _WHOLE_PARTS.items() for word in words}
    return _match("part", typed, PARTS, {**_fin_words(), **whole})


def nearest(typed: str, allowed: Iterable[str]) -> str:
    """Say which of the allowed words are closest to the one typed; empty where none is close.

    Examples
    --------
    >>> nearest("snout_tp", ["snout_tip", "caudal_base"])
    'Nearest: snout_tip. '
    """
    close = difflib.get_close_matches(_plain(typed)[:80], list(allowed), n=3, cutoff=0.6)
    return f"Nearest: {', '.join(close)}. " if close else ""


def _match(
    kind: str, typed: str, names: Collection[str], words: Mapping[str, NameMatch]
) -> NameMatch | NotFound:
    if typed in names:
        return NameMatch(typed)
    plain = _plain(typed)
    if plain in names:
        return NameMatch(plain)
    if plain not in words:
        reason = f"{kind} '{printable(typed, 60)}' is not known."
        all_names = f"Allowed: {', '.join(names)}."
        close = nearest(plain, names)
        return NotFound(reason, f"{close}`finmeasure fins` shows all." if close else all_names)
    found = words[plain]
    return NameMatch(found.name, f"{plain} is read as {found.name}{found.note}", found.ask)


def _plain(typed: str) -> str:
    """Lower case with single underscores."""
    return re.sub(r"[\s\-_./]+", "_", typed.strip().lower()).strip("_")


@cache
def _fin_words() -> Mapping[str, NameMatch]:
    words = {}
    for fin in fin_definitions().values():
        for word in fin.synonyms:
            asked = word in fin.ask_when_typed
            note = f" ({fin.where.rstrip('.').lower()}; for the other fin write anal)"
            words[_plain(word)] = NameMatch(fin.name, note if asked else "", asked)
    return MappingProxyType(words)


@cache
def _landmark_words() -> Mapping[str, NameMatch]:
    """Own synonyms of each landmark, and each word for its fin in front of the rest of its name."""
    words = {}
    for name, definition in landmark_definitions().items():
        words.update({_plain(word): NameMatch(name) for word in definition.synonyms})
        rest = name.removeprefix(definition.fin)
        for word, fin in _fin_words().items():
            if fin.name == definition.fin and rest != name:
                words.setdefault(word + rest, NameMatch(name, fin.note, fin.ask))
    return MappingProxyType(words)
