"""Write our own ruler as a vector PDF in exact millimetres."""

from __future__ import annotations

from pathlib import Path

from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from finmeasure.card.pages import FONT, cut_line, saved, text_below
from finmeasure.card_design import PAPER_MM
from finmeasure.errors import ScaleError

PAPERS = ("A4", "A5", "A6", "letter")
MARGIN_MM = 8.0
END_MM = 6.0  # of the strip beyond the first and last tick
HEIGHT_MM = 24.0
TICKS_MM = {10: 8.0, 5: 6.0, 1: 4.0}  # length of a tick, by what its millimetres divide by
TICK_WIDTH_MM = 0.2
COPIES = 2


def ruler_length_mm(paper: str) -> int:
    """Millimetres that the ruler on a paper has: whole centimetres.

    Raises
    ------
    ScaleError
        If no ruler is made for this paper.

    Examples
    --------
    >>> ruler_length_mm("A4"), ruler_length_mm("A6")
    (260, 120)
    """
    if paper not in PAPERS:
        message = f"A ruler is not made for {paper}. Allowed: {', '.join(PAPERS)}."
        raise ScaleError(message)
    return int((PAPER_MM[paper][0] - 2 * (MARGIN_MM + END_MM)) // 10) * 10


def write_ruler(path: Path | str, paper: str = "A4") -> int:
    """Write a page with two rulers to cut out.

    Parameters
    ----------
    path : path-like
        The PDF to write; its folder must exist.
    paper : {"A4", "A5", "A6", "letter"}
        Paper to print on.

    Returns
    -------
    int
        Length of the ruler, mm.

    Raises
    ------
    ScaleError
        If there is no such ruler, or the file cannot be written.
    """
    length_mm = ruler_length_mm(paper)
    width, height = PAPER_MM[paper]
    canvas = Canvas(str(path), pagesize=(width * mm, height * mm), invariant=True)
    canvas.setTitle(f"finmeasure ruler {paper}, {length_mm} mm")
    left = (width - length_mm) / 2
    for copy in range(COPIES):
        _draw_ruler(canvas, left, height - MARGIN_MM - copy * (HEIGHT_MM + 4), length_mm)
    below = height - MARGIN_MM - COPIES * (HEIGHT_MM + 4)
    text_below(canvas, MARGIN_MM, below, width - 2 * MARGIN_MM, texts=_how_to(length_mm))
    saved(canvas, path)
    return length_mm


def _draw_ruler(canvas: Canvas, left: float, top: float, length_mm: int) -> None:
    """Draw one ruler; left is the place of 0, top the edge that the ticks hang from."""
    canvas.setStrokeGray(0)
    canvas.setFillGray(0)
    canvas.setFont(FONT, 9)
    canvas.setLineWidth(TICK_WIDTH_MM * mm)
    for number in range(length_mm + 1):
        long = next(tall for divides, tall in TICKS_MM.items() if number % divides == 0)
        x = (left + number) * mm
        canvas.line(x, top * mm, x, (top - long) * mm)
        if number % 10 == 0:
            canvas.drawCentredString(x, (top - TICKS_MM[10] - 4) * mm, str(number))
    canvas.setFont(FONT, 7)
    canvas.drawString((left + 2) * mm, (top - HEIGHT_MM + 3) * mm, "millimetres · finmeasure")
    cut_line(canvas, left - END_MM, top - HEIGHT_MM, length_mm + 2 * END_MM, HEIGHT_MM)


def _how_to(length_mm: int) -> tuple[str, ...]:
    known = min(100, length_mm)
    return (
        "<b>1 Print</b> at 100 % on matt paper, not “fit to page”. Measure with a caliper from "
        f"the tick of 0 to the tick of {known}: {known} mm when all is right. Do not use a ruler "
        "that is more than 0.2 mm off. Cut along the dashed line; laminate it matt for water.",
        "<b>2 Place</b> it in the plane of the fish, straight and level, beside the fish and not "
        "before or behind it. Our printed card is better: it also takes out tilt and lens.",
        "<b>3 Measure</b> with <font face='Courier'>finmeasure measure --tick-mm 1</font>, which "
        "looks for the ruler, or click near both ends of its ticks in the window.",
    )
