"""
Your own Python script
======================

``import finmeasure as fm`` is the front door: photo, scale, marks, measures, tables.
"""

# sphinx_gallery_thumbnail_number = 1
from typed import SAMPLES

import finmeasure as fm

photo = fm.read_photo(SAMPLES / "bag_7/2026-05-02_b01.jpg")
photo

# %%
# The scale comes with the budget of its uncertainty:

scale = fm.find_scale(photo)
scale

# %%
# "Not found" is a value, not an error, and it is false; it says what to do:

blurred = fm.read_photo(SAMPLES / "refused/blurred.jpg")
nothing = fm.propose(blurred)
print(bool(nothing), "-", nothing)

# %%
# Marks of a person, from a table, drawn on the photo:

marks = fm.read_landmarks(SAMPLES / "landmarks.csv")
marks = marks.joined(fm.read_outlines(SAMPLES / "outlines.csv"))
reading = marks.readings("bag_7/2026-05-02_b01.jpg")[0]
reading.plot(scale.plot(photo.plot()))

# %%
# Measure:

fish = fm.measure_reading(reading, scale, gray=photo.gray())
fish

# %%

fish.plot()

# %%
# One number with its uncertainty, and all of them as a data frame:

length = fish.by_id["standard_length"]
print(f"{length.value:.2f} {length.unit}, u = {length.u:.2f} {length.unit}")
fish.to_frame().head()

# %%
# The program's own marks can be measured too. They are proposals until a person confirms them:

proposal = fm.propose(photo)[0]
guess = fm.measure_reading(proposal.reading, scale, gray=photo.gray()).by_id["standard_length"]
print(f"proposed: {guess.value:.2f} mm, u = {guess.u:.2f} mm")

# %%
# What a study holds, as pandas tables (an empty one is made here; give the folder of yours):

import tempfile

with fm.Study.open(tempfile.mkdtemp(), create=True) as study:
    tables = {name: study.table(name) for name in ("photos", "measurements", "fish")}
print({name: list(table.columns)[:6] for name, table in tables.items()})
