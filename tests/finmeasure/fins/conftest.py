"""Drawn fins with known truth, and the closing by shapely as an independent second way."""

from dataclasses import dataclass, replace

import cv2
import numpy as np
import pytest
import shapely
import shapely.ops

from finmeasure.drawing.fin_photo import DrawnFin, FinView, draw_fin_photo
from finmeasure.drawing.spec import FinSpec
from finmeasure.fins.edge import refine_margin
from finmeasure.fins.measure import measure_fin
from finmeasure.fins.records import BASE_POINTS
from finmeasure.reading import Landmark, Outline, Reading
from finmeasure.scale.calibration import Scale

# Depth of each kind's own feature, share of the longest ray (methods: emarginate 12 %,
# fork 55 %, scallops 2.5 %).
KIND_DEPTHS = {
    "rounded": 0.12, "truncate": 0.1, "emarginate": 0.12, "forked": 0.55, "triangular": 0.4,
    "scalloped": 0.025, "lobed": 0.1, "long_rayed": 0.3, "comb": 0.12,
}  # fmt: skip
SMOOTH_KINDS = ("rounded", "truncate", "emarginate", "forked", "triangular", "scalloped")
CAUDAL_KINDS = ("emarginate", "forked")
GOOD = FinView(blur_px=0.8, noise=3.0, jpeg_quality=92, contrast=70.0)
POOR = FinView(blur_px=1.6, noise=6.0, jpeg_quality=70, contrast=40.0)
STANDARD_LENGTH_MM = 30.0
CLICK_PX, BODY_CLICK_PX = 1.0, 1.5


def fin_spec(kind, **changes):
    """A 10 mm fin of a kind; forked and emarginate ones are tails."""
    part = "caudal" if kind in CAUDAL_KINDS else "dorsal"
    upright = {"rear_mm": 4.0, "first_ray_deg": 40.0, "last_ray_deg": -40.0}
    level = {"rear_mm": 8.0, "first_ray_deg": 115.0, "last_ray_deg": 40.0}
    own = upright if part == "caudal" else level
    return replace(
        FinSpec(part, kind, length_mm=10.0, depth=KIND_DEPTHS[kind], ray_count=12, **own), **changes
    )


@dataclass(frozen=True)
class Photographed:
    """A drawn fin with the marks that a person would have placed."""

    drawn: DrawnFin
    gray: np.ndarray
    reading: Reading
    rough_px: np.ndarray

    @property
    def part(self):
        return self.drawn.spec.part

    @property
    def length_px(self):
        return self.drawn.length_mm * self.drawn.px_per_mm

    def scale(self):
        mm_per_px = 1.0 / self.drawn.px_per_mm
        return Scale("known", np.diag([mm_per_px, mm_per_px, 1.0]), 0.0, True, (0.0, 0.0))

    def traced(self):
        """Margin that the edge follower finds."""
        return refine_margin(self.gray, self.rough_px, 0.22 * self.length_px)

    def measured(self, margin_px=None, *, scale=None, **options):
        margin = self.traced() if margin_px is None else margin_px
        outline = Outline(self.part, margin)
        return measure_fin(self.part, outline, self.reading, scale, gray=self.gray, **options)

    def true_edge(self):
        """Figures of the true margin, without photo and clicks."""
        outline = Outline(self.part, self.drawn.margin_px)
        return measure_fin(self.part, outline, self.reading, None)


def photographed(spec, view, rng, *, clicks=True):
    """Draw a fin and mark it with careful clicks (sd 1 px; body 1.5 px)."""
    drawn = draw_fin_photo(spec, view, rng)
    reach = STANDARD_LENGTH_MM
    body_mm = [(-reach, 0.0), (0.0, 0.0)] if spec.part == "caudal" else [
        (-reach / 2, reach / 6), (reach / 2, reach / 6)
    ]  # fmt: skip
    body = dict(zip(("snout_tip", "caudal_base"), drawn.to_pixel(body_mm), strict=True))
    ends = dict(zip(BASE_POINTS[spec.part], drawn.margin_px[[0, -1]], strict=True))
    marks = {
        name: _clicked(name, at, sd * clicks, rng)
        for named, sd in ((drawn.landmarks | ends, CLICK_PX), (body, BODY_CLICK_PX))
        for name, at in named.items()
    }
    gray = cv2.cvtColor(drawn.pixels, cv2.COLOR_RGB2GRAY)
    reading = Reading("1", marks)
    return Photographed(drawn, gray, reading, _rough(drawn, reading, rng))


def _clicked(name, at, sd, rng):
    x, y = rng.normal(at, sd) if sd else at
    return Landmark(name, float(x), float(y), u_px=max(sd, 0.05))


def _rough(drawn, reading, rng):
    """The whole fin's margin as a coarse net would give it: 25 points, 1 % of S off."""
    whole = drawn.whole_margin_px
    places = np.linspace(0, len(whole) - 1, 25).astype(int)
    rough = whole[places] + rng.normal(0, 0.01 * drawn.length_mm * drawn.px_per_mm, (25, 2))
    first, last = BASE_POINTS[drawn.spec.part]
    rough[0], rough[-1] = reading.point(first), reading.point(last)
    return rough


def least_counted(edge, length_px):
    """Depth from which a notch counts in a photo, as a share of the fin's length."""
    return max(0.022, 3.25 * 0.5 * max(1.0, edge.blur_px) / length_px)


def fork_of(drawn):
    """The true fork point where the fin is cut into lobes."""
    return [drawn.landmarks["caudal_fork"]] if drawn.spec.kind == "forked" else []


@dataclass(frozen=True)
class Closing:
    """Notch area and depth (% of envelope, % of S) and count by polygon offsetting."""

    area: float
    depth: float
    count: int


def closing_by_shapely(margin, fin_length, *, natural=(), least=0.03, radius=0.5):
    """Close a fin's polygon with a disc by shapely's buffers instead of distance transforms."""
    fin = shapely.Polygon(margin).buffer(0)
    disc = radius * fin_length
    envelope = shapely.union_all([
        lobe.buffer(disc, quad_segs=128).buffer(-disc, quad_segs=128)
        for lobe in _lobes(fin, margin, natural)
    ] + [fin])  # fmt: skip
    outside = envelope.boundary
    missing = envelope.difference(fin).intersection(_beyond_base(margin))
    parts = [part for part in getattr(missing, "geoms", [missing]) if part.geom_type == "Polygon"]
    deep = [
        (part.area, shapely.distance(shapely.points(_dense(part)), outside).max())
        for part in parts
        if part.area > 1e-6 * fin.area
    ]
    counted = [(area, depth) for area, depth in deep if depth >= least * fin_length]
    return Closing(
        100.0 * sum(area for area, _ in counted) / envelope.area,
        100.0 * max((depth for _, depth in counted), default=0.0) / fin_length,
        len(counted),
    )


def _dense(part):
    return np.array(part.exterior.segmentize(part.length / 400).coords)


def _lobes(fin, margin, natural):
    if not len(natural):
        return [fin]
    middle = (margin[0] + margin[-1]) / 2
    far = middle + (np.asarray(natural[0]) - middle) * 50
    back = middle - (np.asarray(natural[0]) - middle) * 50
    halves = shapely.ops.split(fin, shapely.LineString([back, far]))
    return list(halves.geoms)


def _beyond_base(margin):
    run = (margin[-1] - margin[0]) * 50
    away = np.array([-run[1], run[0]])
    away = away * np.sign(away @ (margin.mean(axis=0) - margin[0]))
    return shapely.Polygon([margin[0] - run, margin[-1] + run, margin[-1] + run + away,
                            margin[0] - run + away])  # fmt: skip


@pytest.fixture
def rng():
    return np.random.default_rng(20261125)
