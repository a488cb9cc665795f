"""What the sheets of rulers and tags share: cut lines, a text below, saving."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Paragraph

from finmeasure.errors import ScaleError

FONT = "Helvetica"
CUT_WIDTH_MM = 0.2
SIZES = (10.0, 9.0, 8.0, 7.0, 6.0)  # of the letters, in points


def cut_line(canvas: Canvas, left: float, bottom: float, width: float, height: float) -> None:
    """Draw where to cut, mm from the page's lower left corner."""
    canvas.saveState()
    canvas.setStrokeGray(0.45)
    canvas.setLineWidth(CUT_WIDTH_MM * mm)
    canvas.setDash(2 * mm, 1 * mm)
    canvas.rect(left * mm, bottom * mm, width * mm, height * mm, stroke=1, fill=0)
    canvas.restoreState()


def text_below(
    canvas: Canvas, left: float, top: float, width: float, *, texts: Sequence[str]
) -> float:
    """Write paragraphs below a height, in the largest letters that fit; give the height left, mm.

    Raises
    ------
    ScaleError
        If the text does not fit in the smallest letters.
    """
    for size in SIZES:
        style = ParagraphStyle("body", fontName=FONT, fontSize=size, leading=1.25 * size)
        parts = [Paragraph(text, style) for text in texts]
        heights = [part.wrap(width * mm, top * mm)[1] / mm + 1 for part in parts]
        if sum(heights) <= top - 4:
            for part, height in zip(parts, heights, strict=True):
                top -= height
                part.drawOn(canvas, left * mm, top * mm)
            return top
    message = "The text does not fit on the page in letters of 6 points. Choose a larger paper."
    raise ScaleError(message)


def saved(canvas: Canvas, path: Path | str) -> None:
    """Close the page and write the file.

    Raises
    ------
    ScaleError
        If it cannot be written.
    """
    canvas.showPage()
    try:
        canvas.save()
    except OSError as error:
        message = f"The sheet cannot be written to {path}: {error.strerror}. Choose another --out."
        raise ScaleError(message) from error
