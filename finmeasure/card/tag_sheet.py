"""Write number labels ("tags") for bags, tanks and fish as a vector PDF."""

from __future__ import annotations

from pathlib import Path

from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from finmeasure.card.pages import FONT, cut_line, saved, text_below
from finmeasure.card_design import PAPER_MM
from finmeasure.errors import ScaleError
from finmeasure.tag_design import (
    BLOCK_MM,
    LARGEST_NUMBER,
    MARKER_MM,
    PITCH_MM,
    TAG_MM,
    tag_rectangles,
)

PAPERS = ("A4", "A5", "A6", "letter")
MARGIN_MM = 6.0
TEXT_MM = 26.0  # kept free at the foot of the page
NUMBER_POINTS = 30.0
HOW_TO = (
    "<b>Print</b> on waterproof paper, or laminate matt. Write the name on the line if you like. "
    "<b>A bag or tank:</b> photograph its tag by itself, then its fish: the tag opens their group. "
    "<b>One fish:</b> put its tag beside the card, facing the camera: the tag names the fish. "
    "Then <font face='Courier'>finmeasure measure --tags</font>. Each number once per study.",
)


def tags_on(paper: str) -> tuple[int, int]:
    """Columns and rows of tags on a paper.

    Raises
    ------
    ScaleError
        If tags are not made for this paper.

    Examples
    --------
    >>> tags_on("A4")
    (6, 6)
    """
    if paper not in PAPERS:
        message = f"Tags are not made for {paper}. Allowed: {', '.join(PAPERS)}."
        raise ScaleError(message)
    width, height = PAPER_MM[paper]
    columns = int((width - 2 * MARGIN_MM) // TAG_MM[0])
    return columns, int((height - MARGIN_MM - TEXT_MM) // TAG_MM[1])


def write_tags(path: Path | str, paper: str = "A4", *, first: int = 1) -> tuple[int, int]:
    """Write a page of tags with numbers in a row.

    Parameters
    ----------
    path : path-like
        The PDF to write; its folder must exist.
    paper : {"A4", "A5", "A6", "letter"}
        Paper to print on.
    first : int
        Number of the first tag, 1 to 999.

    Returns
    -------
    tuple of int
        First and last number.

    Raises
    ------
    ScaleError
        If there is no such sheet, or the file cannot be written.
    """
    columns, rows = tags_on(paper)
    if not 1 <= first <= LARGEST_NUMBER:
        message = f"Tags cannot begin at {first}. Allowed: 1 to {LARGEST_NUMBER}."
        raise ScaleError(message)
    last = min(first + columns * rows - 1, LARGEST_NUMBER)
    width, height = PAPER_MM[paper]
    canvas = Canvas(str(path), pagesize=(width * mm, height * mm), invariant=True)
    canvas.setTitle(f"finmeasure tags {first} to {last}")
    left = (width - columns * TAG_MM[0]) / 2
    for number in range(first, last + 1):
        row, column = divmod(number - first, columns)
        _draw_tag(canvas, left + column * TAG_MM[0], height - MARGIN_MM - row * TAG_MM[1], number)
    text_below(canvas, left, TEXT_MM - 2, width - 2 * left, texts=HOW_TO)
    saved(canvas, path)
    return first, last


def _draw_tag(canvas: Canvas, left: float, top: float, number: int) -> None:
    """Draw one tag, its upper left corner in mm from the page's lower left one."""
    wide, high = TAG_MM
    path = canvas.beginPath()
    for part in tag_rectangles(number):
        path.rect(
            (left + part.left) * mm,
            (top - part.bottom) * mm,
            (part.right - part.left) * mm,
            (part.bottom - part.top) * mm,
        )
    canvas.setFillGray(0)
    canvas.drawPath(path, stroke=0, fill=1)
    block = BLOCK_MM[0] + PITCH_MM + MARKER_MM
    middle = (left + (block + wide) / 2) * mm
    canvas.setFont(f"{FONT}-Bold", NUMBER_POINTS)
    canvas.drawCentredString(middle, (top - 0.55 * high) * mm, str(number))
    canvas.setLineWidth(0.2 * mm)
    canvas.setStrokeGray(0.3)
    foot = (top - high + 5) * mm
    canvas.line((left + block + 3) * mm, foot, (left + wide - 3) * mm, foot)
    cut_line(canvas, left, top - high, wide, high)
