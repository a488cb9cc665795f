"""Which photos of two visits may show one fish, why, and both as level pictures."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from itertools import combinations
from pathlib import Path
from typing import TYPE_CHECKING

import cv2
import numpy as np
from numpy.typing import NDArray

from finmeasure.errors import FinmeasureError, NotFound
from finmeasure.fins.records import MEDIAN_FINS
from finmeasure.measurements.orientation import side_of
from finmeasure.photo.reading import read_photo
from finmeasure.quantity import Measure
from finmeasure.report.change_pairs import FishPair, SeenFish, answers
from finmeasure.report.condition_box import measures_by_fish
from finmeasure.timeseries.same_fish import (
    FEW_PAIRS,
    FlankView,
    LikelyPair,
    flank_view,
    likely_pairs,
)

if TYPE_CHECKING:
    from finmeasure.study.records import StoredReading
    from finmeasure.study.store import Study

#: Place of the standard length in a picture: shares of its width at snout and tail base.
SNOUT_AT, TAIL_BASE_AT = 0.06, 0.74
Pixels = NDArray[np.uint8]
Looked = tuple[SeenFish, FlankView]


def seen_fish(study: Study) -> tuple[SeenFish, ...]:
    """Give the fish that could be found again: confirmed, dated, in groups with nameless fish.

    Parameters
    ----------
    study : Study
        Open.

    Returns
    -------
    tuple of SeenFish
        By group and day; none where every fish has a name, or where a group has one visit.
    """
    files = {name: photo.file for name, photo in study.recorded_photos().items()}
    found: dict[str, list[SeenFish]] = {}
    for one in study.current_readings():
        file = files.get(one.photo)
        if one.confirmed and one.visit is not None and file is not None:
            found.setdefault(one.group, []).append(_seen(one, one.visit, file))
    return tuple(
        fish
        for _, part in sorted(found.items())
        if not all(one.name for one in part) and len({one.visit for one in part}) > 1
        for fish in sorted(part, key=lambda one: (one.visit, one.photo, one.number))
    )


def _seen(one: StoredReading, visit: date, file: Path) -> SeenFish:
    name = "" if one.reading.fish.isdecimal() else one.reading.fish
    return SeenFish(one.photo, one.number, name, one.group, visit, file, one.reading)


def flank_of(fish: SeenFish) -> FlankView | NotFound:
    """Cut a fish's flank out of its photo; NotFound where photo or marks do not give it."""
    try:
        pixels = read_photo(fish.file).pixels
    except (FinmeasureError, OSError) as error:
        return NotFound(f"{fish.photo} cannot be read: {error}", "Put the file back in its place.")
    return flank_view(fish.photo, pixels, fish.reading)


def pairs_to_look_at(study: Study, seen: Sequence[Looked]) -> tuple[FishPair, ...]:
    """Find the pairs that a person should look at.

    Parameters
    ----------
    study : Study
        Open; tells what was decided and measured.
    seen : sequence of (SeenFish, FlankView)
        Fish of :func:`seen_fish` with their flanks.

    Returns
    -------
    tuple of FishPair
        Most alike first; those that a person was not sure of last. Left out: pairs whose fish both
        have names, and those that were answered.
    """
    answered = answers(study)
    measures = measures_by_fish(study, {fish.photo for fish, _ in seen})
    found = []
    for earlier, later in _visit_pairs(seen):
        every = likely_pairs([view for _, view in earlier], [view for _, view in later])
        owners = {id(view): fish for fish, view in (*earlier, *later)}
        for pair in (one for one in every if one.suggested):
            fish = owners[id(pair.earlier)], owners[id(pair.later)]
            said = answered.get(frozenset(one.place for one in fish))
            if said in ("same", "different") or all(one.name for one in fish):
                continue
            known = [measures.get((one.photo, one.reading.fish), {}) for one in fish]
            reasons = (_flank_words(pair, len(every)), *_measured_words(*known))
            found.append(FishPair(*fish, pair.likeness, reasons, said == "not sure"))
    return tuple(sorted(found, key=lambda one: (one.unsure, -one.likeness)))


def _visit_pairs(
    seen: Sequence[Looked],
) -> Iterable[tuple[list[Looked], list[Looked]]]:
    """Give the fish of every two visits of a group; each fish and side once per visit."""
    visits: dict[tuple[str, date], dict[tuple[object, ...], Looked]] = {}
    for fish, view in seen:
        who = (fish.name,) if fish.name else fish.place
        visits.setdefault((fish.group, fish.visit), {}).setdefault((who, view.side), (fish, view))
    for first, second in combinations(sorted(visits), 2):
        if first[0] == second[0]:
            yield list(visits[first].values()), list(visits[second].values())


def _flank_words(pair: LikelyPair, count: int) -> str:
    """Say how alike the flanks are."""
    alike = f"The pattern of the {pair.earlier.side} flank agrees to {100 * pair.likeness:.0f} %."
    if count < FEW_PAIRS:
        return f"{alike} There are too few fish to see how alike strangers are: look closely."
    return f"{alike} Each is the other's best match, and strangers here are hardly ever so alike."


def _measured_words(first: Mapping[str, Measure], later: Mapping[str, Measure]) -> Iterable[str]:
    """Say what notches and lengths say."""
    notched = []
    for fin in MEDIAN_FINS:
        counts = [_value(part, f"{fin}_notch_count") for part in (first, later)]
        if None not in counts and any(counts):
            notched.append(f"{fin.replace('_', ' ')} {counts[0]:.0f}, then {counts[1]:.0f}")
    if notched:
        yield f"Notches: {'; '.join(notched)}. Notches heal, and new ones come."
    lengths = [_value(part, "standard_length") for part in (first, later)]
    if lengths[0] is not None and lengths[1] is not None:
        yield f"Length without tail: {lengths[0]:.1f} mm, then {lengths[1]:.1f} mm." + (
            " Fish do not shrink." if lengths[1] < 0.97 * lengths[0] else ""
        )


def _value(measures: Mapping[str, Measure], name: str) -> float | None:
    found = measures.get(name)
    return found.value if found is not None and found.state == "measured" else None


def level_picture(fish: SeenFish, size_px: tuple[int, int]) -> Pixels:
    """Give a fish level, with snout and tail base at the same places as every other's.

    Parameters
    ----------
    fish : SeenFish
        Turned and resized, never mirrored: its flank looks as it is.
    size_px : tuple of int
        Width and height of the picture.

    Returns
    -------
    ndarray of shape (height, width, 3), uint8
        RGB; empty, (0, 0, 3), where the photo cannot be read or the fish has no ends marked.
    """
    if not fish.reading.placed("snout_tip", "caudal_base"):
        return np.empty((0, 0, 3), np.uint8)
    try:
        pixels = read_photo(fish.file).pixels
    except (FinmeasureError, OSError):
        return np.empty((0, 0, 3), np.uint8)
    ends = np.stack([fish.reading.point(name) for name in ("snout_tip", "caudal_base")])
    across = [SNOUT_AT * size_px[0], TAIL_BASE_AT * size_px[0]]
    if side_of(fish.reading)[0] == "right":
        across = [size_px[0] - 1 - x for x in across]
    wanted = np.column_stack([across, [0.5 * size_px[1]] * 2])
    matrix = _similarity(ends, wanted)
    shrink = float(np.hypot(*matrix[:, 0]))
    if shrink < 1.0:
        # What is made smaller is smoothed first, else fine patterns turn into false ones.
        pixels = np.asarray(cv2.GaussianBlur(pixels, (0, 0), 0.4 / shrink), np.uint8)
    return np.asarray(
        cv2.warpAffine(pixels, matrix, size_px, flags=cv2.INTER_CUBIC,
                       borderMode=cv2.BORDER_REPLICATE), np.uint8
    )  # fmt: skip


def _similarity(points: NDArray[np.float64], wanted: NDArray[np.float64]) -> NDArray[np.float64]:
    """Turn, resize and shift two points to two places; shape (2, 3)."""
    (start, stop), (first, last) = points @ (1.0, 1.0j), wanted @ (1.0, 1.0j)
    turn = (last - first) / (stop - start)
    shift = first - turn * start
    return np.array([[turn.real, -turn.imag, shift.real], [turn.imag, turn.real, shift.imag]])
