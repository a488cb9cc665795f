"""How often the stated limits hold: drawn fish whose marks are jittered by their stated u.

Used by the short form in this folder and by the long one in tests/benchmarks.
"""

from dataclasses import dataclass

import numpy as np
from scipy.stats import beta

from finmeasure.drawing.anatomy import build_fish
from finmeasure.drawing.camera import Camera
from finmeasure.drawing.forms import BODY_FORMS, random_spec
from finmeasure.drawing.marks import landmarks_mm, lengths_mm
from finmeasure.landmarks.scheme import body_forms, landmark_definitions
from finmeasure.measurements.measure import measure_reading
from finmeasure.measurements.sources import TILT_ANGLE
from finmeasure.reading import Landmark, Reading
from finmeasure.scale.calibration import Scale

SIZE_PX = (4000, 3000)


@dataclass(frozen=True)
class Case:
    """One way of photographing and marking.

    Parameters
    ----------
    shown : str
        Name in the table.
    length_px : tuple of float
        Range of the standard length in the photo.
    u_px : tuple of float or None
        Range of the stated uncertainty of the marks; None for the default of a careful person.
    u_scale : float or None
        Relative uncertainty of the scale; None for a photo without a card, tilted.
    """

    shown: str
    length_px: tuple[float, float]
    u_px: tuple[float, float] | None
    u_scale: float | None


CASES = (
    Case("card, marks to 0.5–3 px", (800, 2500), (0.5, 3.0), 0.001),
    Case("card, small fish, marks to 1 px", (80, 150), (1.0, 1.0), 0.003),
    Case("card, careful person (default u)", (500, 2000), None, 0.001),
    Case("no card, tilted camera", (800, 2500), (0.5, 3.0), None),
)


def fork_depth_mm(points):
    """Signed distance of the fork point before the line of the tips (cross product)."""
    upper, lower, fork = (
        points[name] for name in ("caudal_upper_tip", "caudal_lower_tip", "caudal_fork")
    )
    line = lower - upper
    cross = line[0] * (fork - upper)[1] - line[1] * (fork - upper)[0]
    return cross / np.hypot(*line)  # the drawn fish looks to the left, y down: forwards is positive


def drawn_fish(rng):
    """Body form, points and true lengths in mm of a fish of any drawn kind."""
    kind = list(BODY_FORMS)[rng.integers(len(BODY_FORMS))]
    points = landmarks_mm(build_fish(random_spec(rng, body_form=kind)))
    truth = dict(lengths_mm(points))
    truth["caudal_fork_depth"] = fork_depth_mm(points)
    if "pelvic_thread_tip" in points:
        truth["pelvic_thread_length"] = float(
            np.hypot(*(points["pelvic_thread_tip"] - points["pelvic_origin"]))
        )
    base = truth["standard_length"]
    ratios = {f"{name}_to_sl": value / base for name, value in truth.items()}
    ratios["fineness_ratio"] = base / truth["body_depth"]
    ratios["anal_rod_to_sl"] = ratios.get("anal_height_to_sl", np.nan)
    form = kind.partition("_female")[0].partition("_male")[0]
    # Some drawn shapes are no body forms of their own.
    return form if form in body_forms() else "plain", points, truth | ratios


def camera_of(case, length_mm, rng):
    """A camera for a case: straight with a card, tilted about both axes without one."""
    px_per_mm = rng.uniform(*case.length_px) / length_mm
    tilt = rng.normal(0, TILT_ANGLE, 2) if case.u_scale is None else np.zeros(2)
    return px_per_mm, Camera.aimed(
        SIZE_PX,
        px_per_mm,
        tilt_deg=float(np.degrees(np.hypot(*tilt))),
        tilt_axis_deg=float(rng.uniform(0, 360)),
        turn_deg=float(rng.uniform(0, 360)),
    )


def marked(points_px, case, rng):
    """Marks jittered by the uncertainty that they state."""
    axis = points_px["caudal_base"] - points_px["snout_tip"]
    length_px = np.hypot(*axis)
    axis = axis / length_px
    across = np.array([-axis[1], axis[0]])
    marks = {}
    for name, point in points_px.items():
        if case.u_px is None:
            known = landmark_definitions()[name]
            u_px, sizes = None, (known.u_along_pct_sl, known.u_across_pct_sl)
            sizes = np.array(sizes) * length_px / 100
        else:
            u_px = rng.uniform(*case.u_px)
            sizes = np.array([u_px, u_px])
        along_by, across_by = rng.normal(0, sizes)
        marks[name] = Landmark(name, *(point + along_by * axis + across_by * across), u_px=u_px)
    return marks


def one_photo(case, rng):
    """Measure one drawn fish: id → (inside its 95 % limits, relative u)."""
    form, points, truth = drawn_fish(rng)
    px_per_mm, camera = camera_of(case, truth["standard_length"], rng)
    middle = np.array([truth["standard_length"] * 0.6, 0.0])
    places = camera.to_pixel(np.array(list(points.values())) - middle)
    marks = marked(dict(zip(points, places, strict=True)), case, rng)
    scale = None
    if case.u_scale is not None:
        read = px_per_mm / (1 + rng.normal(0, case.u_scale))
        matrix = np.diag([1 / read, 1 / read, 1.0])
        scale = Scale("window_card", matrix, case.u_scale, True, (2000.0, 1500.0))
    measures = measure_reading(Reading("1", marks, body_form=form), scale, size_px=SIZE_PX)
    return {
        row.id: (abs(row.value - truth[row.id]) <= 1.96 * row.u, row.u / abs(truth[row.id]))
        for row in measures.rows
        if row.state == "measured" and np.isfinite(truth.get(row.id, np.nan))
    }


def study(case, photos, seed):
    """Outcomes of many photos: id → list of (inside, relative u)."""
    rng = np.random.default_rng(seed)
    outcomes = {}
    for _ in range(photos):
        for name, outcome in one_photo(case, rng).items():
            outcomes.setdefault(name, []).append(outcome)
    return outcomes


def limits(inside, count):
    """95 % limits of a share by Clopper and Pearson; each photo gives one outcome per measure."""
    low = beta.ppf(0.025, inside, count - inside + 1) if inside else 0.0
    high = beta.ppf(0.975, inside + 1, count - inside) if inside < count else 1.0
    return low, high
