"""How results show themselves in a notebook: small HTML tables, and axes to draw on.

Nothing is measured here. matplotlib is loaded only when something is drawn.
"""

from __future__ import annotations

import html
from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from matplotlib.axes import Axes

BLUE, VERMILLION = "#0072B2", "#D55E00"
"""Two colours that colour-blind people can tell apart (Okabe & Ito 2008)."""


def html_table(caption: str, head: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Write a small HTML table; every text is escaped.

    Parameters
    ----------
    caption : str
        Line above the table.
    head : sequence of str
        Names of the columns.
    rows : sequence of sequence of str
        Cells.

    Returns
    -------
    str
        A ``<table>``.

    Examples
    --------
    >>> html_table("fish 7", ["measure"], [["a < b"]])  # doctest: +ELLIPSIS
    '<table><caption>fish 7</caption>...<td>a &lt; b</td>...'
    """
    first = _line("th", head)
    body = "".join(_line("td", row) for row in rows)
    return (
        f"<table><caption>{html.escape(caption)}</caption>"
        f"<thead>{first}</thead><tbody>{body}</tbody></table>"
    )


def axes_to_draw_on(axes: Axes | None) -> Axes:
    """Give the axes that were given, or those of a new figure."""
    if axes is not None:
        return axes
    from matplotlib import pyplot

    return pyplot.subplots(layout="constrained")[1]


def _line(cell: str, texts: Sequence[str]) -> str:
    return "<tr>" + "".join(f"<{cell}>{html.escape(text)}</{cell}>" for text in texts) + "</tr>"
