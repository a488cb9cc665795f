"""From the numbers of a body form to its lines and landmarks."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import PchipInterpolator

from finmeasure.errors import DefinitionError
from finmeasure.landmarks.drawings.shapes import SHAPES, FormShape, MedianFin, PairedFin, TailFin
from finmeasure.landmarks.records import LONG_FIN

Line = NDArray[np.float64]
RAYS = 9


@dataclass(frozen=True, slots=True, eq=False)
class FinLines:
    """One fin of a drawing.

    Parameters
    ----------
    margin : ndarray of shape (N, 2), % of standard length
        From the front to the rear base point.
    rays : ndarray of shape (M, 2, 2)
        Each from the base to the margin.
    """

    margin: Line
    rays: Line


@dataclass(frozen=True, slots=True, eq=False)
class FormDrawing:
    """Lines and landmarks of one body form; % of standard length, snout at x = 0, facing left.

    Parameters
    ----------
    body, gill_cover : ndarray of shape (N, 2)
        Closed outline of the body without fins; rear edge of the gill cover.
    fins : mapping of str to FinLines
        By part.
    landmarks : mapping of str to tuple of float
        By landmark name.
    eye_radius : float
        Of the eye round ``eye_centre``.
    barbels : tuple of ndarray of shape (N, 2)
        Thread-like lines at the mouth.
    """

    body: Line
    gill_cover: Line
    fins: Mapping[str, FinLines]
    landmarks: Mapping[str, tuple[float, float]]
    eye_radius: float
    barbels: tuple[Line, ...]


@cache
def draw_form(form_id: str) -> FormDrawing:
    """Draw a body form.

    Parameters
    ----------
    form_id : str
        Id of a body form, or ``"livebearer_female"``; a long-fin strain is drawn as its kind.

    Raises
    ------
    DefinitionError
        If there is no such drawing.

    Examples
    --------
    >>> draw_form("plain").landmarks["snout_tip"]
    (0.0, 0.0)
    """
    base = form_id.removesuffix(LONG_FIN)
    if base not in SHAPES:
        message = f"There is no drawing of {form_id!r}. Allowed: {', '.join(SHAPES)}."
        raise DefinitionError(message)
    shape = SHAPES[base]
    profile = _Profile(shape)
    points = _head_points(shape) | _body_points(profile)
    fins: dict[str, FinLines] = {}
    for name, fin in shape.median.items():
        fins[name], found = _median_fin(name, fin, profile)
        points |= found
    fins["caudal"], found = _tail(shape.tail, profile)
    points |= found
    for name, paired in (("pelvic", shape.pelvic), ("pectoral", shape.pectoral)):
        if paired is not None:
            fins[name], found = _paired_fin(name, paired, profile)
            points |= found
    return FormDrawing(
        body=profile.outline(),
        gill_cover=_gill_cover(shape),
        fins=fins,
        landmarks={name: (float(x), float(y)) for name, (x, y) in points.items()},
        eye_radius=shape.eye_radius,
        barbels=_barbels(shape),
    )


class _Profile:
    """Upper and lower outline of the body as functions of x."""

    def __init__(self, shape: FormShape) -> None:
        self.shape = shape
        top = -(1.0 - shape.belly) * shape.depth
        bottom = shape.belly * shape.depth
        self.upper = self._side(top, -shape.stalk / 2.0)
        self.lower = self._side(bottom, shape.stalk / 2.0)

    def _side(self, extreme: float, stalk: float) -> PchipInterpolator:
        """Make one side from the snout over its extreme and the stalk to the tail's base."""
        shape = self.shape
        blunt = 0.52 * shape.steepness
        x = [0.0, 0.12 * shape.deepest, 0.5 * shape.deepest, shape.deepest, 90.0, 100.0]
        snout = shape.snout_y
        y = [
            snout,
            snout + 0.42 * blunt / 0.52 * (extreme - snout),
            snout + 0.86 * (extreme - snout),
            extreme,
            stalk,
            1.14 * stalk,
        ]
        return PchipInterpolator(x, y)

    def outline(self) -> Line:
        """Give the closed outline, first along the back."""
        x = 100.0 * (1.0 - np.cos(np.linspace(0.0, np.pi / 2.0, 60)))
        rear = np.array([[101.5, 0.0]])
        back = np.column_stack([x, self.upper(x)])
        belly = np.column_stack([x, self.lower(x)])[::-1]
        return np.vstack([back, rear, belly])


def _head_points(shape: FormShape) -> dict[str, tuple[float, float]]:
    """Landmarks of the head."""
    x, y = shape.eye
    return {
        "snout_tip": (0.0, shape.snout_y),
        "eye_front": (x - shape.eye_radius, y),
        "eye_centre": (x, y),
        "eye_back": (x + shape.eye_radius, y),
        "operculum_end": shape.gill_end,
    }


def _body_points(profile: _Profile) -> dict[str, tuple[float, float]]:
    """Landmarks of depth and stalk."""
    deep, thin = profile.shape.deepest, 90.0
    return {
        "body_top": (deep, float(profile.upper(deep))),
        "body_bottom": (deep, float(profile.lower(deep))),
        "peduncle_top": (thin, float(profile.upper(thin))),
        "peduncle_bottom": (thin, float(profile.lower(thin))),
    }


def _median_fin(
    name: str, fin: MedianFin, profile: _Profile
) -> tuple[FinLines, dict[str, tuple[float, float]]]:
    """Lines and landmarks of a fin on the back or belly."""
    below = name == "anal"
    side, out = (profile.lower, 1.0) if below else (profile.upper, -1.0)

    def at(place: tuple[float, float]) -> Line:
        level = side(min(place[0], 100.0))
        return np.array([place[0], level + out * place[1]])

    front, rear = at((fin.front, 0.0)), at((fin.rear, 0.0))
    tip, last = at(fin.tip), at(fin.last)
    dip = None if fin.dip is None else at(fin.dip)
    swell = out * np.array([0.25, 1.0]) * fin.bulge
    between = _curve(tip, last, swell) if dip is None else _through_dip(tip, dip, last, swell)
    lead = 0.06 * np.hypot(*(tip - front)) * np.array([-1.0, out])
    margin = np.vstack([_curve(front, tip, lead)[:-1], between, _curve(last, rear, 0.0 * lead)[1:]])
    base = np.array([[x, float(side(x))] for x in np.linspace(fin.front, fin.rear, RAYS)])
    lines = FinLines(margin, _rays(base, _resampled(between, RAYS)))
    points = {f"{name}_origin": front, f"{name}_tip": tip}
    if name != "adipose":
        points |= {f"{name}_end": rear, f"{name}_last_ray_tip": last}
    if dip is not None:
        points[f"{name}_dip"] = dip
    return lines, {key: (float(x), float(y)) for key, (x, y) in points.items()}


def _tail(tail: TailFin, profile: _Profile) -> tuple[FinLines, dict[str, tuple[float, float]]]:
    """Lines and landmarks of the caudal fin."""
    upper = np.array([98.5, float(profile.upper(98.5))])
    lower = np.array([98.5, float(profile.lower(98.5))])
    half = tail.span / 2.0
    y = np.linspace(-half, half, 41)
    reach = tail.middle + (tail.tips - tail.middle) * np.abs(y / half) ** tail.curve
    rear = np.column_stack([100.0 + reach, y])
    points = {
        "caudal_base": np.array([100.0, 0.0]),
        "caudal_upper_insertion": upper,
        "caudal_upper_tip": rear[0],
        "caudal_fork": np.array([100.0 + tail.middle, 0.0]),
        "caudal_lower_tip": rear[-1],
        "caudal_lower_insertion": lower,
    }
    if tail.sword is not None:
        points["sword_tip"] = np.array([100.0 + tail.sword, half + 3.0])
        sword = np.vstack([rear[-3], points["sword_tip"]])
        rear = np.vstack([rear[:-3], sword, rear[-1]])
    up = _curve(upper, rear[0], np.array([0.0, -1.5]))[:-1]
    down = _curve(points["caudal_lower_tip"], lower, np.array([0.0, 1.5]))[1:]
    base = np.column_stack([np.full(RAYS, 101.0), np.linspace(upper[1], lower[1], RAYS)])
    ends = _resampled(rear if tail.sword is None else rear[:-2], RAYS)
    lines = FinLines(np.vstack([up, rear, down]), _rays(base, ends))
    return lines, {key: (float(x), float(y)) for key, (x, y) in points.items()}


def _paired_fin(
    name: str, fin: PairedFin, profile: _Profile
) -> tuple[FinLines, dict[str, tuple[float, float]]]:
    """Lines and landmarks of the near fin of a pair; pelvic heights count from the belly."""

    def at(place: tuple[float, float]) -> Line:
        level = float(profile.lower(min(place[0], 100.0))) if name == "pelvic" else 0.0
        return np.array([place[0], level + place[1]])

    front, rear, tip = at(fin.front), at(fin.rear), at(fin.tip)
    across = np.array([tip[1] - front[1], front[0] - tip[0]]) * -0.13
    there, home = _curve(front, tip, across), _curve(tip, rear, -1.2 * across)
    points = {f"{name}_origin": front, f"{name}_end": rear, f"{name}_tip": tip}
    margin = np.vstack([there[:-1], home])
    if fin.thread is not None:
        thread = np.array([fin.thread[0], fin.thread[1]])
        points["pelvic_thread_tip"] = thread
        margin = np.vstack([there[:-1], _curve(tip, thread, np.array([-4.0, 4.0])), home])
    base = front + np.linspace(0.1, 0.9, 4)[:, None] * (rear - front)
    ends = _resampled(np.vstack([there[-6:], home[:8]]), 4)
    lines = FinLines(margin, _rays(base, ends))
    return lines, {key: (float(x), float(y)) for key, (x, y) in points.items()}


def _gill_cover(shape: FormShape) -> Line:
    """Rear edge of the gill cover, an arc through its rearmost point."""
    x, y = shape.gill_end
    angle = np.linspace(-1.15, 1.15, 21)
    radius = 0.24 * shape.depth
    return np.column_stack([x - radius * 0.75 * (1.0 - np.cos(angle)), y + radius * np.sin(angle)])


def _barbels(shape: FormShape) -> tuple[Line, ...]:
    """Two barbels under the snout."""
    if not shape.barbels:
        return ()
    mouth = np.array([1.5, shape.snout_y + 1.0])
    ends = (np.array([-3.0, 7.0]), np.array([1.5, 9.0]))
    return tuple(_curve(mouth, mouth + end, np.array([1.0, 2.0])) for end in ends)


def _curve(start: Line, end: Line, swell: Line) -> Line:
    """Quadratic curve from start to end that swells by `swell` in its middle, shape (15, 2)."""
    t = np.linspace(0.0, 1.0, 15)[:, None]
    return np.asarray(start + t * (end - start) + 4.0 * t * (1.0 - t) * swell)


def _through_dip(tip: Line, dip: Line, last: Line, swell: Line) -> Line:
    """Margin from tip over a natural dip to the last ray's tip."""
    return np.vstack([_curve(tip, dip, 0.6 * swell)[:-1], _curve(dip, last, 1.2 * swell)])


def _resampled(line: Line, count: int) -> Line:
    """Points at even distance along a line, shape (count, 2)."""
    run = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))])
    wanted = np.linspace(0.0, run[-1], count)
    return np.column_stack([np.interp(wanted, run, line[:, axis]) for axis in (0, 1)])


def _rays(base: Line, ends: Line) -> Line:
    """Pair base points with ends, shape (N, 2, 2); rays stop a little short of the margin."""
    return np.stack([base, base + 0.97 * (ends - base)], axis=1)
