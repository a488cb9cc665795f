"""Marks as plain records, so that a draft can be stored after every change and read back."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import numpy as np

from finmeasure.errors import MarkingError
from finmeasure.marking.marks import Marks
from finmeasure.reading import Landmark, Outline, Reading

DRAFT_FORMAT = 1


def draft_to_dict(marks: Marks) -> dict[str, Any]:
    """Give marks as a dict of plain values that JSON can hold.

    Parameters
    ----------
    marks : Marks
        Of one fish.

    Returns
    -------
    dict
        Read back by :func:`draft_from_dict`.
    """
    return {
        "format": DRAFT_FORMAT,
        "body_form": marks.body_form,
        "question": marks.question,
        "at": marks.at,
        "landmarks": [_landmark_record(landmark) for landmark in marks.landmarks.values()],
        "outlines": [_outline_record(outline) for outline in marks.outlines.values()],
        "zooms": dict(marks.zooms),
        "proposal": None if marks.proposal is None else _proposal_record(marks.proposal),
        "agreed": sorted(marks.agreed),
    }


def draft_from_dict(record: Mapping[str, Any]) -> Marks:
    """Read marks back from a dict.

    Raises
    ------
    MarkingError
        If the draft is of a newer format or lacks something.
    """
    if record.get("format") != DRAFT_FORMAT:
        message = (
            f"The draft has format {record.get('format')!r}; this program reads {DRAFT_FORMAT}. "
            "Open the study with the newer program."
        )
        raise MarkingError(message)
    try:
        return _marks(record)
    except (KeyError, TypeError, ValueError) as error:
        message = f"The draft cannot be read ({error}). The photo starts afresh."
        raise MarkingError(message) from error


def _marks(record: Mapping[str, Any]) -> Marks:
    """Build marks from a record of the right format."""
    landmarks = [_landmark(entry) for entry in record["landmarks"]]
    outlines = [_outline(entry) for entry in record["outlines"]]
    return Marks(
        str(record["body_form"]),
        str(record["question"]),
        landmarks={landmark.name: landmark for landmark in landmarks},
        outlines={outline.part: outline for outline in outlines},
        zooms={str(name): float(zoom) for name, zoom in record["zooms"].items()},
        at=record["at"],
        proposal=_proposal(record.get("proposal")),  # drafts of older programs have none
        agreed=frozenset(record.get("agreed", ())),
    )


def _proposal_record(reading: Reading) -> dict[str, Any]:
    """Give the program's marks as plain values."""
    return {
        "fish": reading.fish,
        "body_form": reading.body_form,
        "landmarks": [_landmark_record(landmark) for landmark in reading.landmarks.values()],
        "outlines": [_outline_record(outline) for outline in reading.outlines.values()],
        "placed_by": reading.placed_by,
    }


def _proposal(record: Mapping[str, Any] | None) -> Reading | None:
    """Build the program's marks from plain values."""
    if record is None:
        return None
    landmarks = [_landmark(entry) for entry in record["landmarks"]]
    outlines = [_outline(entry) for entry in record["outlines"]]
    return Reading(
        record["fish"],
        {landmark.name: landmark for landmark in landmarks},
        {outline.part: outline for outline in outlines},
        record["body_form"],
        record["placed_by"],
    )


def _landmark_record(landmark: Landmark) -> dict[str, Any]:
    """Give a landmark as plain values; JSON has no NaN, so an unplaced one has no x and y."""
    placed = not math.isnan(landmark.x_px)
    return {
        "name": landmark.name,
        "x_px": landmark.x_px if placed else None,
        "y_px": landmark.y_px if placed else None,
        "state": landmark.state,
        "u_px": landmark.u_px,
        "u_across_px": landmark.u_across_px,
        "placed_by": landmark.placed_by,
        "confidence": landmark.confidence,
    }


def _landmark(record: Mapping[str, Any]) -> Landmark:
    """Build a landmark from plain values."""
    values = dict(record)
    for axis in ("x_px", "y_px"):
        values[axis] = math.nan if values[axis] is None else float(values[axis])
    return Landmark(**values)


def _outline_record(outline: Outline) -> dict[str, Any]:
    """Give an outline as plain values."""
    return {
        "part": outline.part,
        "points_px": outline.points_px.tolist(),
        "closed": outline.closed,
        "placed_by": outline.placed_by,
        "confidence": outline.confidence,
        "spread": outline.spread,
        "edge": outline.edge,
    }


def _outline(record: Mapping[str, Any]) -> Outline:
    """Build an outline from plain values."""
    points = np.asarray(record["points_px"], dtype=np.float64).reshape(-1, 2)
    return Outline(**{**record, "points_px": points})
