"""All measures of one reading."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from finmeasure.fins.records import FinEdge
from finmeasure.measurements.orientation import Side
from finmeasure.quantity import Measure


@dataclass(frozen=True, slots=True, eq=False)
class Measures:
    """What one reading gives.

    Parameters
    ----------
    rows : tuple of Measure
        In the order of :data:`finmeasure.measurements.definitions.MEASURES`.
    side : {"left", "right", ""}
        Side of the fish that is seen; empty where it cannot be told.
    fins : mapping of str to FinEdge
        Edge of each traced median fin, for pictures.
    notes : tuple of str
        What a person should look at, one sentence each.
    """

    rows: tuple[Measure, ...]
    side: Side = ""
    fins: Mapping[str, FinEdge] = field(default_factory=lambda: MappingProxyType({}))
    notes: tuple[str, ...] = ()

    @property
    def by_id(self) -> dict[str, Measure]:
        """The measures by their id."""
        return {row.id: row for row in self.rows}
