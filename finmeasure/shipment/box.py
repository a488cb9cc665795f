"""A box of measured fish, and the odd ones of it with their reasons in words."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from finmeasure.landmarks.scheme import landmark_definitions
from finmeasure.quantity import Measure
from finmeasure.reading import Reading
from finmeasure.shipment.odd_ones import FISH_FOR_VERDICT, OddFish, find_odd, find_odd_against
from finmeasure.shipment.odd_shapes import find_odd_shapes

CHARACTERS: dict[str, tuple[str, str, str]] = {
    "body_depth_to_sl": ("body", "deeper", "shallower"),
    "head_length_to_sl": ("head", "longer", "shorter"),
    "preanal_length_to_sl": ("anal fin", "further back", "further forward"),
    "peduncle_depth_to_sl": ("tail stalk", "deeper", "thinner"),
    "predorsal_length_to_sl": ("dorsal fin", "further back", "further forward"),
    "eye_diameter_to_sl": ("eye", "larger", "smaller"),
}
"""Ratios that damage to fins does not change, the first choice first (common practice)."""
SHAPE_POINTS = (
    "snout_tip", "eye_centre", "operculum_end", "dorsal_origin", "dorsal_end", "caudal_base",
    "caudal_upper_insertion", "caudal_lower_insertion", "anal_origin", "anal_end", "pelvic_origin",
)  # fmt: skip
PRESENCE = {"adipose_origin": "adipose fin", "second_dorsal_origin": "second dorsal fin"}
CHARACTERS_USED = 4
FEWEST_SHAPE_POINTS = 5
ENOUGH_OF_BOX = 0.8
CLEAR_DEVIATION = 2.0


@dataclass(frozen=True, slots=True, eq=False)
class BoxFish:
    """One fish of a box.

    Parameters
    ----------
    measures : mapping of str to Measure
        By id.
    labels : mapping of str to str
        What a person says of it, e.g. ``{"sex": "male"}``.
    """

    photo: str
    fish: str
    reading: Reading
    measures: Mapping[str, Measure]
    labels: Mapping[str, str] = field(default_factory=dict)
    side: str = ""

    def value(self, measure: str) -> float | None:
        """Value of a measure; None where it was not measured."""
        found = self.measures.get(measure)
        return found.value if found is not None and found.state == "measured" else None


@dataclass(frozen=True, slots=True, eq=False)
class OddOne:
    """A fish that does not look like the rest.

    Parameters
    ----------
    fish : BoxFish
        The fish.
    odd : bool
        Whether it passes a limit; below twenty fish only a fin that others lack or have counts.
    kind : int
        0 for the main kind; 1 for a second kind that several fish share.
    reasons : tuple of str
        In words.
    """

    fish: BoxFish
    odd: bool
    kind: int
    distance: float
    reasons: tuple[str, ...]


@dataclass(frozen=True, slots=True, eq=False)
class SortedBox:
    """A sorted box.

    Parameters
    ----------
    ranked : tuple of OddOne
        All fish that could be compared, the most unusual first.
    left_out : tuple of BoxFish
        Fish that lack a character.
    characters : tuple of str
        Ratios that were compared.
    table : ndarray of shape (N, P)
        Their values, rows in the order of `rows`.
    notes : tuple of str
        What a person should know, one sentence each.
    """

    ranked: tuple[OddOne, ...]
    left_out: tuple[BoxFish, ...]
    characters: tuple[str, ...]
    table: NDArray[np.float64]
    rows: tuple[BoxFish, ...]
    notes: tuple[str, ...]

    @property
    def odd(self) -> tuple[OddOne, ...]:
        """Fish that stand apart, alone or as a second kind."""
        return tuple(one for one in self.ranked if one.odd or one.kind)

    @property
    def typical(self) -> BoxFish | None:
        """The fish nearest to the middle of the box."""
        return self.ranked[-1].fish if self.ranked else None


def sort_box(
    fish: Sequence[BoxFish],
    *,
    characters: Sequence[str] = (),
    reference: Sequence[BoxFish] = (),
) -> SortedBox:
    """Find the odd ones of a box.

    Parameters
    ----------
    fish : sequence of BoxFish
        One photo of each fish.
    characters : sequence of str, optional
        At most four ratios; by default the first four of :data:`CHARACTERS` that most fish have.
    reference : sequence of BoxFish, optional
        A box known to be all of one kind.

    Returns
    -------
    SortedBox
        With the reasons in words.
    """
    chosen = tuple(characters)[:CHARACTERS_USED] or _chosen(fish, reference)
    rows = [one for one in fish if all(one.value(name) is not None for name in chosen)]
    left_out = tuple(one for one in fish if one not in rows)
    table = _table(rows, chosen)
    if not chosen or len(rows) < len(chosen) + 4:
        return _unranked(fish, rows, chosen, table)
    if reference:
        known = _table([one for one in reference if _has(one, chosen)], chosen)
        found = find_odd_against(table, known)
        kinds, sentence = (0,) * len(rows), _against_sentence(found, len(known))
        main, by_shape = known, dict[int, str]()
    else:
        verdict = find_odd(table, tests=2)
        found, kinds, sentence = verdict.fish, verdict.kinds, verdict.sentence
        by_shape = _odd_shapes(rows, kinds) if len(rows) >= FISH_FOR_VERDICT else {}
        odd_rows = {one.row for one in found if one.odd}
        main = table[[r for r in range(len(rows)) if r not in odd_rows and not kinds[r]]]
    ranked = []
    for one in found:
        presence = _presence_reasons(rows[one.row], rows)
        reasons = (
            *presence,
            *_ratio_reasons(table[one.row], one, main.mean(axis=0), chosen),
            *((by_shape[one.row],) if one.row in by_shape else ()),
        )
        odd = one.odd or bool(presence) or one.row in by_shape
        ranked.append(OddOne(rows[one.row], odd, kinds[one.row], one.t_squared, reasons))
    ranked.sort(key=lambda one: (not one.odd, not one.kind, -one.distance))
    return SortedBox(
        tuple(ranked), left_out, chosen, table, tuple(rows), _notes(sentence, ranked, left_out)
    )


def _chosen(fish: Sequence[BoxFish], reference: Sequence[BoxFish]) -> tuple[str, ...]:
    """Take the first four ratios that most fish have."""
    everyone = (*fish, *reference)
    enough = ENOUGH_OF_BOX * len(everyone)
    usable = [
        name for name in CHARACTERS if sum(o.value(name) is not None for o in everyone) >= enough
    ]
    return tuple(usable[:CHARACTERS_USED]) if everyone else ()


def _has(fish: BoxFish, names: Sequence[str]) -> bool:
    return all(fish.value(name) is not None for name in names)


def _table(rows: Sequence[BoxFish], names: Sequence[str]) -> NDArray[np.float64]:
    values = [[one.value(name) for name in names] for one in rows]
    return np.array(values, dtype=float).reshape(len(rows), len(names))


def _unranked(
    fish: Sequence[BoxFish], rows: Sequence[BoxFish], chosen: tuple[str, ...], table: object
) -> SortedBox:
    """Say that there is too little to compare; fins that others lack still count."""
    ranked = tuple(
        OddOne(one, bool(reasons), 0, 0.0, reasons)
        for one in fish
        if (reasons := _presence_reasons(one, fish))
    )
    note = (
        f"{len(rows)} of {len(fish)} fish have ratios in common: too few to compare them. "
        "Photograph or mark more fish (20 for a verdict)."
    )
    return SortedBox(ranked, tuple(fish), chosen, np.asarray(table, float), tuple(rows), (note,))


def _odd_shapes(rows: Sequence[BoxFish], kinds: Sequence[int]) -> dict[int, str]:
    """Rows whose pattern of landmarks is unlike that of the rest, each with its reason."""
    mine = [row for row in range(len(rows)) if not kinds[row]]
    names = [
        name
        for name in SHAPE_POINTS
        if sum(rows[row].reading.placed(name) for row in mine) >= ENOUGH_OF_BOX * len(mine)
    ]
    full = [row for row in mine if rows[row].reading.placed(*names)]
    if len(names) < FEWEST_SHAPE_POINTS or len(full) < FISH_FOR_VERDICT:
        return {}
    points = np.array([[rows[row].reading.point(name) for name in names] for row in full])
    facing_right = points[:, names.index("snout_tip"), 0] > points[:, -1, 0]
    points[facing_right, :, 0] *= -1.0
    found = find_odd_shapes(points, tests=2)
    return {full[one.row]: _pattern_reason([names[p] for p in one.points]) for one in found}


def _pattern_reason(names: Sequence[str]) -> str:
    """Say that the marks differ, and where to look if it may be a misplaced or swapped point."""
    text = "marks lie in another pattern than those of the rest"
    if not names:
        return text
    shown = " and ".join(landmark_definitions()[name].shown for name in names)
    return f"{text}, most at two points only: check {shown}"


def _presence_reasons(fish: BoxFish, box: Sequence[BoxFish]) -> tuple[str, ...]:
    """Fins that this fish lacks or has unlike nearly all the others."""
    reasons = []
    for landmark, fin in PRESENCE.items():
        states = Counter(one.reading.state_of(landmark) for one in box)
        known = states["placed"] + states["absent"]
        mine = fish.reading.state_of(landmark)
        if mine == "hidden" or known < 4:
            continue
        others = states["absent" if mine == "placed" else "placed"]
        if others >= ENOUGH_OF_BOX * known:
            has = "an" if fin[0] in "aeiou" else "a"
            text = f"no {fin}" if mine == "absent" else f"{has} {fin}"
            tail = "have one" if mine == "absent" else "have none"
            reasons.append(f"{text} ({others} of {known} {tail})")
    return tuple(reasons)


def _ratio_reasons(
    values: NDArray[np.float64], one: OddFish, middle: NDArray[np.float64], names: Sequence[str]
) -> tuple[str, ...]:
    """Ratios beyond two standard deviations, the farthest first; else one that goes with no other.

    A body that is deep for its head may be odd while neither is.
    """
    order = sorted(range(len(names)), key=lambda i: -abs(one.deviations[i]))
    texts = []
    for index in order:
        if abs(one.deviations[index]) < CLEAR_DEVIATION:
            continue
        share = abs(values[index] / middle[index] - 1.0)
        part, word = _part_and_word(names[index], one.deviations[index])
        texts.append(f"{part} {share:.0%} {word} than the rest".replace("%", " %"))
    if not texts and one.odd:
        index = max(range(len(names)), key=lambda i: abs(one.given_others[i]))
        part, word = _part_and_word(names[index], one.given_others[index])
        texts.append(f"{part} {word} than its other ratios let expect")
    return tuple(texts)


def _part_and_word(name: str, deviation: float) -> tuple[str, str]:
    part, more, less = CHARACTERS.get(name, (name, "more", "less"))
    return part, more if deviation > 0 else less


def _against_sentence(found: Sequence[object], known: int) -> str:
    return (
        f"{len(found)} fish compared with a reference box of {known} "
        "(one box in twenty alarms by chance)."
    )


def _notes(sentence: str, ranked: Sequence[OddOne], left_out: Sequence[BoxFish]) -> tuple[str, ...]:
    notes = [sentence]
    if any(one.kind for one in ranked):
        notes.append("A second kind may also be the other sex or another age: look at the photos.")
    if len(ranked) and sum(one.odd or bool(one.kind) for one in ranked) > len(ranked) / 3:
        notes.append(
            "More than a third stand apart: the box is mixed, or the marks differ; "
            "no majority can serve as the typical fish."
        )
    if left_out:
        notes.append(f"{len(left_out)} fish lack a ratio and were not compared.")
    return tuple(notes)
