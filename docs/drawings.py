"""Drawings of our own for the handbook: what each length is, how to place tank, card and camera."""

from __future__ import annotations

from collections.abc import Sequence
from xml.sax.saxutils import escape

import numpy as np

from finmeasure.landmarks.drawings.form import FormDrawing, draw_form
from finmeasure.landmarks.drawings.svg import LIGHT, form_svg
from finmeasure.landmarks.scheme import body_forms
from finmeasure.measurements.definitions import MeasureDefinition, measure_definition

INK, LIT, BLUE, SOFT = LIGHT.line, LIGHT.lit, "#0072b2", "#dfe7ea"
Point = Sequence[float]


def measure_svg(row: MeasureDefinition) -> str | None:
    """Draw a fish with the length of a measure on it; of a ratio, the length that is divided.

    Returns
    -------
    str or None
        SVG; None where no body form is drawn with all its landmarks.
    """
    length = measure_definition(row.parts[0]) if row.parts else row
    for form in body_forms():
        drawing = draw_form(form)
        if length.landmarks and all(name in drawing.landmarks for name in length.landmarks):
            lines = _length_lines(length, drawing)
            return form_svg(form).replace("</svg>", f"{lines}</svg>") if lines else None
    return None


def _length_lines(row: MeasureDefinition, drawing: FormDrawing) -> str:
    """Lines of one length, as its kind of formula asks."""
    points = [np.array(drawing.landmarks[name], float) for name in row.landmarks]
    if row.kind in ("distance", "aspect_ratio", "rod_width"):
        return _span(points[0], points[1])
    if row.kind == "farther":
        far = max(points[1:], key=lambda point: float(np.linalg.norm(point - points[0])))
        return _span(points[0], far)
    if row.kind == "farthest_along_axis":
        axis = (points[1] - points[0]) / np.linalg.norm(points[1] - points[0])
        far = max(points[2:], key=lambda point: float((point - points[0]) @ axis))
        end = points[0] + axis * float((far - points[0]) @ axis)
        return _dashed(far, end) + _span(points[0], end)
    if row.kind == "offset_from_line":
        line = (points[1] - points[0]) / np.linalg.norm(points[1] - points[0])
        foot = points[0] + line * float((points[2] - points[0]) @ line)
        return _dashed(points[0], points[1]) + _span(points[2], foot)
    return ""


def _span(first: Point, second: Point) -> str:
    """Heavy line with a dot at both ends."""
    return _line(first, second, LIT, 1.6) + "".join(
        f'<circle cx="{x:.1f}" cy="{y:.1f}" r="1.8" fill="{LIT}"/>' for x, y in (first, second)
    )


def _dashed(first: Point, second: Point) -> str:
    return _line(first, second, BLUE, 0.8, ' stroke-dasharray="2.4 1.6"')


def _line(first: Point, second: Point, colour: str, width: float, more: str = "") -> str:
    return (
        f'<path d="M{first[0]:.1f} {first[1]:.1f}L{second[0]:.1f} {second[1]:.1f}" fill="none" '
        f'stroke="{colour}" stroke-width="{width}"{more}/>'
    )


def _text(x: float, y: float, words: str, *, bold: bool = False, middle: bool = False) -> str:
    weight = ' font-weight="bold"' if bold else ""
    anchor = ' text-anchor="middle"' if middle else ""
    return (
        f'<text x="{x}" y="{y}" font-size="13" font-family="sans-serif" fill="{INK}"'
        f"{weight}{anchor}>{escape(words)}</text>"
    )


def _box(x: float, y: float, width: float, height: float, *, fill: str = "none") -> str:
    return (
        f'<rect x="{x}" y="{y}" width="{width}" height="{height}" fill="{fill}" '
        f'stroke="{INK}" stroke-width="2"/>'
    )


def _fish_from_above(x: float, y: float, *, turned: float = 0.0) -> str:
    """Draw a fish from above, its head to the left."""
    return (
        f'<g transform="translate({x} {y}) rotate({turned})"><path d="M-34 0C-20 -11 14 -8 24 0'
        f'C14 8 -20 11 -34 0Z" fill="{SOFT}" stroke="{INK}" stroke-width="2"/>'
        f'<path d="M24 0L42 0" stroke="{INK}" stroke-width="2"/></g>'
    )


def _camera(x: float, y: float) -> str:
    return _box(x - 22, y, 44, 26, fill=SOFT) + _box(x - 8, y - 10, 16, 10, fill="white")


def _card(x: float, y: float, width: float) -> str:
    return f'<rect x="{x}" y="{y}" width="{width}" height="5" fill="{INK}"/>'


def _tank(x: float, words: str, good: bool, content: str) -> str:
    """One tank from above with a camera before it, a verdict and its reason."""
    verdict = "RIGHT" if good else "WRONG"
    colour = BLUE if good else LIT
    mark = (
        f'<path d="M{x + 6} 22l6 7l12 -15" fill="none" stroke="{colour}" stroke-width="4"/>'
        if good
        else f'<path d="M{x + 6} 14l14 15m0 -15l-14 15" stroke="{colour}" stroke-width="4"/>'
    )
    return (
        mark + _text(x + 32, 27, verdict, bold=True) + _box(x, 44, 190, 62) + content
        + _camera(x + 95, 210)
        + _line((x + 95, 196), (x + 95, 112), BLUE, 1.5, ' stroke-dasharray="6 4"')
        + _text(x, 262, words)
    )  # fmt: skip


def tank_svg() -> str:
    """Three tanks from above: card beside the fish, card behind it, fish turned away."""
    parts = (
        _tank(10, "card and fish in one plane", True,
              _card(14, 73, 40) + _card(146, 73, 40) + _fish_from_above(100, 76)),
        _tank(240, "card behind: fish reads too long", False,
              _card(244, 48, 182) + _fish_from_above(330, 88)),
        _tank(470, "fish turned: reads too short", False,
              _card(474, 73, 40) + _card(606, 73, 40) + _fish_from_above(560, 76, turned=24)),
    )  # fmt: skip
    return _svg(680, 276, "".join(parts))


def ground_svg() -> str:
    """Three fins before three grounds: the edge shows only where ground and fin differ."""
    parts = [
        _ground(10, "white ground: dark fins", "#ffffff", "#3c474d"),
        _ground(240, "black ground: clear, white fins", "#1b2a33", "#dfe7ea"),
        _ground(470, "clear fin before white: no edge", "#ffffff", "#f4f6f7"),
    ]
    return _svg(680, 170, "".join(parts))


def _ground(x: float, words: str, ground: str, fin: str) -> str:
    return (
        _box(x, 10, 190, 120, fill=ground)
        + f'<path d="M{x + 60} 112L{x + 46} 32C{x + 84} 20 {x + 124} 30 {x + 146} 60'
        f'L{x + 130} 112Z" '
        f'fill="{fin}"/>' + _text(x, 152, words)
    )


def closeness_svg() -> str:
    """Smallest card that holds the fish: more pixels along the fin."""
    fish = (
        '<g transform="translate({x} {y}) scale({s})"><path d="M-40 0C-24 -20 16 -16 28 -4L46 -16'
        'L40 0L46 16L28 4C16 16 -24 20 -40 0Z" fill="{fill}" stroke="{ink}" stroke-width="2"/></g>'
    )
    small = fish.format(x=105, y=76, s=0.55, fill=SOFT, ink=INK)
    large = fish.format(x=405, y=76, s=1.5, fill=SOFT, ink=INK)
    return _svg(
        680, 176,
        _box(10, 10, 190, 130) + small + _text(10, 162, "card too large: few pixels along a fin")
        + _box(310, 10, 190, 130) + large + _text(310, 162, "smallest that holds the fish: many"),
    )  # fmt: skip


def _svg(width: int, height: int, content: str) -> str:
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" '
        f'width="{width}" height="{height}"><rect width="{width}" height="{height}" '
        f'fill="white"/>{content}</svg>'
    )
