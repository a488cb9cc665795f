"""Notches of a fin's margin: where it stays behind its own envelope, and by how much."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from finmeasure.fins.closing import closed_with_disc, distance_to_zero, outer_rings, polygon_mask
from finmeasure.fins.records import NotchKind

Points = NDArray[np.float64]
Mask = NDArray[np.bool_]

#: Grid step and disc radius as shares of the fin's length.
GRID_STEP = 1.0 / 250.0
DISC_RADIUS = 0.5
#: A split is at most this wide (share of the fin's length) and this many times as deep as wide.
SPLIT_WIDTH = 0.06
SPLIT_DEPTH_PER_WIDTH = 2.5


@dataclass(frozen=True, slots=True, eq=False)
class FoundNotch:
    """One notch, in the plane's unit.

    Parameters
    ----------
    depth, area, wall : float
        Greatest distance to the outside of the envelope; missing area; length of the margin
        inside the notch.
    deepest, mouth : ndarray of shape (2,)
        Deepest place, and the nearest place of the envelope.
    ring : ndarray of shape (K, 2)
        Round the missing area.
    on_margin : ndarray of bool, shape (N,)
        Margin points that form its wall.
    """

    kind: NotchKind
    depth: float
    area: float
    wall: float
    deepest: Points
    mouth: Points
    ring: Points
    on_margin: NDArray[np.bool_]

    @property
    def width(self) -> float:
        """Mean width: area by depth."""
        return self.area / self.depth


@dataclass(frozen=True, slots=True, eq=False)
class Envelope:
    """A fin's envelope and the notches in it, in the plane's unit."""

    area: float
    rings: tuple[Points, ...]
    notches: tuple[FoundNotch, ...]


@dataclass(frozen=True, slots=True, eq=False)
class _Grid:
    """A fin and its envelope as masks on a grid."""

    origin: Points
    fin_length: float
    fin: Mask
    envelope: Mask

    @property
    def step(self) -> float:
        return self.fin_length * GRID_STEP

    def to_plane(self, places: Points) -> Points:
        return self.origin + np.asarray(places, float) * self.step

    def to_grid(self, points: Points) -> Points:
        return (points - self.origin) / self.step


def split_or_notch(depth: float, width: float, fin_length: float) -> NotchKind:
    """Tell a narrow split between rays from a notch that tissue is missing from.

    Parameters
    ----------
    depth, width, fin_length : float
        Depth, mean width (area by depth) and the fin's length, in one unit.

    Returns
    -------
    {"notch", "split"}
        A round bite is 1–2 times as wide as deep and a V-shaped nip 0.5 times, whatever its
        size; the limits lie beyond both.
    """
    narrow = width <= SPLIT_WIDTH * fin_length and depth >= SPLIT_DEPTH_PER_WIDTH * width
    return "split" if narrow else "notch"


def find_notches(
    margin: Points, fin_length: float, *, least_depth: float, natural: Points
) -> Envelope:
    """Compare a fin with its closing by a disc.

    Parameters
    ----------
    margin : ndarray of shape (N, 2)
        Evenly spaced and smoothed, front to rear base point; the straight base line closes it.
    fin_length : float
        Length that grid, disc and limits are shares of.
    least_depth : float
        Shallower indentations are not counted.
    natural : ndarray of shape (J, 2)
        Natural indentations on the margin, where the fin is cut into lobes.

    Returns
    -------
    Envelope
        Everything in the unit of `margin`.
    """
    grid = _masks(margin, fin_length, natural)
    missing = grid.envelope & ~grid.fin & _beyond_base(margin, grid)
    depths = np.where(
        missing, distance_to_zero(grid.envelope) * np.float32(grid.step), np.float32(0)
    )
    labels = _parts(missing, depths, least_depth)
    rings = tuple(grid.to_plane(ring) for ring in outer_rings(grid.envelope))
    walls = _walls(labels, grid.to_grid(margin))
    spacing = float(np.hypot(*(margin[1] - margin[0])))
    found = [
        _notch(labels == label, depths, grid, rings=rings, on_margin=walls == label, step=spacing)
        for label in range(1, int(labels.max()) + 1)
    ]
    found.sort(key=lambda notch: int(np.argmax(notch.on_margin)))
    return Envelope(float(grid.envelope.sum()) * grid.step**2, rings, tuple(found))


def _masks(margin: Points, fin_length: float, natural: Points) -> _Grid:
    """Fill the fin and close its lobes; the closing needs room for the disc on all sides."""
    step = fin_length * GRID_STEP
    radius = DISC_RADIUS / GRID_STEP
    room = int(np.ceil(radius)) + 3
    origin = margin.min(axis=0) - room * step
    columns, rows = np.ceil(np.ptp(margin, axis=0) / step).astype(int) + 2 * room
    fin = polygon_mask((margin - origin) / step, (int(rows), int(columns)))
    envelope = fin.copy()
    for lobe in _lobes(fin, (margin[[0, -1]].mean(axis=0) - origin) / step,
                       (natural - origin) / step):  # fmt: skip
        held = _room_round(lobe, room)
        envelope[held] |= closed_with_disc(np.ascontiguousarray(lobe[held]), radius)
    # A closing stays within the convex hull: two pixels round the fin keep all of it.
    kept = slice(room - 2, 2 - room)
    return _Grid(
        origin + (room - 2) * step, fin_length, _copied(fin, kept), _copied(envelope, kept)
    )


def _room_round(lobe: Mask, room: int) -> tuple[slice, slice]:
    """Rows and columns of a lobe and of the room round it."""
    sides = []
    for axis in (1, 0):
        places = np.flatnonzero(lobe.any(axis=axis))
        first, last = (int(places[0]), int(places[-1])) if len(places) else (0, 0)
        sides.append(slice(max(first - room, 0), last + room + 1))
    return sides[0], sides[1]


def _copied(mask: Mask, kept: slice) -> Mask:
    return np.ascontiguousarray(mask[kept, kept])


def _lobes(fin: Mask, middle: Points, natural: Points) -> list[Mask]:
    """Cut a fin along the lines from the middle of its base to the natural notches."""
    if not len(natural):
        return [fin]
    passed = sum(_right_of(middle, place, fin.shape).astype(np.int8) for place in natural)
    return [fin & (passed == count) for count in range(len(natural) + 1)]


def _beyond_base(margin: Points, grid: _Grid) -> Mask:
    """Places on the fin's side of the straight base line: the body's side loses no tissue."""
    front, rear = grid.to_grid(margin[[0, -1]])
    right = _right_of(front, rear, grid.fin.shape)
    run, away = rear - front, grid.to_grid(margin).mean(axis=0) - front
    return right if run[0] * away[1] - run[1] * away[0] > 0 else ~right


def _right_of(start: Points, stop: Points, shape: tuple[int, ...]) -> Mask:
    """Pixels to the right of the straight line from start to stop, y pointing down."""
    run = stop - start
    rows, columns = np.ogrid[: shape[0], : shape[1]]
    return np.asarray(run[0] * (rows - start[1]) > run[1] * (columns - start[0]))


def _parts(missing: Mask, depths: NDArray[np.float32], least: float) -> NDArray[np.int32]:
    """Label the missing parts that reach the least depth.

    Two deep places joined by a shallow rim only (below half of the least depth) are two notches:
    the tooth between them nearly reaches the envelope.
    """
    _, whole = cv2.connectedComponents(missing.view(np.uint8), connectivity=8)
    count, cores = cv2.connectedComponents((depths >= 0.5 * least).view(np.uint8), connectivity=8)
    labels = np.zeros(missing.shape, np.int32)
    kept = [core for core in range(1, count) if depths[cores == core].max() >= least]
    owner = {core: int(whole[cores == core][0]) for core in kept}
    for number, core in enumerate(kept, start=1):
        if sum(part == owner[core] for part in owner.values()) == 1:
            labels[whole == owner[core]] = number
        else:
            labels[_nearest_core(cores, core, whole == owner[core], kept)] = number
    return labels


def _nearest_core(cores: NDArray[np.int32], core: int, part: Mask, kept: list[int]) -> Mask:
    """Places of a part that lie nearer to one core than to the part's other kept cores."""
    others = part & np.isin(cores, [other for other in kept if other != core])
    return np.asarray(part & (distance_to_zero(cores != core) < distance_to_zero(~others)))


def _walls(labels: NDArray[np.int32], margin: Points) -> NDArray[np.int32]:
    """Label of the notch beside each margin point, 0 where there is none."""
    wide = cv2.dilate(labels.astype(np.int16), np.ones((3, 3), np.uint8))
    columns, rows = np.rint(margin).astype(int).T
    return np.asarray(wide[rows, columns], dtype=np.int32)


def _notch(
    part: Mask,
    depths: NDArray[np.float32],
    grid: _Grid,
    *,
    rings: tuple[Points, ...],
    on_margin: NDArray[np.bool_],
    step: float,
) -> FoundNotch:
    """Measure one labelled part."""
    inside = np.where(part, depths, np.float32(0.0))
    row, column = np.unravel_index(int(inside.argmax()), inside.shape)
    deepest = grid.to_plane(np.array([column, row]))
    edge = np.vstack(rings)
    depth, area = float(inside.max()), float(part.sum()) * grid.step**2
    return FoundNotch(
        kind=split_or_notch(depth, area / depth, grid.fin_length),
        depth=depth,
        area=area,
        wall=float(on_margin.sum()) * step,
        deepest=deepest,
        mouth=edge[int(np.hypot(*(edge - deepest).T).argmin())],
        ring=grid.to_plane(max(outer_rings(part), key=len)),
        on_margin=on_margin,
    )
