"""The command as a user runs it, on drawn photos with two marks."""

import csv

import pytest


def rows(study, table):
    """Rows of a table of the study."""
    with (study / f"{table}.csv").open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def marks(folder, ends_px):
    """Write landmarks.csv with the two ends of the standard length of one fish per photo."""
    lines = ["photo,fish,landmark,x_px,y_px,u_px,state,placed_by"]
    for photo, ends in ends_px.items():
        for name, (x, y) in zip(("snout_tip", "caudal_base"), ends, strict=True):
            lines.append(f"{photo},1,{name},{x},{y},,placed,a tester")
    path = folder / "landmarks.csv"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def length(study, photo):
    """Standard length in the study: value, standard uncertainty, state, flags."""
    for row in rows(study, "measurements"):
        if (row["photo"], row["measure"]) == (photo, "standard_length"):
            value = float(row["value"]) if row["value"] else None
            u = float(row["u"]) if row["u"] else None
            return value, u, row["state"], row["flags"].split(";")
    pytest.fail(f"no standard length of {photo}")
