"""
First fish
==========

From one photo to a length with its uncertainty, by the command line, in three steps.
"""

# sphinx_gallery_thumbnail_number = 1
import tempfile
from pathlib import Path

from matplotlib import pyplot
from typed import copy_samples, type_command

bench = Path(tempfile.mkdtemp())
copy_samples(bench / "photos", "bag_7/2026-05-02_b01.jpg")

# %%
# Print a card
# ------------
# The smallest sheet that holds a fish of 30 mm:

type_command("card --for-fish 30 --out card.pdf", bench)

# %%
# Measure
# -------
# The photo lies in the folder ``photos``. Nobody has marked the fish, so the program does:

type_command("measure photos --study first_study", bench)

# %%
# The picture in ``overlays`` shows what was marked. Look at it before you believe a number:

picture = next((bench / "first_study" / "overlays").glob("*.jpg"))
figure, axes = pyplot.subplots(figsize=(8, 5.2), layout="constrained")
axes.imshow(pyplot.imread(picture))
axes.set_axis_off()

# %%
# The numbers
# -----------
# ``measurements.csv`` holds every number with its standard uncertainty ``u`` (k = 1):

import pandas as pd

table = pd.read_csv(bench / "first_study" / "measurements.csv")
table[table.state == "measured"][["measure", "value", "u", "unit", "flags"]].head(12)

# %%
# Marks of a careful person are better than the program's. Given as a table, they are measured
# instead; the length's ± shrinks:

type_command("measure photos --study first_study --landmarks photos/landmarks.csv", bench)
again = pd.read_csv(bench / "first_study" / "measurements.csv").set_index("measure")
again.loc[["standard_length", "dorsal_height_to_sl"], ["value", "u", "unit", "placed_by"]]

# %%
# The photo is drawn, so the true length is known: 29.48 mm (``sample_images/truth.csv``).
