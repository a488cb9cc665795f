"""Write a card as a vector PDF in exact millimetres."""

from __future__ import annotations

from pathlib import Path

from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from finmeasure.card.advice import tank_inner_mm
from finmeasure.card.text_page import draw_text_page
from finmeasure.card_design import (
    KINDS,
    CardDesign,
    Rectangle,
    SquaresDesign,
    WindowDesign,
    card_design,
)
from finmeasure.errors import ScaleError

GROUNDS = ("white", "grey", "black", "cut-out")
GROUND_INK = {"grey": 0.5, "black": 0.0}
FONT = "Helvetica"
LINE_WIDTH_MM = 0.2
TICK_MM = 1.5
GAP_MM = 2.6  # between the pattern and its check lines
CUT_INSET_MM = 1.0  # the cut must not touch the squares
PRINT_SENTENCE = "Print at 100 %, not “fit to page”; then measure both check lines with a caliper."
GAP_OF_SMALL_CARD_MM = 18.0  # between a card on a larger page and its check lines


def write_card(
    path: Path | str, kind: str = "window", paper: str = "A5", *, ground: str = "white"
) -> WindowDesign | SquaresDesign:
    """Write a card: the first page to print, the second with how to use it.

    Parameters
    ----------
    path : path-like
        The PDF to write; its folder must exist.
    kind : {"window", "squares"}
        Ring of squares round a blank field, or grid of squares.
    paper : {"A4", "A5", "A6", "letter", "ID1"}
        Paper that the card fills; ID1 is the size of a bank card and comes on an A6 page.
    ground : {"white", "grey", "black", "cut-out"}
        Field behind the fish, window card only. Pale fins show best on black, dark ones on white;
        cut out, light can come from behind.

    Returns
    -------
    WindowDesign or SquaresDesign
        The design that was written.

    Raises
    ------
    DefinitionError
        If there is no such card.
    ScaleError
        If the ground is not known or does not go with the card, or the file cannot be written.
    """
    design = card_design(kind, paper)
    _check_ground(kind, ground)
    canvas = Canvas(str(path), pagesize=_points(design.page_mm), invariant=True)
    canvas.setTitle(f"finmeasure {kind} card {paper}, version {design.version}")
    _draw_front(canvas, design, ground)
    canvas.showPage()
    draw_text_page(canvas, design)
    canvas.showPage()
    try:
        canvas.save()
    except OSError as error:
        message = f"The card cannot be written to {path}: {error.strerror}. Choose another --out."
        raise ScaleError(message) from error
    return design


def _check_ground(kind: str, ground: str) -> None:
    if ground not in GROUNDS:
        message = f"Ground {ground!r} is not known. Allowed: {', '.join(GROUNDS)}."
        raise ScaleError(message)
    if kind == KINDS[1] and ground != "white":
        message = (
            f"The squares card is printed on white only, not on {ground}. "
            "Leave --ground out, or choose --kind window."
        )
        raise ScaleError(message)


def _draw_front(canvas: Canvas, design: WindowDesign | SquaresDesign, ground: str) -> None:
    """Draw the card itself with its check lines."""
    if isinstance(design, WindowDesign):
        _draw_field(canvas, design, ground)
    path = canvas.beginPath()
    for rectangle in design.rectangles():  # one path: no seams between neighbours
        path.rect(*_on_page(design, rectangle))
    canvas.setFillGray(0)
    canvas.drawPath(path, stroke=0, fill=1)
    if design.page_mm != design.size_mm:
        _draw_cut_line(canvas, design, Rectangle(0, 0, *design.size_mm))
    _draw_check_lines(canvas, design)
    _draw_captions(canvas, design, ground)


def _draw_field(canvas: Canvas, design: WindowDesign, ground: str) -> None:
    """Fill the field behind the fish, or draw where to cut it out."""
    field = design.field
    if ground in GROUND_INK:
        canvas.setFillGray(GROUND_INK[ground])
        canvas.rect(*_on_page(design, field), stroke=0, fill=1)
    if ground == "cut-out":
        inset = CUT_INSET_MM
        inner = Rectangle(
            field.left + inset, field.top + inset, field.right - inset, field.bottom - inset
        )
        _draw_cut_line(canvas, design, inner)


def _draw_cut_line(canvas: Canvas, design: CardDesign, contour: Rectangle) -> None:
    canvas.saveState()
    canvas.setStrokeGray(0.45)
    canvas.setLineWidth(LINE_WIDTH_MM * mm)
    canvas.setDash(2 * mm, 1 * mm)
    canvas.rect(*_on_page(design, contour), stroke=1, fill=0)
    canvas.restoreState()


def _draw_check_lines(canvas: Canvas, design: WindowDesign | SquaresDesign) -> None:
    """Draw a line across and a line down; their lengths count from outer edge to outer edge."""
    x, y = _check_corner(design)
    across, down = design.check_mm
    half = LINE_WIDTH_MM / 2
    canvas.setStrokeGray(0)
    canvas.setLineWidth(LINE_WIDTH_MM * mm)
    left, top = _check_starts(design)
    for start, stop in (
        ((left, y), (left + across, y)),
        ((left + half, y - TICK_MM), (left + half, y + TICK_MM)),
        ((left + across - half, y - TICK_MM), (left + across - half, y + TICK_MM)),
        ((x, top), (x, top + down)),
        ((x - TICK_MM, top + half), (x + TICK_MM, top + half)),
        ((x - TICK_MM, top + down - half), (x + TICK_MM, top + down - half)),
    ):
        canvas.line(*_place(design, *start), *_place(design, *stop))


def _check_corner(design: WindowDesign | SquaresDesign) -> tuple[float, float]:
    """Where the check lines run on the page: x of the line down, y of the line across."""
    outer = _outer(design)
    gap = GAP_MM if design.page_mm == design.size_mm else GAP_OF_SMALL_CARD_MM
    return outer.left - gap, outer.bottom + gap


def _check_starts(design: WindowDesign | SquaresDesign) -> tuple[float, float]:
    """Left end of the line across and upper end of the line down."""
    outer = _outer(design)
    across, down = design.check_mm
    top = max((outer.top + outer.bottom - down) / 2, 5.0)
    return (outer.left + outer.right - across) / 2, top


def _outer(design: WindowDesign | SquaresDesign) -> Rectangle:
    """Give what the check lines keep clear of on the page: pattern, or card to be cut out."""
    shift_x, shift_y = design.card_on_page_mm
    edge = design.pattern
    if design.page_mm != design.size_mm:
        edge = Rectangle(0, 0, *design.size_mm)
    return Rectangle(
        edge.left + shift_x, edge.top + shift_y, edge.right + shift_x, edge.bottom + shift_y
    )


def _draw_captions(canvas: Canvas, design: WindowDesign | SquaresDesign, ground: str) -> None:
    """Write what this is above the pattern, and the printing sentence below the check line."""
    outer = _outer(design)
    small = design.page_mm[0] < 200
    size = 6.0 if small else 7.5
    width, height, depth = tank_inner_mm(design)
    across, down = design.check_mm
    canvas.setFillGray(0)
    canvas.setFont(FONT, size)
    title = (
        f"finmeasure {design.kind} card {design.paper}, version {design.version}. "
        f"Photo tank inside: {width:.0f} × {height:.0f} × {depth:.0f} mm "
        "(width × height × depth)."
    )
    if ground == "cut-out":
        title += " Cut out along the dashed line."
    middle = (outer.left + outer.right) / 2
    canvas.drawCentredString(*_place(design, middle, outer.top - 1.0), title)
    below = _check_corner(design)[1] + TICK_MM + 0.25 * size + 0.6
    sentence = f"{PRINT_SENTENCE} They are {across:g} mm across and {down:g} mm down."
    canvas.drawCentredString(*_place(design, middle, below), sentence)


def _place(design: CardDesign, x: float, y: float) -> tuple[float, float]:
    """Millimetres from the page's upper left corner as PDF points from its lower left."""
    return x * mm, (design.page_mm[1] - y) * mm


def _on_page(design: CardDesign, part: Rectangle) -> tuple[float, float, float, float]:
    """Left, bottom, width and height in PDF points of a rectangle on the card."""
    shift_x, shift_y = design.card_on_page_mm
    left, bottom = _place(design, part.left + shift_x, part.bottom + shift_y)
    return left, bottom, (part.right - part.left) * mm, (part.bottom - part.top) * mm


def _points(size_mm: tuple[float, float]) -> tuple[float, float]:
    return size_mm[0] * mm, size_mm[1] * mm
