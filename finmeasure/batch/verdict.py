"""Whether a photo is worth keeping, told while the fish is still before the camera."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from finmeasure.fins.edge import LEAST_VISIBLE, edge_sight
from finmeasure.quantity import Measure
from finmeasure.reading import Reading
from finmeasure.study.records import FishResult, PhotoResult

#: A tail fin is folded where its tips lie nearer together than both: shares of the tail fin's
#: length and of the depth of the peduncle. On twelve drawn fish a tail nine tenths folded had at
#: most 0.82 and 2.02, one three tenths folded at least 1.08 and 2.75.
FOLDED_TO_LENGTH, FOLDED_TO_PEDUNCLE = 0.9, 2.1
#: Standard deviation of the blur of fin edges, share of standard length, beyond which notches of
#: a few per cent of a fin's length are smeared out.
MOST_BLUR = 0.006
_LENGTH = re.compile(r"The (?P<fin>[\w ]+) fin is (?P<px>\d+) px long")


@dataclass(frozen=True, slots=True)
class Verdict:
    """What to do with a photo.

    Parameters
    ----------
    keep : bool
        Whether the photo is good enough.
    reason : str
        The one reason to take it again; a remark, or empty, where it is kept.
    remedy : str
        What to do about it.
    """

    keep: bool
    reason: str = ""
    remedy: str = ""


def judge(
    result: PhotoResult, gray: NDArray[np.uint8] | None = None, *, scale_wanted: bool = True
) -> Verdict:
    """Judge a photo by what could be measured in it.

    Parameters
    ----------
    result : PhotoResult
        Of the photo, measured.
    gray : ndarray of shape (H, W), uint8, optional
        The photo; without it blur is not judged.
    scale_wanted : bool
        False where the fish is seen through a bag and only ratios are wanted.

    Returns
    -------
    Verdict
        With the first reason in the order: no fish as it must be, no card, blurred, tail folded,
        too far.
    """
    if result.state == "refused":
        return Verdict(False, *_split(result.reason))
    if scale_wanted and result.scale is None:
        return Verdict(False, *_split(result.scale_reason))
    for fish in result.fish:
        for verdict in _complaints(fish, gray):
            return verdict
    return Verdict(True, _remark(result))


def _complaints(fish: FishResult, gray: NDArray[np.uint8] | None) -> Iterator[Verdict]:
    """Say what is wrong with one fish, the gravest first."""
    if gray is not None and (blur := blur_share(fish.reading, gray)) > MOST_BLUR:
        yield Verdict(
            False,
            f"Blurred: edges are smeared over {100 * blur:.1f} % of the fish's length "
            f"(most {100 * MOST_BLUR:g} %).",
            "Hold the camera still, tap on the fish to focus, more light.",
        )
    if is_tail_folded(fish.reading):
        yield Verdict(False, "The tail is folded.", "Wait until the fish spreads its tail fin.")
    lengths = _too_short(fish.measures)
    if lengths and not _some_fin_is_measured(fish.measures):
        fin, length = max(lengths.items(), key=lambda item: item[1])
        yield Verdict(
            False,
            f"Too far: the {fin} fin gets {length} px (least 80 px).",
            "Go nearer, zoom in or use a smaller card.",
        )


def is_tail_folded(reading: Reading) -> bool:
    """Tell whether the tips of the tail fin lie so near together that it cannot be open."""
    needed = ("caudal_upper_tip", "caudal_lower_tip", "caudal_base", "peduncle_top",
              "peduncle_bottom")  # fmt: skip
    if not reading.placed(*needed):
        return False
    upper, lower, base, top, bottom = (reading.point(name) for name in needed)
    span = math.dist(upper, lower)
    length = max(math.dist(base, upper), math.dist(base, lower))
    return span < FOLDED_TO_LENGTH * length and span < FOLDED_TO_PEDUNCLE * math.dist(top, bottom)


def blur_share(reading: Reading, gray: NDArray[np.uint8]) -> float:
    """Blur across the sharpest outline of a fish: standard deviation, share of standard length.

    The sharpest one counts, because clear and torn fins have soft edges in sharp photos too.
    Gives 0 where no edge is seen well enough to tell.
    """
    if not reading.placed("snout_tip", "caudal_base"):
        return 0.0
    length = math.dist(reading.point("snout_tip"), reading.point("caudal_base"))
    sights = [edge_sight(gray, line.points_px) for line in reading.outlines.values()]
    seen = [sight.blur_px for sight in sights if sight.visible >= LEAST_VISIBLE]
    return min(seen, default=0.0) / max(length, 1.0)


def _too_short(measures: tuple[Measure, ...]) -> dict[str, int]:
    """Fins with too few pixels for edge figures, with their lengths in pixels."""
    told = (_LENGTH.search(row.reason) for row in measures if "low_resolution" in row.flags)
    return {found["fin"]: int(found["px"]) for found in told if found}


def _some_fin_is_measured(measures: tuple[Measure, ...]) -> bool:
    return any(row.id.endswith("_notch_area") and row.state == "measured" for row in measures)


def _remark(result: PhotoResult) -> str:
    """Say which fins are too small though the photo is kept."""
    short = {name: px for fish in result.fish for name, px in _too_short(fish.measures).items()}
    if not short:
        return ""
    named = ", ".join(f"{fin} fin {length} px" for fin, length in sorted(short.items()))
    return f"No edge figures for: {named} (least 80 px)."


def _split(text: str) -> tuple[str, str]:
    """Part one reason from its remedy: the remedy is the last sentence."""
    sentences = re.split(r"(?<=[.!?]) (?=[A-Z])", text.strip())
    if len(sentences) < 2:
        return text.strip(), ""
    return " ".join(sentences[:-1]), sentences[-1]
