"""From marks and measures to dots and strokes. No Qt and no viewer here."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from finmeasure.errors import NotFound
from finmeasure.fins.records import Notch
from finmeasure.marking.session import MarkingSession
from finmeasure.measurements.definitions import MEASURES
from finmeasure.measurements.records import Measures
from finmeasure.reading import Outline
from finmeasure.scale.calibration import Scale
from napari_finmeasure._layers import (
    BLUE,
    GREEN,
    ORANGE,
    PURPLE,
    SKY,
    VERMILION,
    YELLOW,
    Dot,
    Stroke,
)

# state is told by shape first, colour second
PLACED, PROPOSED, CHOSEN, NEEDED = "disc", "diamond", "square", "triangle_up"


def dots(session: MarkingSession, chosen: str | None, needed: frozenset[str]) -> list[Dot]:
    """Give one dot for every placed point.

    Parameters
    ----------
    session : MarkingSession
        The marks.
    chosen : str, optional
        Point that was chosen.
    needed : frozenset of str
        Points that the chosen measure needs.
    """
    return [
        _dot(session, landmark.name, landmark.point, chosen, needed)
        for landmark in session.marks.landmarks.values()
        if landmark.state == "placed"
    ]


def strokes(
    session: MarkingSession, measures: Measures, scale: Scale | NotFound, *, chosen: str | None
) -> list[Stroke]:
    """Give fin edges, their notches, the scale's region and the chosen measure as lines."""
    outlines = session.marks.outlines
    found = [_edge(one, proposed=session.is_proposed(part)) for part, one in outlines.items()]
    found += [line for fin in measures.fins.values() for line in _notches(fin.notches)]
    if isinstance(scale, Scale) and scale.region_px is not None:
        ring = np.vstack([scale.region_px, scale.region_px[:1]])
        found.append(Stroke(ring, SKY))
    if chosen is not None:
        found += _measured(session, chosen)
    return [stroke for stroke in found if len(stroke.points) > 1]


def natural_notches(measures: Measures, radius_px: float) -> list[Stroke]:
    """Give a ring round every indentation that belongs to its fin: the fork, the dip."""
    turn = np.linspace(0.0, 2.0 * np.pi, 25)
    ring = radius_px * np.column_stack([np.cos(turn), np.sin(turn)])
    return [
        Stroke(place + ring, GREEN)
        for fin in measures.fins.values()
        for place in fin.natural_notches_px
    ]


def points_of(measure_id: str) -> frozenset[str]:
    """Points that a measure needs."""
    return frozenset(MEASURES[measure_id].landmarks)


def measures_on(point: str) -> frozenset[str]:
    """Ids of the measures that hang on a point."""
    return frozenset(row.id for row in MEASURES.values() if point in row.landmarks)


def _dot(
    session: MarkingSession,
    name: str,
    place: tuple[float, float],
    chosen: str | None,
    needed: frozenset[str],
) -> Dot:
    """Give the dot of one point."""
    if name == chosen:
        return Dot(place, CHOSEN, VERMILION, size=22.0)
    if name in needed:
        return Dot(place, NEEDED, ORANGE, size=16.0)
    if session.is_proposed(name) and name == session.at:
        return Dot(place, PROPOSED, YELLOW, size=14.0)  # the glass puts a ring round it
    if session.is_proposed(name):
        return Dot(place, PROPOSED, SKY, size=14.0)
    return Dot(place, PLACED, GREEN, size=11.0)


def _edge(outline: Outline, *, proposed: bool) -> Stroke:
    """Give the edge of a fin or the ring round the body; a proposed one is dashed."""
    line = outline.points_px
    ring = np.vstack([line, line[:1]]) if outline.closed and len(line) else line
    return Stroke(ring, PURPLE, dashed=proposed)


def _notches(notches: tuple[Notch, ...]) -> Iterator[Stroke]:
    """Give each notch as its ring and its depth."""
    for notch in notches:
        ring = np.vstack([notch.outline_px, notch.outline_px[:1]])
        yield Stroke(ring, ORANGE)
        depth = np.stack([notch.mouth_px, notch.deepest_px])
        yield Stroke(depth, VERMILION)


def _measured(session: MarkingSession, measure_id: str) -> list[Stroke]:
    """Give the lines that show what a measure measures: its parts, each through its points."""
    row = MEASURES[measure_id]
    if row.parts:
        colours = (VERMILION, BLUE)
        return [
            Stroke(stroke.points, colour)
            for part, colour in zip(row.parts, colours, strict=True)
            for stroke in _measured(session, part)
        ]
    placed = {n: m for n, m in session.marks.landmarks.items() if m.state == "placed"}
    points = [placed[name].point for name in row.landmarks if name in placed]
    return [Stroke(np.array(points), VERMILION)] if len(points) > 1 else []
