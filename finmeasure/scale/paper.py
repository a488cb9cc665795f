"""The scale from square paper that is not ours: its spacing must be told."""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from finmeasure.errors import NotFound
from finmeasure.scale import budget, corners, quality
from finmeasure.scale.calibration import BudgetLine, Scale
from finmeasure.scale.fold import finest_lines
from finmeasure.scale.lattice import Lattice, find_lattices
from finmeasure.scale.orientation import oriented
from finmeasure.scale.plane_fit import Frame, PlaneFit, fit_plane, start_homography

Array = NDArray[np.float64]
Index = NDArray[np.intp]
Gray = NDArray[np.uint8]
REACHES = (2, 4, 7, 12, 20, 34, 58, 100, 170, 300, 300)  # squares from the first crossing
FEWEST_AT_FIRST = 9
RADIAL_FROM = 40  # crossings
MOST_CROSSINGS = 1500  # measured at one reach; more add nothing
FEWEST_SQUARES = 8  # each way
LARGEST_RESIDUAL = 0.03  # of a square
LEAST_SHARE_FOUND = 0.1  # of the crossings asked for; fewer are chance
LEAST_SHARE_KEPT = 0.75  # of the crossings found that lie on one plane
LEAST_WITH_EVERY_SECOND_BOLD_MM = 2.0
LEAST_AREA = 0.03  # of the photo
LINE_POINTS = 25  # a drawn line bends as the lens bends it
WIDENED = 3.0  # the fit's own u: coverage of simulated photos (docs/method/scale.md)
U_FLOOR = 0.0005
U_PAPER = 0.002  # printing and humidity of paper that was not measured; assumed
NO_PAPER = NotFound(
    "No square paper is found in the photo.",
    "Place it flat behind the fish, sharp and filling most of the photo, or use our printed card.",
)


@dataclass(slots=True, eq=False)
class _Crossings:
    """Crossings measured so far: their number along both directions, and their places."""

    index: Index
    places_px: Array

    def kept(self, which: NDArray[np.bool_]) -> _Crossings:
        return _Crossings(self.index[which], self.places_px[which])

    def joined(self, more: _Crossings) -> _Crossings:
        return _Crossings(
            np.concatenate([self.index, more.index]),
            np.concatenate([self.places_px, more.places_px]),
        )


@dataclass(frozen=True, slots=True, eq=False)
class FoundPaper:
    """Square paper as it was found, so that a person can check the numbers of its lines.

    Parameters
    ----------
    scale : Scale
        In the plane of the paper.
    squares : Scale
        Mapping from photo pixels to squares of the paper's finest lines: a whole number of the
        first coordinate is a line of one direction, of the second a line of the other.
    first, last : tuple of int
        Lowest and highest line of each direction that was measured.
    """

    scale: Scale
    squares: Scale
    first: tuple[int, int]
    last: tuple[int, int]

    @property
    def counted(self) -> tuple[int, int]:
        """Squares between the outermost lines, along both directions."""
        return self.last[0] - self.first[0], self.last[1] - self.first[1]

    def lines_px(self, every: int = 10) -> list[tuple[int, Array]]:
        """Give each `every`-th line with its number, counted from the first of its direction.

        Returns
        -------
        list of tuple of int and ndarray of shape (N, 2), pixels (x, y)
            Lines of one direction, then of the other.
        """
        found = []
        for direction in (0, 1):
            low, high = self.first[1 - direction], self.last[1 - direction]
            for number in range(0, self.counted[direction] + 1, every):
                line = np.empty((LINE_POINTS, 2))
                line[:, direction] = self.first[direction] + number
                line[:, 1 - direction] = np.linspace(low, high, LINE_POINTS)
                found.append((number, self.squares.to_px(line)))
        return found


def paper_scale(pixels: NDArray[np.uint8], square_mm: float) -> Scale | NotFound:
    """Find square paper and make its scale; as :func:`find_paper`, without the lines."""
    found = find_paper(pixels, square_mm)
    return found if isinstance(found, NotFound) else found.scale


def find_paper(pixels: NDArray[np.uint8], square_mm: float) -> FoundPaper | NotFound:
    """Find square paper and make its scale.

    A first patch is found in the power spectrum of tiles; from there crossings are measured to a
    fraction of a pixel, outwards, each turn with a better fit.

    Parameters
    ----------
    pixels : ndarray of shape (H, W, 3), uint8, RGB
        The photo.
    square_mm : float
        Spacing of the finest lines that the photo shows. It cannot be read from the picture.

    Returns
    -------
    FoundPaper or NotFound
    """
    gray = _clearest_channel(pixels)
    frame = Frame.of_size(gray.shape[1], gray.shape[0])
    first: NotFound | None = None
    for lattice in find_lattices(gray):
        dark_lines = gray if lattice.dark_lines else 255 - gray
        grown = _grow(dark_lines, lattice, frame)
        if grown is None:
            continue
        refused = _refusal(*grown, gray.shape)
        if refused is None:
            return _confirmed(dark_lines, *grown, square_mm=square_mm)
        first = refused if first is None else first
    return NO_PAPER if first is None else first


def _clearest_channel(pixels: NDArray[np.uint8]) -> Gray:
    """Take the colour channel in which fine structure stands out most: lines may be coloured."""
    small = pixels[:: max(1, len(pixels) // 300), :: max(1, len(pixels) // 300)].astype(np.float32)
    fine = np.abs(small - cv2.blur(small, (5, 5))).mean(axis=(0, 1))
    channel = int(np.argmax(fine))
    if fine[channel] > 1.15 * fine[1]:
        return np.ascontiguousarray(pixels[..., channel])
    return np.asarray(cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY), np.uint8)


def _grow(gray: Gray, lattice: Lattice, frame: Frame) -> tuple[PlaneFit, _Crossings] | None:
    """Measure crossings outwards from the first patch."""
    first = _first_crossings(gray, lattice)
    start = start_homography(first.places_px, first.index.astype(float), frame, 0.1)
    if len(first.index) < FEWEST_AT_FIRST or start is None:
        return None
    found, fit = first, _fit(first, frame, start[0])
    for reach in REACHES[1:]:
        if fit is None or fit.used.sum() < FEWEST_AT_FIRST:
            return None
        asked = _candidates(found, fit, reach, gray.shape)
        more = _measure(gray, fit, asked)
        if len(more.index) >= LEAST_SHARE_FOUND * len(asked) > 0:
            found = found.kept(fit.used).joined(more)
            fit = _fit(found, frame, fit.parameters)
    return None if fit is None else (fit, found)


def _fit(found: _Crossings, frame: Frame, start: Array) -> PlaneFit | None:
    return fit_plane(
        found.places_px,
        found.index.astype(float),
        frame,
        start=start,
        with_radial=len(found.index) >= RADIAL_FROM,
    )


def _first_crossings(gray: Gray, lattice: Lattice) -> _Crossings:
    """Measure the crossings round the first one, where the lattice is regular."""
    index = _square_of(REACHES[0], 1)
    places = lattice.crossing_px + index @ lattice.steps_px.T
    steps = np.broadcast_to(lattice.steps_px, (len(index), 2, 2))
    return _measured(gray, index, places, steps)


def _candidates(found: _Crossings, fit: PlaneFit, reach: int, shape: tuple[int, ...]) -> Index:
    """Numbers of crossings within reach that are in the photo and not yet measured."""
    every = max(1, round(2 * reach / np.sqrt(MOST_CROSSINGS)))
    index = _square_of(reach, every)
    mapping = fit.mapping()
    places = mapping.to_px(index.astype(float))
    height, width = shape[:2]
    there = ((places > 0) & (places < [width, height])).all(axis=1)
    # Beyond the horizon of a tilted plane the mapping turns back: such places are not meant.
    there &= np.abs(mapping.to_mm(places) - index).max(axis=1) < 1e-3
    return np.asarray(index[there & ~np.isin(_numbered(index), _numbered(found.index))])


def _numbered(index: Index) -> Index:
    """Give each crossing one number, so that sets of them compare fast."""
    return np.asarray(index[:, 0] * 10_000 + index[:, 1])


def _square_of(reach: int, every: int) -> Index:
    """Numbers from −reach to reach along both directions, each `every`-th, shape (N, 2)."""
    along = np.arange(-(reach // every) * every, reach + 1, every)
    return np.stack(np.meshgrid(along, along), axis=-1).reshape(-1, 2).astype(np.intp)


def _measure(gray: Gray, fit: PlaneFit, index: Index) -> _Crossings:
    mapping = fit.mapping()
    places = mapping.to_px(index.astype(float))
    if not len(index):
        return _Crossings(index, places)
    steps = np.linalg.inv(mapping.mm_per_px_at(places))
    return _measured(gray, index, places, np.asarray(steps, float))


def _measured(gray: Gray, index: Index, places_px: Array, steps_px: Array) -> _Crossings:
    """Refine crossings, and leave out those that do not look like one."""
    square_px = float(np.median(np.sqrt(np.abs(np.linalg.det(steps_px)))))
    half = corners.half_window(0.45 * square_px)
    keep = corners.inside(gray, places_px, half + 1)
    index, places_px, steps_px = index[keep], places_px[keep], steps_px[keep]
    if not len(index):
        return _Crossings(index, places_px)
    refined, good = corners.refine(gray, places_px, half)
    good &= corners.crossings_look_right(gray, refined, 0.5 * steps_px)
    good &= np.hypot(*(refined - places_px).T) <= 0.3 * square_px
    return _Crossings(index[good], refined[good])


def _refusal(fit: PlaneFit, crossings: _Crossings, shape: tuple[int, ...]) -> NotFound | None:
    """Check that what was found is square paper, flat and large enough."""
    mapping = fit.mapping()
    used = crossings.kept(fit.used)
    counted = np.ptp(used.index, axis=0)
    if len(used.index) < LEAST_SHARE_KEPT * len(crossings.index):
        return NO_PAPER
    if counted.min() < FEWEST_SQUARES:
        return NotFound(
            f"Only {counted[0]} × {counted[1]} squares of paper can be measured; at least "
            f"{FEWEST_SQUARES} each way are needed.",
            "Show more of the square paper, sharp and without glare.",
        )
    steps = np.linalg.inv(mapping.mm_per_px_at(used.places_px))
    off = fit.residual_px / float(np.median(np.sqrt(np.abs(np.linalg.det(steps)))))
    if off > LARGEST_RESIDUAL or fit.residual_px > quality.LARGEST_RESIDUAL_PX:
        return NotFound(
            f"The paper's lines lie {off:.3f} squares ({fit.residual_px:.1f} px) off a flat grid; "
            f"at most {LARGEST_RESIDUAL:g} squares and {quality.LARGEST_RESIDUAL_PX:g} px are "
            "allowed.",
            "Flatten the paper: it is bent, wet or seen through curved glass.",
        )
    hull = cv2.convexHull(used.places_px.astype(np.float32))
    share = cv2.contourArea(hull) / (shape[0] * shape[1])
    if share < LEAST_AREA:
        return NotFound(
            f"The square paper fills {100 * share:.1f} % of the photo; at least "
            f"{100 * LEAST_AREA:g} % are needed.",
            "Go nearer, or zoom in.",
        )
    return quality.tilt_refusal(mapping)


def _confirmed(
    gray: Gray, fit: PlaneFit, crossings: _Crossings, *, square_mm: float
) -> FoundPaper | NotFound:
    """Make the scale, unless the paper's bold lines contradict the spacing that was given."""
    used = crossings.kept(fit.used)
    finer, every_second = finest_lines(gray, fit.mapping(), used.index)
    if every_second and square_mm < LEAST_WITH_EVERY_SECOND_BOLD_MM:
        return NotFound(
            f"Every second line of the paper is bold, as on paper with 5 and 10 mm lines, but "
            f"squares of {square_mm:g} mm were given.",
            "Give the spacing of the finest lines that the photo shows, or go nearer.",
        )
    return FoundPaper(
        _scale_of(fit, used, square_mm, finer),
        _in_squares(fit.mapping(), finer),
        _pair(finer * used.index.min(axis=0)),
        _pair(finer * used.index.max(axis=0)),
    )


def _in_squares(bare: Scale, finer: int) -> Scale:
    """Count the finest lines instead of those that were measured."""
    return replace(bare, pixel_to_mm=np.diag([finer, finer, 1.0]) @ bare.pixel_to_mm)


def _pair(numbers: Index) -> tuple[int, int]:
    return int(numbers[0]), int(numbers[1])


def _scale_of(fit: PlaneFit, used: _Crossings, square_mm: float, finer: int) -> Scale:
    """Make the scale; its note says what was counted, so that a person can confirm the spacing."""
    bare = fit.mapping()
    counted = finer * np.ptp(used.index, axis=0)
    region = cv2.convexHull(used.places_px.astype(np.float32)).reshape(-1, 2).astype(float)
    middle = bare.to_mm([used.places_px.mean(axis=0)])[0]
    scale = oriented(bare, middle, np.full(2, finer * square_mm))
    scale = replace(scale, method="square_paper", region_px=region)
    ends = _typical_lengths_px(used)
    lines = (
        BudgetLine(
            "fit",
            WIDENED * fit.u_of_lengths(ends),
            f"{len(used.index)} crossings, each {fit.residual_px:.2f} px off",
        ),
        BudgetLine("corners", U_FLOOR, "crossing errors that go together: blur and lens"),
        BudgetLine(
            "paper",
            U_PAPER,
            f"{counted[0]} × {counted[1]} squares counted as {square_mm:g} mm each, not measured",
        ),
    )
    return budget.with_flags(budget.with_lines(scale, lines), "print_unchecked")


def _typical_lengths_px(used: _Crossings) -> Array:
    """Choose ends of lengths across the middle of what was measured, shape (N, 2, 2)."""
    low, high = np.quantile(used.places_px, [0.25, 0.75], axis=0)
    middle = (low + high) / 2
    return np.array(
        [
            [[low[0], middle[1]], [high[0], middle[1]]],
            [[middle[0], low[1]], [middle[0], high[1]]],
            [low, high],
            [[low[0], high[1]], [high[0], low[1]]],
        ]
    )
