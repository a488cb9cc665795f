"""Which side of the fish a photo shows, whichever way the fish is turned in it."""

from __future__ import annotations

from typing import Literal

from finmeasure.geometry import signed_offset
from finmeasure.reading import Reading

Side = Literal["left", "right", ""]
UPPER = (
    "dorsal_origin", "dorsal_end", "dorsal_tip", "second_dorsal_origin", "second_dorsal_end",
    "second_dorsal_tip", "adipose_origin", "adipose_tip", "body_top", "peduncle_top",
    "caudal_upper_insertion",
)  # fmt: skip
LOWER = (
    "anal_origin", "anal_end", "anal_tip", "pelvic_origin", "pelvic_tip", "body_bottom",
    "peduncle_bottom", "caudal_lower_insertion",
)  # fmt: skip
BEHIND = ("caudal_base", "caudal_fork", "operculum_end")


def side_of(reading: Reading) -> tuple[Side, tuple[str, ...]]:
    """Tell which side of the fish is seen, and which landmarks contradict it.

    A fish seen from its left, snout to the left and back up, stays a left side when the photo is
    turned by any angle; only a mirror makes it a right side.

    Parameters
    ----------
    reading : Reading
        Needs snout_tip, a landmark behind it (caudal_base; where that cannot be seen caudal_fork
        or operculum_end) and at least one landmark of the back or the belly.

    Returns
    -------
    side : {"left", "right", ""}
        Empty where it cannot be told.
    contradicting : tuple of str
        Landmarks of back or belly that lie on the wrong side of the body axis.
    """
    behind = next((name for name in BEHIND if reading.placed(name)), None)
    if behind is None or not reading.placed("snout_tip"):
        return "", ()
    start, end = reading.point("snout_tip"), reading.point(behind)
    if not (start != end).any():
        return "", ()
    signs = {name: 1.0 for name in UPPER} | {name: -1.0 for name in LOWER}
    offsets = {
        name: sign * signed_offset(reading.point(name), start, end)
        for name, sign in signs.items()
        if reading.placed(name)
    }
    total = sum(offsets.values())
    if not total:
        return "", ()
    # With y pointing down and the snout to the left, "up" is on the negative side of the axis.
    wrong = tuple(name for name, offset in offsets.items() if offset * total < 0)
    wrong = wrong if behind == "caudal_base" else ()
    return ("right" if total > 0 else "left"), wrong
