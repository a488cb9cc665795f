"""One measured quantity, as every table and screen shows it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

MeasureState = Literal["measured", "absent", "hidden", "refused"]


@dataclass(frozen=True, slots=True)
class Measure:
    """A quantity derived from one reading.

    Parameters
    ----------
    id : str
        Id of the measure, e.g. ``"standard_length"``.
    unit : str
        ``"mm"``, ``"mm2"``, ``"%"`` or ``"1"``.
    state : {"measured", "absent", "hidden", "refused"}
        ``absent``: the fish has no such part; ``hidden``: it cannot be seen; ``refused``: the
        photo or reading cannot give it, and the flags or the reason say why.
    value : float, optional
        In `unit`; given only if measured.
    u : float, optional
        Standard uncertainty (k = 1) in `unit`.
    flags : tuple of str
        Ids of :data:`finmeasure.flags.FLAGS`.
    reason : str
        Plain words: why it is refused, or which landmarks are absent or hidden.
    """

    id: str
    unit: str
    state: MeasureState
    value: float | None = None
    u: float | None = None
    flags: tuple[str, ...] = ()
    reason: str = ""
