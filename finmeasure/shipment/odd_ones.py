"""Fish of a box that do not look like the rest, with a false-alarm rate that is held."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import stats
from scipy.cluster.hierarchy import fcluster, linkage
from sklearn.metrics import silhouette_score

from finmeasure.shipment.chances import (
    leave_one_out_t_given_others,
    leave_one_out_t_squared,
    most_unusual,
)

FALSE_ALARMS_PER_BOX = 0.05
FISH_FOR_VERDICT = 20
CHARACTERS_AT_MOST = 4
STRAYS_AT_MOST = 0.2
STEPS_ROOM = 0.9
"""The steps after the first add about a tenth to the false alarms (docs/method/shipment.md)."""
REFERENCE_ALONE = 0.2
"""Share of the false alarms for the look at the reference box without the box's own fish."""
CLUSTER_SHARE = 0.04
CLUSTER_GAP = 0.55
Table = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class OddFish:
    """One fish and how far it stands from the rest.

    Parameters
    ----------
    row : int
        Row of the table.
    t_squared : float
        Hotelling's T² of the fish against all others.
    odd : bool
        Whether it passes the cut; never true below 20 fish.
    deviations : tuple of float
        Per character: distance from the mean of the others in their standard deviations.
    given_others : tuple of float
        Of an odd fish, per character: Student's t against what its other characters let expect.
    """

    row: int
    t_squared: float
    odd: bool
    deviations: tuple[float, ...]
    given_others: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class BoxVerdict:
    """What was found in a box.

    Parameters
    ----------
    fish : tuple of OddFish
        The most unusual first.
    kinds : tuple of int
        Cluster of each row: 0 for the main kind, 1, 2 … for other kinds in numbers.
    sentence : str
        In words.
    """

    fish: tuple[OddFish, ...]
    kinds: tuple[int, ...]
    sentence: str


def find_odd(values: ArrayLike, *, tests: int = 1) -> BoxVerdict:
    """Find fish unlike the rest, one after another, then whole groups that are alike.

    Parameters
    ----------
    values : array_like of shape (N, P)
        At most four characters (standardised ratios or shape scores), no gaps.
    tests : int
        How many such tables the box is judged by; they share the false alarms.

    Returns
    -------
    BoxVerdict
        Below 20 fish a ranking without a verdict.

    Raises
    ------
    ValueError
        If there are more than four characters or fewer than P + 4 fish.
    """
    table = np.asarray(values, float)
    count, characters = table.shape
    if characters > CHARACTERS_AT_MOST or count < characters + 4:
        message = (
            f"{count} fish with {characters} characters were given. Allowed: up to "
            f"{CHARACTERS_AT_MOST} characters and at least {characters + 4} fish. "
            "Choose fewer ratios or photograph more fish."
        )
        raise ValueError(message)
    kinds = _kinds(table) if count >= FISH_FOR_VERDICT else np.zeros(count, int)
    odd = _stepwise(table, kinds, tests) if count >= FISH_FOR_VERDICT else frozenset()
    main = [row for row in range(count) if row not in odd and kinds[row] == 0]
    ranked = tuple(sorted(_described(table, main, odd), key=lambda one: -one.t_squared))
    return BoxVerdict(ranked, tuple(int(kind) for kind in kinds), _sentence(count, odd, kinds))


def _stepwise(table: Table, kinds: NDArray[np.int_], tests: int) -> frozenset[int]:
    """Take out the most unusual fish of the main kind one by one; the last that passes counts.

    Two strays alike hide each other: neither passes while the other is among the rest. So fish are
    taken out further, up to a fifth of the box, and those up to the last one that passes are odd
    (Rosner 1983, Technometrics 25:165-172; Caroni & Prescott 1992, Appl. Statist. 41:355-364 for
    several characters; both from memory, false alarms checked in docs/method/shipment.md).
    """
    rows = [row for row in range(len(table)) if kinds[row] == 0]
    taken: list[int] = []
    passed = 0
    at_most = int(STRAYS_AT_MOST * len(rows))
    level = STEPS_ROOM * FALSE_ALARMS_PER_BOX / tests
    while len(taken) < at_most and len(rows) > table.shape[1] + 4:
        worst, passes = most_unusual(table[rows], range(len(rows)), level / len(rows))
        taken.append(rows.pop(worst))
        passed = len(taken) if passes else passed
    return frozenset(taken[:passed])


def _kinds(table: Table) -> NDArray[np.int_]:
    """Clusters of several fish that stand clear of the main kind, which is number 0."""
    spread = stats.median_abs_deviation(table, axis=0, scale="normal")
    centred = (table - np.median(table, axis=0)) / np.where(spread > 0, spread, 1.0)
    # Along a single character three fish of a tail look like a cluster in four boxes of ten.
    if table.shape[1] < 2 or not np.ptp(centred):
        return np.zeros(len(table), int)
    labels = fcluster(linkage(centred, "average"), 2, "maxclust") - 1
    sizes = np.bincount(labels)
    smallest = max(3, round(CLUSTER_SHARE * len(table)))
    if len(sizes) < 2 or sizes.min() < smallest or silhouette_score(centred, labels) < CLUSTER_GAP:
        return np.zeros(len(table), int)
    return np.asarray(labels != int(np.argmax(sizes)), dtype=int)


def _described(table: Table, main: Sequence[int], odd: frozenset[int]) -> list[OddFish]:
    """Distance of each fish from the other fish of the main kind."""
    known = table[list(main)]
    count = len(known)
    away = table - known.mean(axis=0)
    inverse = np.linalg.pinv(np.atleast_2d(np.cov(known.T)))
    t_squared = np.einsum("ij,jk,ik->i", away, inverse, away) * count / (count + 1)
    t_squared[list(main)] = leave_one_out_t_squared(known)
    spread = np.broadcast_to(known.std(axis=0, ddof=1), table.shape).copy()
    squares = ((known - known.mean(axis=0)) ** 2).sum(axis=0)
    mine = away[list(main)]
    left = np.maximum(squares - mine**2 * count / (count - 1), 0.0)
    spread[list(main)] = np.sqrt(left / (count - 2))
    away[list(main)] = mine * count / (count - 1)  # against the mean of the others
    deviations = away / np.maximum(spread, 1e-12)
    return _told(t_squared, deviations, odd, table, known)


def _told(
    t_squared: Table, deviations: Table, odd: Collection[int], table: Table, known: Table
) -> list[OddFish]:
    """Make the records; odd fish are not among the known ones."""
    return [
        OddFish(
            row, float(distance), row in odd, tuple(deviations[row]),
            _given_others(known, table[row]) if row in odd else (),
        )
        for row, distance in enumerate(t_squared)
    ]  # fmt: skip


def _given_others(known: Table, values: Table) -> tuple[float, ...]:
    return tuple(leave_one_out_t_given_others(np.vstack([known, values]))[-1])


def _sentence(count: int, odd: frozenset[int], kinds: NDArray[np.int_]) -> str:
    """Say in words what was found."""
    if count < FISH_FOR_VERDICT:
        return (
            f"{count} fish: too few for a verdict (20 are needed). The most unusual come first; "
            "look at them yourself."
        )
    other = int((kinds > 0).sum())
    parts = []
    if other:
        parts.append(f"{other} fish look like a second kind, not like single strays")
    if odd:
        parts.append(f"{len(odd)} fish stand apart from the rest")
    if not parts:
        return f"None of {count} fish stands apart (one box in twenty alarms by chance)."
    return " and ".join(parts) + f", of {count} (one box in twenty alarms by chance)."


def find_odd_against(values: ArrayLike, reference: ArrayLike) -> tuple[OddFish, ...]:
    """Find fish of a box unlike a reference box that is known to be all of one kind.

    Each fish is first compared with the reference alone, with a fifth of the false alarms; so a box
    that is all of another kind is seen. What passes is then compared, one after another, with the
    reference and the rest of the box together, because more fish give a surer spread.

    Parameters
    ----------
    values, reference : array_like of shape (N, P) and (M, P)
        The same characters of the box and of the reference, no gaps.

    Returns
    -------
    tuple of OddFish
        The most unusual first. One box of equal fish in twenty alarms (Bonferroni over N).

    Raises
    ------
    ValueError
        If the reference has fewer than twenty fish.
    """
    table, known = np.asarray(values, float), np.asarray(reference, float)
    count = len(known)
    if count < FISH_FOR_VERDICT:
        message = (
            f"The reference box has {count} fish with all characters; {FISH_FOR_VERDICT} are "
            "needed. Choose another reference, or sort the box without one."
        )
        raise ValueError(message)
    away = table - known.mean(axis=0)
    inverse = np.linalg.pinv(np.atleast_2d(np.cov(known.T)))
    t_squared = np.einsum("ij,jk,ik->i", away, inverse, away) * count / (count + 1)
    odd = _unlike_reference(table, known, t_squared)
    odd |= _unlike_both(table, known, [row for row in range(len(table)) if row not in odd])
    deviations = away / np.maximum(known.std(axis=0, ddof=1), 1e-12)
    fish = _told(t_squared, deviations, odd, table, known)
    return tuple(sorted(fish, key=lambda one: -one.t_squared))


def _unlike_reference(table: Table, known: Table, t_squared: Table) -> set[int]:
    """Rows unlike the reference box alone."""
    limit = REFERENCE_ALONE * FALSE_ALARMS_PER_BOX / len(table)
    # No single t² is larger than T², so a fish beyond no limit by that bound needs no closer look.
    near = stats.t.sf(np.sqrt(t_squared), len(known) - 1) >= limit
    return {
        row
        for row in np.flatnonzero(~near).tolist()
        if most_unusual(np.vstack([known, table[row]]), [len(known)], limit)[1]
    }


def _unlike_both(table: Table, known: Table, rows: list[int]) -> set[int]:
    """Rows unlike the reference and the rest of the box; up to a fifth, to the last that passes."""
    share = (1.0 - REFERENCE_ALONE) * STEPS_ROOM * FALSE_ALARMS_PER_BOX
    taken: list[int] = []
    passed = 0
    for _ in range(int(STRAYS_AT_MOST * len(rows))):
        together = np.vstack([known, table[rows]])
        among = range(len(known), len(together))
        worst, passes = most_unusual(together, among, share / len(rows))
        taken.append(rows.pop(worst - len(known)))
        passed = len(taken) if passes else passed
    return set(taken[:passed])
