"""
Adding a measure
================

A new length is one row of a table: its ratio to standard length, its uncertainty, its column and
its line in this handbook follow from the row. Here it is tried out before it goes into the program.
"""

from typed import SAMPLES

import finmeasure as fm

# %%
# The row
# -------
# Postorbital length: from the hind edge of the eye to the hind edge of the gill cover. Both
# landmarks exist already:

row = fm.MeasureDefinition(
    id="postorbital_length",
    shown="postorbital length",
    unit="mm",
    kind="distance",
    landmarks=("eye_back", "operculum_end"),
    formula="straight line eye_back - operculum_end",
    source="common practice, no source",
    explanation="The part of the head behind the eye.",
)

# %%
# Its value
# ---------
# Formulas take stacks of points, (times, landmarks, 2), so that a value and all that its
# uncertainty needs come from one call:

import numpy as np

from finmeasure.measurements.formulas import distance

photo = fm.read_photo(SAMPLES / "bag_7/2026-05-02_b01.jpg")
scale = fm.find_scale(photo)
reading = fm.read_landmarks(SAMPLES / "landmarks.csv").readings("bag_7/2026-05-02_b01.jpg")[0]
points_px = np.array([reading.point(name) for name in row.landmarks])
value = distance(scale.to_mm(points_px)[None])[0]
print(f"{row.shown}: {value:.3f} mm")

# %%
# Its uncertainty, a second way
# -----------------------------
# Move both landmarks at random by what the person states (``u_px`` along, ``u_across_px`` across
# the body, which lies almost level in this photo) and measure each time. A measure in the program
# propagates this without chance; the two must agree, and a test says so.

rng = np.random.default_rng(20260502)
marks = [reading.landmarks[name] for name in row.landmarks]
u_px = np.array([[mark.u_px, mark.u_across_px or mark.u_px] for mark in marks])
moved = points_px + rng.normal(size=(4000, 2, 2)) * u_px
drawn = distance(scale.to_mm(moved.reshape(-1, 2)).reshape(-1, 2, 2))
u_mm = float(np.hypot(drawn.std(ddof=1), value * scale.u_rel))
print(f"u = {u_mm:.3f} mm, {u_mm / value:.1%} of it")

from matplotlib import pyplot

figure, axes = pyplot.subplots(figsize=(7, 2.6), layout="constrained")
axes.hist(drawn, bins=50, color="#0072B2")
axes.axvline(value, color="#D55E00", linestyle="--")
axes.set_xlabel(f"{row.shown}, mm: 4000 placements of the same two landmarks")

# %%
# Into the program
# ----------------
# 1. ``finmeasure/measurements/definitions.py``: one ``_length(...)`` row with the same fields and
#    the range of plausible ratios.
# 2. ``tests/finmeasure/measurements/``: two kinds of truth, one of them from outside.
# 3. ``make benchmark`` adds the coverage of its uncertainty to the method page.
#
# The command ``finmeasure measure``, the report, the window and `every measure <../measures.html>`_
# then show it without further work.
