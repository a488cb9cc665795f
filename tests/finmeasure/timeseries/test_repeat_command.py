"""`finmeasure repeat` on real repeated digitising, against independent computations."""

import hashlib

import numpy as np
import pandas as pd
import pytest
from statsmodels.formula.api import ols
from statsmodels.stats.anova import anova_lm

from finmeasure.cli import main
from finmeasure.photo.record import PhotoMetadata
from finmeasure.reading import Landmark, Reading
from finmeasure.scale.bar import known_scale
from finmeasure.study.store import Study
from finmeasure.timeseries.repeats import PEOPLE, PHOTOS, SAME_PERSON, repeat_table

BLUEGILL = {
    1: "snout_tip",
    7: "caudal_base",
    4: "dorsal_origin",
    5: "dorsal_end",
    10: "anal_origin",
}
REEF = {"J1": "snout_tip", "C5": "caudal_base", "D1": "dorsal_origin", "D4": "dorsal_end"}


def put(study, photo, person, points, px_per_mm=None):
    """One marking of one fish; the first of a photo counts, the others are repeats."""
    if photo not in study.recorded_photos():
        sha = hashlib.sha256(photo.encode()).hexdigest()
        study.add_photo(photo, sha, metadata=PhotoMetadata(4000, 3000))
        if px_per_mm is not None:
            study.set_scale(photo, known_scale(px_per_mm, None, (4000, 3000)))
        purpose = "work"
    else:
        purpose = "repeat"
    marks = {name: Landmark(name, *point, placed_by=person) for name, point in points.items()}
    study.confirm_reading(photo, Reading("1", marks, placed_by=person), purpose=purpose)


def run(*arguments):
    """Run a command; give its exit status."""
    try:
        main([str(argument) for argument in arguments])
    except SystemExit as stop:
        return stop.code or 0
    return 0


def test_bluegill_four_repeats(shared, tmp_path, capsys):
    """Lengths of 15 of 60 real photos × 4 markings; table 04 (Gupta, MIT licence)."""
    frame = pd.read_csv(shared / "tables" / "04_bluegill_landmarks" / "landmarks_replicates.csv")
    frame = frame[frame["landmark"].isin(BLUEGILL)].dropna()
    kept = sorted(frame["image"].unique())[::4]
    frame = frame[frame["image"].isin(kept)]
    # The digitiser set the scale anew at each repeat; a photo has one: that of the first repeat.
    scales = frame.sort_values("replicate").groupby("image")["mm_per_px"].first()
    lengths = []
    with Study.open(tmp_path, create=True) as study:
        for (image, _), part in frame.groupby(["image", "replicate"]):
            points = {BLUEGILL[row.landmark]: (row.x_px, 3000 - row.y_px_up)
                      for row in part.itertuples()}  # fmt: skip
            if not {"snout_tip", "caudal_base"} <= points.keys():
                continue
            mm_per_px = scales[image]
            put(study, image, "digitiser", points, 1 / mm_per_px)
            lengths.append(
                (image, np.hypot(*np.subtract(points["snout_tip"], points["caudal_base"]))
                 * mm_per_px)
            )  # fmt: skip
    assert run("repeat", tmp_path) == 0
    assert "standard_length" in capsys.readouterr().out
    table = pd.read_csv(tmp_path / "repeat" / "repeat.csv")
    row = table[(table["measure"] == "standard_length") & (table["condition"] == SAME_PERSON)]
    # Independently: one-way analysis of variance by statsmodels on lengths formed here.
    own = pd.DataFrame(lengths, columns=["image", "length"])
    anova = anova_lm(ols("length ~ C(image)", own).fit())
    error, between = anova.loc["Residual", "mean_sq"], anova.loc["C(image)", "mean_sq"]
    assert row["sd"].item() == pytest.approx(np.sqrt(error), rel=1e-6)
    assert row["mdc95"].item() == pytest.approx(1.96 * np.sqrt(2 * error), rel=1e-6)
    k = 4
    if row["readings"].item() == k * row["objects"].item():
        icc = (between - error) / (between + (k - 1) * error)  # Shrout & Fleiss, one way
        assert row["ICC(1,1)"].item() == pytest.approx(icc, rel=1e-6)
    assert (tmp_path / "repeat" / "agreement_standard_length.png").stat().st_size > 5000


def test_observers_of_reef_fish(shared, tmp_path):
    """People and repeats told apart on real data: 6 observers × 2 rounds × 5 fish.

    Table 07 (Chang & Alfaro 2015, Methods Ecol. Evol. 7:472).
    """
    file = shared / "tables" / "07_repeat_landmarks_observers" / "fish_reliability.csv.gz"
    frame = pd.read_csv(file)
    frame = frame[frame["mark"].isin(REEF)]
    counts = frame.groupby("observer")["family"].nunique()
    people = list(counts[counts == counts.max()].index[:6])
    frame = frame[frame["observer"].isin(people)]
    rounds = frame.groupby(["family", "observer"])["sequence"].rank("dense")
    frame = frame[rounds <= 2]
    wide = frame.pivot_table(
        index=["family", "observer", "sequence"], columns="mark", values=["x", "y"]
    ).dropna()
    rows = []
    with Study.open(tmp_path, create=True) as study:
        for (family, observer, _), values in wide.iterrows():
            points = {name: (values["x"][mark], values["y"][mark]) for mark, name in REEF.items()}
            put(study, f"{family}.jpg", f"observer {observer}", points)
            base, length = (
                np.hypot(*np.subtract(points[a], points[b]))
                for a, b in (("dorsal_origin", "dorsal_end"), ("snout_tip", "caudal_base"))
            )
            rows.append((family, observer, base / length))
        found = repeat_table(study.repeat_frame())
    own = pd.DataFrame(rows, columns=["family", "observer", "ratio"])
    mine = found[found["measure"] == "dorsal_base_length_to_sl"].set_index("condition")
    # Within a person: two-way cells as the only factor, residual mean square by statsmodels.
    cells = own["family"] + own["observer"].astype(str)
    twice = own[cells.map(cells.value_counts()) > 1].assign(cell=cells)
    error = anova_lm(ols("ratio ~ C(cell)", twice).fit()).loc["Residual", "mean_sq"]
    assert mine.loc[SAME_PERSON, "sd"] == pytest.approx(np.sqrt(error), rel=1e-6)
    # Different people differ by at least as much as one person from time to time.
    assert mine.loc[PEOPLE, "sd"] >= 0.99 * mine.loc[SAME_PERSON, "sd"]
    assert mine.loc[PEOPLE, "people"] == len(people)


def test_repeated_photos_of_one_visit():
    rng = np.random.default_rng(5)
    rows = [
        (f"{fish}-{number}.jpg", f"fish {fish % 100}", f"tank {fish // 100}", "2026-01-01", "hand",
         1, True, "m", "1", 10 + fish + rng.normal(0, 0.3))
        for fish in range(200) for number in range(3)
    ]  # fmt: skip
    names = [
        "photo",
        "fish",
        "group",
        "visit",
        "placed_by",
        "ordinal",
        "current",
        "measure",
        "unit",
        "value",
    ]
    table = repeat_table(pd.DataFrame(rows, columns=names))
    (row,) = table.to_dict("records")
    assert row["condition"] == PHOTOS
    assert row["sd"] == pytest.approx(0.3, rel=0.1)  # 400 degrees of freedom: 3.5 %


def test_a_study_without_repeats_is_told_what_to_do(tmp_path, capsys):
    with Study.open(tmp_path, create=True) as study:
        put(study, "a.jpg", "hand", {"snout_tip": (0, 0), "caudal_base": (9, 9)})
    assert run("repeat", tmp_path) == 2
    assert "a second time" in capsys.readouterr().err
