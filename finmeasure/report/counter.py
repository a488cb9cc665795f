"""The counter question: the answer for one marked fish, and its picture."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from finmeasure.errors import NotFound, TableError
from finmeasure.exchange.landmarks import read_landmarks
from finmeasure.landmarks.scheme import landmark_definitions, points_for
from finmeasure.measurements.measure import measure_reading
from finmeasure.photo.record import Photo
from finmeasure.proposals.propose import propose
from finmeasure.quantity import Measure
from finmeasure.reading import Reading
from finmeasure.report.canvas import Canvas, wrapped
from finmeasure.report.colours import ORANGE
from finmeasure.scale.calibration import Scale
from finmeasure.shipment.sex_rules import BASE_TO_HEIGHT, SexAnswer, tell_sex

LONGEST_PX = 1200
ROD_POINTS = ("anal_origin", "anal_end", "anal_tip")
SURE_ENOUGH = 0.8
"""Stated probability that a proposed point lies where a person would put it (our choice)."""
DRAWS = 64
MOST_CONTRARY = 2
"""A sex is only told if the points, moved 64 times within their stated uncertainty, tell the
contrary at most twice (3 %; our choice)."""
CONTRARY = {"male-like": ("female-like", "not told yet"), "female-like": ("male-like",)}
NO_GUARANTEE = "No guarantee: fins are one sign among several."


def answer_for(
    photo: Path, table: Path, form_id: str, length_mm: float | None = None
) -> tuple[Reading, SexAnswer]:
    """Answer for the first fish of a photo.

    Parameters
    ----------
    photo, table : Path
        Photo, and the table that holds its points under its name or path.
    form_id : str
        Body form.
    length_mm : float, optional
        Standard length, where it is known otherwise.

    Raises
    ------
    TableError
        If the table has no usable points for the photo.
    """
    marks = read_landmarks(table)
    named = [name for name in marks.photos if Path(name).name == photo.name]
    readings = marks.readings(named[0]) if len(named) == 1 else ()
    if not readings:
        why = " ".join(problem for name in named for problem in marks.problems(name))
        message = (
            f"{table.name} has no usable points for {photo.name} (photos named so: {len(named)}). "
            f"{why} Give one row per point with the photo's name."
        )
        raise TableError(message)
    reading = replace(readings[0], body_form=form_id)
    return reading, answer_of(reading, length_mm=length_mm)


def points_to_mark(form_id: str) -> tuple[str, ...]:
    """Landmarks from which the counter question can be answered: two to four.

    A rod is told from a fan by its base and its tip; snout and tail base, if marked too, let its
    length be checked.
    """
    points = points_for("sex", form_id)
    return ROD_POINTS if set(points) > {"anal_origin", "anal_tip"} else points


def proposed_reading(photo: Photo, form_id: str) -> Reading | NotFound:
    """Mark the fish of a photo by the program, keeping only points that it is sure of.

    Parameters
    ----------
    photo : Photo
        One fish from the side.
    form_id : str
        Body form.

    Returns
    -------
    Reading or NotFound
        With all of :func:`points_to_mark`; NotFound names the points that a person has to mark.
    """
    needed = points_to_mark(form_id)
    found = propose(photo, body_form=form_id)
    remedy = f"Mark these points (`finmeasure open`, or --landmarks): {', '.join(needed)}."
    if isinstance(found, NotFound):
        return NotFound(found.reason, remedy)
    if len(found) > 1:
        return NotFound(f"{len(found)} fish are in the photo; one is needed.", remedy)
    marks = {
        name: mark
        for name, mark in found[0].reading.landmarks.items()
        if mark.state == "placed" and (mark.confidence or 0.0) >= SURE_ENOUGH
    }
    unsure = ", ".join(name for name in needed if name not in marks)
    if unsure:
        return NotFound(f"The program is not sure of {unsure}.", remedy)
    return replace(found[0].reading, landmarks=marks)


def answer_of(
    reading: Reading, scale: Scale | None = None, *, length_mm: float | None = None
) -> SexAnswer:
    """Answer for one marked fish, by the rule of its body form.

    Where the program placed the points, a sex is told only if it stays the same while they are
    moved within their stated uncertainty; else the answer asks for a person's points.

    Parameters
    ----------
    reading : Reading
        With its body form; points that are missing count as hidden.
    scale : Scale, optional
        Of the photo; a small fish may be too young to tell.
    length_mm : float, optional
        Standard length, where it is known otherwise.
    """
    told = _told_by(reading, scale, length_mm)
    if told.answer not in CONTRARY or not _by_program(reading):
        return told
    drawn = np.random.default_rng(64)
    moved = (_told_by(_moved(reading, drawn), scale, length_mm) for _ in range(DRAWS))
    contrary = sum(one.answer in CONTRARY[told.answer] for one in moved)
    if contrary <= MOST_CONTRARY:
        return told
    reason = (
        "the program's points are not sure enough: moved within their uncertainty they tell "
        f"the contrary {contrary} times in {DRAWS}."
    )
    mark = " and ".join(
        landmark_definitions()[name].shown for name in points_to_mark(reading.body_form)
    )
    return SexAnswer("cannot tell", reason, told.fin, f"Mark these points yourself: {mark}.")


def _by_program(reading: Reading) -> bool:
    """Whether a point of the rule was placed by the program, and by no person."""
    return any(
        reading.placed(name) and reading.landmarks[name].confidence is not None
        for name in ROD_POINTS
    )


def _moved(reading: Reading, drawn: np.random.Generator) -> Reading:
    """Move the program's points at random within their stated uncertainty."""
    marks = {
        name: replace(
            mark,
            x_px=mark.x_px + drawn.normal(0.0, mark.u_px),
            y_px=mark.y_px + drawn.normal(0.0, mark.u_px),
        )
        for name, mark in reading.landmarks.items()
        if mark.state == "placed" and mark.confidence is not None and mark.u_px is not None
    }
    return replace(reading, landmarks={**reading.landmarks, **marks})


def _told_by(reading: Reading, scale: Scale | None, length_mm: float | None) -> SexAnswer:
    """Answer by the points as they stand."""
    measures = dict(measure_reading(reading, scale, question="full").by_id)
    if length_mm is not None:
        measures["standard_length"] = Measure("standard_length", "mm", "measured", length_mm)
    if reading.placed(*ROD_POINTS):
        origin, end, tip = (reading.point(name) for name in ROD_POINTS)
        height = math.dist(origin, tip)
        share = math.dist(origin, end) / height if height > 0 else math.inf
        measures[BASE_TO_HEIGHT] = Measure(BASE_TO_HEIGHT, "1", "measured", share)
    return tell_sex(reading.body_form, measures)


def picture_of(pixels: NDArray[np.uint8], reading: Reading, answer: SexAnswer) -> bytes:
    """Draw the fin to look at and the answer on the photo; a JPEG file to send on."""
    factor = LONGEST_PX / max(pixels.shape[:2])
    small = cv2.resize(pixels, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA)
    size_px = 22
    lines = wrapped(str(answer), small.shape[1] - 30, size_px)
    band = np.full(((len(lines) + 1) * size_px * 4 // 3, small.shape[1], 3), 30, np.uint8)
    canvas = Canvas(np.ascontiguousarray(np.vstack([small, band])), 3.0)
    for spot in _spots(reading, answer.fin) * factor:
        canvas.mark((float(spot[0]), float(spot[1])), ORANGE, "ring")
    ring = ring_round_fin(reading, answer.fin, room_px=20 / factor)
    if len(ring):
        canvas.line(ring * factor, ORANGE, closed=True)
    for number, line in enumerate(lines):
        corner = (15.0, small.shape[0] + 10.0 + number * size_px * 4 / 3)
        canvas.text(line, corner, size_px)
    done = cv2.cvtColor(canvas.finish(), cv2.COLOR_RGB2BGR)
    return bytes(cv2.imencode(".jpg", done, [cv2.IMWRITE_JPEG_QUALITY, 88])[1].tobytes())


def ring_round_fin(reading: Reading, fin: str, *, room_px: float) -> NDArray[np.float64]:
    """Give a circle round a fin, to light it up on the photo.

    Parameters
    ----------
    reading : Reading
        Marks of the fish.
    fin : str
        The fin.
    room_px : float
        Room between the fin's points and the circle.

    Returns
    -------
    ndarray of shape (60, 2), pixels (x, y)
        Not repeating its first point; of shape (0, 2) with fewer than two points of the fin.
    """
    spots = _spots(reading, fin)
    if len(spots) < 2:
        return np.empty((0, 2))
    middle, reach = spots.mean(axis=0), float(np.ptp(spots, axis=0).max()) * 0.8 + room_px
    turns = np.linspace(0, 2 * math.pi, 60, endpoint=False)
    return np.asarray(middle + reach * np.c_[np.cos(turns), np.sin(turns)])


def _spots(reading: Reading, fin: str) -> NDArray[np.float64]:
    """Places of a fin's points, shape (N, 2)."""
    definitions = landmark_definitions()
    mine = [m for name, m in reading.landmarks.items() if definitions[name].fin == fin]
    return np.array([m.point for m in mine if m.state == "placed"], float).reshape(-1, 2)
