"""Paragraphs and tables of the PDF reports."""

from __future__ import annotations

from pathlib import Path
from typing import Any
from xml.sax.saxutils import escape


def words(text: str, style: str) -> Any:
    """Give a paragraph in one of reportlab's sample styles; the text is plain, not markup."""
    from reportlab.lib.styles import getSampleStyleSheet
    from reportlab.platypus import Paragraph

    found = getSampleStyleSheet()[style]
    found.fontName = _pdf_font(bold=style != "BodyText")
    if style == "BodyText":
        found.leading, found.spaceAfter = 14.5, 6.0
    return Paragraph(escape(text), found)


def _pdf_font(*, bold: bool) -> str:
    """Register the font that knows most letters; it comes with matplotlib."""
    import matplotlib
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    name = "DejaVuSans-Bold" if bold else "DejaVuSans"
    if name not in pdfmetrics.getRegisteredFontNames():
        file = Path(matplotlib.get_data_path()) / "fonts" / "ttf" / f"{name}.ttf"
        pdfmetrics.registerFont(TTFont(name, str(file)))
    return name


def pdf_table(
    heads: tuple[str, ...], rows: tuple[tuple[str, ...], ...], widths: tuple[float, ...]
) -> Any:
    """Give a table with a grey head that is repeated on every page; widths in points."""
    from reportlab.lib.colors import HexColor
    from reportlab.lib.styles import getSampleStyleSheet
    from reportlab.platypus import Paragraph, Table

    small = getSampleStyleSheet()["BodyText"]
    small.fontName, small.fontSize, small.leading = _pdf_font(bold=False), 7.5, 9.5
    cells = [[Paragraph(escape(text), small) for text in row] for row in (heads, *rows)]
    table = Table(cells, colWidths=widths, repeatRows=1)
    table.setStyle([
        ("GRID", (0, 0), (-1, -1), 0.4, HexColor("#c8c8c8")),
        ("BACKGROUND", (0, 0), (-1, 0), HexColor("#f4f4f2")),
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
    ])  # fmt: skip
    return table
