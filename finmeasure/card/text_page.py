"""The second page of a card: how to use it, and the cautions."""

from __future__ import annotations

from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Frame, Paragraph

from finmeasure.card.advice import expected_px_per_mm, longest_fish, tank_inner_mm
from finmeasure.card_design import SquaresDesign, WindowDesign
from finmeasure.cautions import cautions
from finmeasure.errors import ScaleError

MARGIN_MM = 8.0
SIZES = (15.0, 14.0, 13.0, 12.0, 11.0, 10.0, 9.0, 8.0, 7.5, 7.0)  # of the letters, in points


def draw_text_page(canvas: Canvas, design: WindowDesign | SquaresDesign) -> None:
    """Fill the page with the instructions in the largest letters that fit.

    Raises
    ------
    ScaleError
        If the text does not fit in letters of 7 points.
    """
    width, height = (side * mm for side in design.page_mm)
    margin = MARGIN_MM * mm
    for size in SIZES:
        story = _story(design, size)
        room = width - 2 * margin
        needed = sum(part.wrap(room, height)[1] + part.getSpaceAfter() for part in story)
        if needed <= height - 2 * margin:
            frame = Frame(margin, margin, room, height - 2 * margin, 0, 0, 0, 0)
            frame.addFromList(story, canvas)
            return
    message = f"The instructions do not fit on a {design.paper} page in letters of 7 points."
    raise ScaleError(message)


def _story(design: WindowDesign | SquaresDesign, size: float) -> list[Paragraph]:
    """Set all paragraphs in letters of one size."""
    head = ParagraphStyle(
        "head", fontName="Helvetica-Bold", fontSize=size + 1, leading=1.25 * size, spaceAfter=2
    )
    body = ParagraphStyle(
        "body", fontName="Helvetica", fontSize=size, leading=1.2 * size, spaceAfter=0.3 * size
    )
    title = f"finmeasure {design.kind} card {design.paper}, version {design.version}"
    parts = [Paragraph(title, head)]
    parts += [Paragraph(text, body) for text in _how_to(design)]
    parts.append(Paragraph("For the fish and for you", head))
    parts += [Paragraph(text, body) for text in cautions()["handling"]]
    return parts


def _how_to(design: WindowDesign | SquaresDesign) -> list[str]:
    """Give the instructions, one step each."""
    across, down = design.check_mm
    width, height, depth = tank_inner_mm(design)
    five = 5 * expected_px_per_mm(design)
    hides = (
        "The fish may hide up to half of the grid; leave at least three corner tags free."
        if isinstance(design, SquaresDesign)
        else "The fish belongs before the empty field; a fin tip over the ring does no harm."
    )
    return [
        f"<b>1 Print</b> at 100 % on matt paper, measure both check lines with a caliper "
        f"({across:g} mm and {down:g} mm when all is right) and enter the lengths. Do not "
        "stretch, bend or crop the card; laminate it matt for use in water.",
        f"<b>2 Place</b> the card in the plane of the fish, best inside the tank. A photo tank of "
        f"{width:.0f} × {height:.0f} mm inside and {depth:.0f} mm deep fits. It holds fish up to "
        f"{longest_fish(design):.0f} mm. {hides}",
        "<b>3 Photograph</b> straight from the front, the whole card in the photo and filling "
        "most of it, sharp, without flash. Use optical zoom rather than nearness. Where the fish "
        "cannot be in the card's plane, keep the camera 500 mm away or more.",
        f"A 5 mm fin gets about {five:.0f} px where the card fills 80 % of a 4000 px wide photo. "
        "Use the smallest card that holds the fish.",
    ]
