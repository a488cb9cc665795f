"""A body form as SVG (W3C Scalable Vector Graphics 1.1), with one point or one fin lit up."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from xml.sax.saxutils import escape, quoteattr

import numpy as np
from numpy.typing import NDArray

from finmeasure.landmarks.drawings.form import FinLines, FormDrawing, draw_form

Line = NDArray[np.float64]
MARGIN = 5.0  # round the drawing, % of standard length
ROWS = {"pectoral": 8.0, "anal": 8.0, "pelvic": 15.0}  # of names, below everything that is drawn
ROOM_ABOVE, ROOM_BELOW = 6.0, 16.0  # for fin names


@dataclass(frozen=True, slots=True)
class Ink:
    """Colours of a drawing; the lit ones are of the Okabe–Ito set, seen by colour-blind eyes."""

    line: str = "#1b2a33"
    body: str = "#dfe7ea"
    fin: str = "#eef3f5"
    lit: str = "#d55e00"
    lit_fin: str = "#e69f00"
    text: str = "#1b2a33"


LIGHT = Ink()
DARK = Ink(line="#cfd8dc", body="#3c474d", fin="#2c353a", text="#eceff1")


def form_svg(
    form_id: str,
    *,
    lit: str | None = None,
    lit_fin: str | None = None,
    names: Mapping[str, str] | None = None,
    all_points: bool = False,
    ink: Ink = LIGHT,
) -> str:
    """Draw a body form as an SVG document.

    Parameters
    ----------
    form_id : str
        Id of a body form.
    lit : str, optional
        Landmark that gets a large ring.
    lit_fin : str, optional
        Fin that is filled and drawn with heavy lines.
    names : mapping of str to str, optional
        Name to write beside each fin.
    all_points : bool
        Whether every landmark gets a small dot.
    ink : Ink
        Colours.

    Returns
    -------
    str
        One view-box unit is 1 % of standard length. Parts carry their contract name as ``id``.

    Raises
    ------
    DefinitionError
        If there is no such drawing.
    """
    drawing = draw_form(form_id)
    parts = [_fin(name, fin, name == lit_fin, ink) for name, fin in _behind_body(drawing)]
    parts += [_body(drawing, ink)]
    parts += [
        _fin("pectoral", fin, lit_fin == "pectoral", ink)
        for name, fin in drawing.fins.items()
        if name == "pectoral"
    ]
    if all_points:
        parts += [_dot(drawing.landmarks[name], ink) for name in drawing.landmarks]
    if lit is not None and lit in drawing.landmarks:
        parts.append(_ring(drawing.landmarks[lit], ink))
    room = (ROOM_ABOVE, ROOM_BELOW) if names else (0.0, 0.0)
    parts += [_label(drawing, fin, text, ink) for fin, text in (names or {}).items()]
    return _document(drawing, "".join(parts), room)


def _behind_body(drawing: FormDrawing) -> list[tuple[str, FinLines]]:
    """Fins that the body partly covers."""
    return [(name, fin) for name, fin in drawing.fins.items() if name != "pectoral"]


def _document(drawing: FormDrawing, content: str, room: tuple[float, float]) -> str:
    """Wrap the parts in an svg element that just holds them."""
    everything = np.vstack([drawing.body, *(fin.margin for fin in drawing.fins.values())])
    low = everything.min(axis=0) - MARGIN - [0.0, room[0]]
    width, height = everything.max(axis=0) + MARGIN + [0.0, room[1]] - low
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{low[0]:.1f} {low[1]:.1f} '
        f'{width:.1f} {height:.1f}" width="{width * 5:.0f}" height="{height * 5:.0f}">'
        f"{content}</svg>"
    )


def _body(drawing: FormDrawing, ink: Ink) -> str:
    """Body, gill cover, eye, mouth and barbels."""
    x, y = drawing.landmarks["eye_centre"]
    snout_x, snout_y = drawing.landmarks["snout_tip"]
    thin = f'fill="none" stroke={quoteattr(ink.line)} stroke-width="0.6" stroke-linecap="round"'
    radius = drawing.eye_radius
    return (
        f'<path id="body" d="{_path(drawing.body)}Z" fill="{ink.body}" stroke="{ink.line}" '
        'stroke-width="0.8" stroke-linejoin="round"/>'
        f'<path d="{_path(drawing.gill_cover)}" {thin}/>'
        + "".join(f'<path d="{_path(line)}" {thin}/>' for line in drawing.barbels)
        + f'<path d="M{snout_x:.1f} {snout_y:.1f}l3.4 1.6" {thin}/>'
        f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{radius:.1f}" fill="{ink.fin}" '
        f'stroke="{ink.line}" stroke-width="0.6"/>'
        f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{radius * 0.45:.1f}" fill="{ink.line}"/>'
    )


def _fin(name: str, fin: FinLines, lit: bool, ink: Ink) -> str:
    """Membrane and rays of one fin."""
    fill, width = (ink.lit_fin, 1.6) if lit else (ink.fin, 0.7)
    rays = "".join(f"M{a[0]:.1f} {a[1]:.1f}L{b[0]:.1f} {b[1]:.1f}" for a, b in fin.rays)
    return (
        f'<g id={quoteattr(name)}><path d="{_path(fin.margin)}Z" fill="{fill}" '
        f'stroke="{ink.line}" stroke-width="{width}" stroke-linejoin="round"/>'
        f'<path d="{rays}" fill="none" stroke="{ink.line}" stroke-width="0.35"/></g>'
    )


def _ring(place: tuple[float, float], ink: Ink) -> str:
    """Target ring round the lit landmark."""
    x, y = place
    return (
        f'<g id="lit"><circle cx="{x:.1f}" cy="{y:.1f}" r="6" fill="none" stroke="{ink.lit}" '
        f'stroke-width="2.2"/><circle cx="{x:.1f}" cy="{y:.1f}" r="1.8" fill="{ink.lit}"/></g>'
    )


def _dot(place: tuple[float, float], ink: Ink) -> str:
    """Small dot at a landmark."""
    return f'<circle cx="{place[0]:.1f}" cy="{place[1]:.1f}" r="1" fill="{ink.lit}"/>'


def _label(drawing: FormDrawing, fin: str, text: str, ink: Ink) -> str:
    """Name beside a fin, outside the fish; names below it get a line to their fin."""
    if fin not in drawing.fins:
        return ""
    x, y, anchor = _label_place(drawing, fin)
    leader = _leader(drawing, fin, (x, y), ink) if fin in ROWS else ""
    return (
        f'{leader}<text x="{x:.1f}" y="{y:.1f}" font-size="5" font-family="sans-serif" '
        f'text-anchor="{anchor}" fill="{ink.text}">{escape(text)}</text>'
    )


def _label_place(drawing: FormDrawing, fin: str) -> tuple[float, float, str]:
    """Give the place and alignment of a fin's name."""
    margin = drawing.fins[fin].margin
    middle = float(margin[:, 0].mean())
    if fin == "caudal":
        return float(margin[:, 0].max()), float(margin[:, 1].max() + 6.0), "end"
    if fin in ROWS:
        row = _lowest(drawing) + ROWS[fin]
        return (0.0, row, "start") if fin == "pectoral" else (middle, row, "middle")
    return middle, float(margin[:, 1].min() - 2.5), "middle"


def _lowest(drawing: FormDrawing) -> float:
    """Give the lowest place of body, pelvic and anal fin."""
    parts = [drawing.body, *(f.margin for n, f in drawing.fins.items() if n != "caudal")]
    return max(float(part[:, 1].max()) for part in parts)


def _leader(drawing: FormDrawing, fin: str, name: tuple[float, float], ink: Ink) -> str:
    """Draw a line from a fin down to its name."""
    x, y = drawing.fins[fin].margin.mean(axis=0)
    end_x = 12.0 if fin == "pectoral" else name[0]
    return (
        f'<path d="M{x:.1f} {y:.1f}L{end_x:.1f} {name[1] - 4.6:.1f}" fill="none" '
        f'stroke="{ink.line}" stroke-width="0.4"/>'
    )


def _path(line: Line) -> str:
    """Path data of a polyline."""
    return "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in line)
