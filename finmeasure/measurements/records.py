"""All measures of one reading."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import TYPE_CHECKING

from finmeasure.fins.records import FinEdge
from finmeasure.measurements.definitions import MEASURES
from finmeasure.measurements.orientation import Side
from finmeasure.notebook import BLUE, axes_to_draw_on, html_table
from finmeasure.quantity import Measure

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.axes import Axes


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

    def measured(self) -> tuple[Measure, ...]:
        """Give the rows that have a value."""
        return tuple(row for row in self.rows if row.state == "measured")

    def to_frame(self) -> pd.DataFrame:
        """Give all rows as a data frame.

        Returns
        -------
        pandas.DataFrame
            Index: id of the measure. Columns: shown, value, u, unit, state, flags, reason; u is
            the standard uncertainty (k = 1) in the unit of the value.
        """
        import pandas as pd

        cells = [
            (row.id, MEASURES[row.id].shown, row.value, row.u, row.unit, row.state,
             ";".join(row.flags), row.reason)
            for row in self.rows
        ]  # fmt: skip
        names = ["measure", "shown", "value", "u", "unit", "state", "flags", "reason"]
        return pd.DataFrame(cells, columns=names).set_index("measure")

    def plot(self, axes: Axes | None = None) -> Axes:
        """Draw the measured ratios to standard length with their 95 % limits.

        Parameters
        ----------
        axes : matplotlib.axes.Axes, optional
            Where to draw; a new figure if None.

        Returns
        -------
        matplotlib.axes.Axes
            Value to the right, one line for each ratio.
        """
        axes = axes_to_draw_on(axes)
        rows = [row for row in self.measured() if row.id.endswith("_to_sl")][::-1]
        values = [row.value or 0.0 for row in rows]
        limits = [1.96 * (row.u or 0.0) for row in rows]
        axes.errorbar(values, range(len(rows)), xerr=limits, fmt="o", color=BLUE, capsize=3)
        labels = [MEASURES[row.id].shown.removesuffix(" / standard length") for row in rows]
        axes.set_yticks(range(len(rows)), labels=labels)
        axes.set_xlabel("share of standard length, ± 1.96 u")
        return axes

    def _repr_html_(self) -> str:
        """Show what was measured, and say what was not."""
        rows = [
            (MEASURES[row.id].shown, f"{row.value:.4g}", f"{row.u:.2g}" if row.u else "",
             row.unit, ", ".join(row.flags).replace("_", " "))
            for row in self.measured()
        ]  # fmt: skip
        other = len(self.rows) - len(rows)
        caption = f"{len(rows)} measured, {other} absent, hidden or refused; u is k = 1"
        return html_table(caption, ("measure", "value", "u", "unit", "flags"), rows)
