"""Hand-traced fish of the open photographs in the shared folder, read plainly."""

import csv

import numpy as np
import shapely

from finmeasure.reading import Landmark, Outline, Reading

csv.field_size_limit(10**7)


def rows(path):
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def photos_with(shared, part):
    """Photos on which a part was traced."""
    return sorted(
        {row["photo"] for row in rows(shared / "photos" / "outlines.csv") if row["part"] == part}
    )


def fish_of(shared, photo):
    """All marks and closed outlines on one photo."""
    marks = {
        row["landmark"]: Landmark(
            row["landmark"], float(row["x_px"] or "nan"), float(row["y_px"] or "nan"),
            row["state"], float(row["u_px"]) if row["u_px"] else None,
        )
        for row in rows(shared / "photos" / "landmarks.csv") if row["photo"] == photo
    }  # fmt: skip
    outlines = {
        row["part"]: Outline(row["part"], np.array(shapely.from_wkt(row["wkt"]).exterior.coords),
                             closed=True)
        for row in rows(shared / "photos" / "outlines.csv") if row["photo"] == photo
    }  # fmt: skip
    return Reading("1", marks, outlines)
