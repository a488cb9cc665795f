"""Real fish with published lengths; the data lie beside the project and are not part of it."""

import csv
import gzip
import io
from dataclasses import replace

import numpy as np
import pytest

from finmeasure.measurements.measure import measure_reading
from finmeasure.reading import Landmark, Reading
from finmeasure.scale.bar import bar_scale
from finmeasure.scale.request import Bar

# Bishop et al., BluegillMorphologyDataDOC (MIT): meaning of their landmark numbers.
BLUEGILL = {
    "1": "snout_tip",
    "2": "eye_back",
    "4": "dorsal_origin",
    "5": "dorsal_end",
    "7": "caudal_base",
    "9": "anal_end",
    "10": "anal_origin",
    "12": "pelvic_origin",
    "19": "eye_front",
}


def table(path):
    raw = path.read_bytes()
    text = (gzip.decompress(raw) if path.suffix == ".gz" else raw).decode()
    return list(csv.DictReader(io.StringIO(text)))


@pytest.fixture(scope="module")
def bluegills(shared):
    """Landmarks by name (y down) and mm per pixel of each published photo."""
    fish = {}
    for row in table(shared / "tables/04_bluegill_landmarks/landmarks_417_fish.csv"):
        points, _ = fish.setdefault((row["image"], row["record"]), ({}, float(row["mm_per_px"])))
        if row["landmark"] in BLUEGILL:
            points[BLUEGILL[row["landmark"]]] = (float(row["x_px"]), -float(row["y_px_up"]))
    return fish


def test_standard_length_and_eye_of_417_bluegills(shared, bluegills, reading_of, card_scale):
    published = {
        row["fishID"]: (float(row["stdLength"]), float(row["eyeWidth"]))
        for row in table(shared / "tables/04_bluegill_landmarks/eyewidthsFINAL.csv")
    }
    assert len(bluegills) == 417
    for (image, _), (points, mm_per_px) in bluegills.items():
        measures = measure_reading(reading_of(points), card_scale(1 / mm_per_px), edges=False)
        length, eye = published[image]
        assert measures.by_id["standard_length"].value == pytest.approx(length, abs=0.001)
        assert measures.by_id["eye_diameter"].value == pytest.approx(eye, abs=0.001)


def photo_marks(shared):
    """Marks of the real photos, as placed by hand: photo → landmarks."""
    photos = {}
    for row in table(shared / "photos/landmarks.csv"):
        placed = row["state"] == "placed"
        at = (float(row["x_px"]), float(row["y_px"])) if placed else (np.nan, np.nan)
        u_px, across = (float(row[key] or "nan") for key in ("u_px", "u_across_px"))
        mark = Landmark(row["landmark"], *at, row["state"], u_px)
        if np.isfinite(across):
            mark = replace(mark, u_across_px=across)
        photos.setdefault(row["photo"], {})[row["landmark"]] = mark
    return photos


def test_marked_photos_give_the_side_that_was_noted_and_plausible_ratios(shared):
    # photos.csv: facing as noted by eye; all these fish stand upright, so facing names the side.
    noted = {row["photo"]: row["facing"] for row in table(shared / "photos/photos.csv")}
    photos = photo_marks(shared)
    assert len(photos) >= 10
    for photo, marks in photos.items():
        measures = measure_reading(Reading("1", marks), None)
        assert measures.side == noted[photo], photo
        assert measures.notes == (), photo
        assert not [row.id for row in measures.rows if "implausible" in row.flags], photo


def test_eye_of_the_bluegill_with_a_ruler(shared, truth):
    known = {row["quantity"]: float(row["value"]) for row in truth("bluegill_with_ruler")}
    eye = {
        name: Landmark(name, known[f"{name}_x"], known[f"{name}_y"], u_px=known["eye_u"])
        for name in ("eye_front", "eye_back")
    }
    fish = Reading("1", photo_marks(shared)["bluegill_with_ruler.jpg"] | eye)
    ruler = Bar(
        known["ruler_x1"], known["ruler_y"], known["ruler_x2"], known["ruler_y"],
        known["ruler_length"], click_sd_px=2.0,
    )  # fmt: skip
    scale = bar_scale(ruler)
    # The ruler's tick period was measured by Fourier analysis at 34.31 px/mm (photo's provenance).
    assert scale.px_per_mm == pytest.approx(34.31, rel=0.005)
    measures = measure_reading(fish, scale, size_px=(4256, 2832)).by_id
    width = measures["eye_diameter"]
    assert width.state == "measured"
    assert abs(width.value - known["eye_width"]) <= 1.96 * width.u
    assert width.u < 0.05 * known["eye_width"]  # an interval that says something
    for needs_tail in (
        "standard_length", "total_length", "fork_length", "peduncle_length", "caudal_length",
        "caudal_span", "caudal_fork_depth", "dorsal_height_to_sl", "eye_diameter_to_sl",
    ):  # fmt: skip
        assert measures[needs_tail].state == "hidden", needs_tail
    assert measures["head_length"].state == measures["body_depth"].state == "measured"


def coral_fish(shared):
    """Points of each coral-reef fish: landmarks, and tail tips from the outline (y down)."""
    folder = shared / "tables/05_coralfish_outlines_landmarks"
    marks, outlines = {}, {}
    for row in table(folder / "landmarks12.csv"):
        point = (float(row["x"]), -float(row["y_up"]))
        marks.setdefault(row["specimen"], {})[row["landmark"]] = np.array(point)
    for row in table(folder / "outlines.csv.gz"):
        outlines.setdefault(row["specimen"], []).append((float(row["x"]), -float(row["y_up"])))
    for specimen, points in marks.items():
        # Drawn over the outlines, 2 is the foremost point; 1, though called snout in the list that
        # came with the data, is the corner of the lower jaw below and behind it.
        snout, base = points["2"], (points["5"] + points["6"]) / 2
        axis = (base - snout) / np.hypot(*(base - snout))
        outline = np.array(outlines[specimen])
        along, across = (outline - base) @ axis, (outline - base) @ (-axis[1], axis[0])
        upper = outline[np.argmax(np.where(across < 0, along, -np.inf))]
        lower = outline[np.argmax(np.where(across >= 0, along, -np.inf))]
        yield specimen, {
            "snout_tip": snout, "caudal_base": base,
            "caudal_upper_tip": upper, "caudal_lower_tip": lower,
        }  # fmt: skip


def test_total_length_of_coral_reef_fish_against_the_written_lengths(shared, reading_of):
    # Quitzau et al. 2022, Ecology and Evolution 12:e8787: lengths measured with a rule and written
    # in the specimens' names, outlines and landmarks from the photos.
    folder = shared / "tables/05_coralfish_outlines_landmarks"
    written = {
        row["specimen"]: float(row["TL_cm_in_name"]) / float(row["SL_cm_in_name"])
        for row in table(folder / "lengths_from_specimen_names.csv")
        if row["TL_cm_in_name"] and row["SL_cm_in_name"]
    }
    ratios, inside = [], []
    for specimen, points in coral_fish(shared):
        if specimen in written:
            fish = reading_of(points, u_px=None)
            found = measure_reading(fish, None, question="size").by_id["total_length_to_sl"]
            assert {"not_rectified", "u_default"} <= set(found.flags)
            ratios.append(found.value / written[specimen])
            inside.append(abs(found.value - written[specimen]) <= 1.96 * found.u)
    assert len(ratios) >= 70
    assert np.median(ratios) == pytest.approx(1, abs=0.005)  # the bar is 1 %; +0.06 % found
    assert np.mean(inside) >= 0.9
