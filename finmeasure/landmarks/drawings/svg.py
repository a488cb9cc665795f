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
LABEL_ROOM = 16.0  # above and below for fin names


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
    room = LABEL_ROOM if names else 0.0
    parts += [_label(drawing, fin, text, ink) for fin, text in (names or {}).items()]
    return _document(drawing, "".join(parts), room)


def _behind_body(drawing: FormDrawing) -> list[tuple[str, FinLines]]:
    """Fins that the body partly covers."""
    return [(name, fin) for name, fin in drawing.fins.items() if name != "pectoral"]


def _document(drawing: FormDrawing, content: str, room: float) -> str:
    """Wrap the parts in an svg element that just holds them."""
    everything = np.vstack([drawing.body, *(fin.margin for fin in drawing.fins.values())])
    low = everything.min(axis=0) - MARGIN - [0.0, room]
    width, height = everything.max(axis=0) + MARGIN + [0.0, room] - low
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
    """Name beside a fin, outside the fish."""
    if fin not in drawing.fins:
        return ""
    x, y, anchor = _label_place(drawing, fin)
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" font-size="5" font-family="sans-serif" '
        f'text-anchor="{anchor}" fill="{ink.text}">{escape(text)}</text>'
    )


def _label_place(drawing: FormDrawing, fin: str) -> tuple[float, float, str]:
    """Give the place and alignment of a fin's name."""
    margin = drawing.fins[fin].margin
    top, bottom = margin[:, 1].min(), margin[:, 1].max()
    middle = float(margin[:, 0].mean())
    if fin == "caudal":
        return float(margin[:, 0].max()), float(bottom + 6.0), "end"
    if fin == "pectoral":
        return 0.0, float(drawing.body[:, 1].max() + 7.0), "start"
    if fin in ("anal", "pelvic"):
        return middle, float(bottom + (6.0 if fin == "anal" else 12.0)), "middle"
    return middle, float(top - 2.5), "middle"


def _path(line: Line) -> str:
    """Path data of a polyline."""
    return "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in line)
