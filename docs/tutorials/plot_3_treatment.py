"""
A treatment
===========

Fins of fish under treatment, photographed every five days: is the change real?
"""

import tempfile
from pathlib import Path

from matplotlib import pyplot
from typed import copy_samples, type_command

bench = Path(tempfile.mkdtemp())
copy_samples(bench / "photos", "treatment/*.jpg")

# %%
# Four fish, six visits. ``ember`` loses more of its tail before it grows back; ``reed`` heals a
# bite and a slit; ``flint`` and ``moss`` are declared whole (``labels.csv``), so that what is
# missing from the others can be told.

type_command(
    "measure photos --study my_study --landmarks photos/landmarks.csv "
    '--outlines photos/outlines.csv --name-pattern "{group}/{date}_{fish}"',
    bench,
)

# %%
# Change over time
# ----------------
# Each verdict is one of three: changed, no change to be seen, cannot tell.

type_command("regrowth my_study", bench)

# %%
# The first of the pictures it drew. The band is what this set-up can be trusted
# with; a change inside it is none.

drawn = sorted((bench / "my_study" / "regrowth").glob("fin_*_over_time.png"))
figure, axes = pyplot.subplots(figsize=(8, 4.6), layout="constrained")
axes.imshow(pyplot.imread(drawn[0]))
axes.set_axis_off()

# %%
# What would it take to see a smaller change?
# -------------------------------------------

type_command("plan my_study", bench)

# %%
# A fin record is a dated measurement, not a diagnosis. Red or fluffy edges, several fish affected,
# or deaths: ask a veterinarian.
