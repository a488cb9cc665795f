"""Records of the definitions: landmark, fin, body form, question."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

LONG_FIN = "+long_fin"
"""Added to a body form's id for a long-fin strain of it."""


@dataclass(frozen=True, slots=True)
class LandmarkDefinition:
    """What one landmark is.

    Parameters
    ----------
    name : str
        Contract name, e.g. ``"caudal_base"``.
    shown : str
        Name on screen.
    definition : str
        One sentence in plain words.
    exact : str
        The same, exact enough to settle a dispute.
    grade : {"published", "common practice"}
        Whether a source defines it.
    source : str
        The source, or ``"common practice, no source"``.
    synonyms : tuple of str
        Other names that are accepted on input, lower case with underscores.
    fin : str
        Fin that it belongs to, or ``"head"`` or ``"body"``.
    u_along_pct_sl, u_across_pct_sl : float
        Standard uncertainty of one placement by a careful person, along and across the body
        axis, % of standard length.
    u_source : str
        Where these figures come from.
    """

    name: str
    shown: str
    definition: str
    exact: str
    grade: str
    source: str
    synonyms: tuple[str, ...]
    fin: str
    u_along_pct_sl: float
    u_across_pct_sl: float
    u_source: str


@dataclass(frozen=True, slots=True)
class FinDefinition:
    """What one fin is: name shown, other words for it, where it stands.

    Parameters
    ----------
    name : str
        Contract name, e.g. ``"pelvic"``.
    shown : str
        Name on screen.
    synonyms : tuple of str
        Other words for it.
    ask_when_typed : tuple of str
        Synonyms that mean another fin to some people.
    paired : bool
        True for pelvic and pectoral fins.
    where : str
        Where it stands on the fish.
    """

    name: str
    shown: str
    synonyms: tuple[str, ...]
    ask_when_typed: tuple[str, ...]
    paired: bool
    where: str


@dataclass(frozen=True, slots=True)
class FinTell:
    """What a fin tells in one body form, and on what ground: text, grade, source, synonyms."""

    text: str
    grade: str
    source: str
    synonyms: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class BodyForm:
    """Which landmarks and fins exist in a kind of fish.

    Parameters
    ----------
    id : str
        E.g. ``"livebearer"``; with ``+long_fin`` for a long-fin strain of it.
    shown : str
        Name on screen.
    examples : tuple of str
        Fish that belong to it.
    fins : tuple of str
        Fins that it has, from front to rear along back, tail and belly.
    landmarks : tuple of str
        All its landmarks in guided order, grouped by fin.
    by_fin : mapping of str to tuple of str
        The same, per fin and for ``"head"`` and ``"body"``.
    tells : mapping of str to FinTell
        What each fin tells.
    absent : tuple of str
        Landmarks that this body form has not got.
    notes : tuple of str
        Generalities, with exceptions.
    spiny : tuple of str
        Fins with a spine: care in handling.
    natural_notches : tuple of str
        Fins whose notch or dip is natural.
    free_tips : tuple of str
        Fins with free ray or spine tips: no absolute verdict on their edge.
    long_fin : bool
        Veil or long-fin strain: not comparable with wild-type fins.
    side_view_tells_little : bool
        True for flat fish.
    sex_note : str
        What to look at for the sex.
    grade, source : str
        Ground for the form as a whole.
    """

    id: str
    shown: str
    examples: tuple[str, ...]
    fins: tuple[str, ...]
    landmarks: tuple[str, ...]
    by_fin: Mapping[str, tuple[str, ...]]
    tells: Mapping[str, FinTell]
    absent: tuple[str, ...]
    notes: tuple[str, ...]
    spiny: tuple[str, ...]
    natural_notches: tuple[str, ...]
    free_tips: tuple[str, ...]
    free_tips_long_fin: tuple[str, ...]
    long_fin: bool
    side_view_tells_little: bool
    questions: Mapping[str, tuple[str, ...]]
    sex_note: str
    grade: str
    source: str

    def as_long_fin(self) -> BodyForm:
        """Give the long-fin strain of this body form."""
        if self.long_fin:
            return self
        tips = tuple(dict.fromkeys(self.free_tips + self.free_tips_long_fin))
        shown = f"{self.shown}, long-fin strain"
        return replace(self, id=self.id + LONG_FIN, shown=shown, long_fin=True, free_tips=tips)


@dataclass(frozen=True, slots=True)
class Question:
    """What the keeper wants to know: id, name shown, what is answered, usual points."""

    id: str
    shown: str
    answer: str
    points: tuple[str, ...]
