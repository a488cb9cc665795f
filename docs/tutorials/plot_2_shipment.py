"""
A shipment
==========

A bag of 46 fish, three of them of another kind, some below the paid size.
"""

import tempfile
from pathlib import Path

import pandas as pd
from matplotlib import pyplot
from typed import copy_samples, type_command

bench = Path(tempfile.mkdtemp())
copy_samples(bench / "photos", "bag_7/*.jpg")

# %%
# The tables beside the photos say what was paid (``groups.csv``: 48 fish of 25 mm and more) and
# whose sex somebody could tell (``labels.csv``).

pd.read_csv(bench / "photos" / "groups.csv").T.dropna()

# %%
# Measure the folder. The photos' names say group, date and fish:

type_command(
    "measure photos --study my_study --landmarks photos/landmarks.csv "
    '--outlines photos/outlines.csv --name-pattern "{group}/{date}_{fish}"',
    bench,
)

# %%
# Sort
# ----

type_command("sort my_study --group bag_7", bench)

# %%
# The page ``sort.html`` shows each odd fish beside a typical one. The three strays of this invented
# bag are ``b09``, ``b27`` and ``b38``. It never says "this is kind X".
#
# Sizes against the paid grade
# ----------------------------

fish = pd.read_csv(bench / "my_study" / "fish.csv")
figure, axes = pyplot.subplots(figsize=(7, 3), layout="constrained")
axes.hist(fish.standard_length, bins=16, color="#0072B2", edgecolor="white")
axes.axvline(25, color="#D55E00", linestyle="--")
axes.text(25, axes.get_ylim()[1] * 0.92, " paid: 25 mm and more", color="#D55E00")
axes.set_xlabel("standard length, mm")
axes.set_ylabel("fish")

# %%
# The record for the supplier
# ---------------------------

type_command("report my_study --kind condition --group bag_7 --out claim.pdf", bench)
