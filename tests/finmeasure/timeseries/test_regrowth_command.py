"""`finmeasure regrowth` and `plan` end to end on the drawn treatment of the sample photos."""

import csv
import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pypdfium2
import pytest
from pandas.testing import assert_frame_equal

from finmeasure.fins.measure import measure_fin
from finmeasure.study.series_queries import records_frame
from finmeasure.study.store import Study

from .test_repeat_command import run

SAMPLES = Path(__file__).parents[3] / "sample_images"
DAYS = ("2026-03-01", "2026-03-06", "2026-03-26")


@pytest.fixture(scope="module")
def study(tmp_path_factory):
    """Three fish at three visits, measured with the marks of the samples."""
    folder = tmp_path_factory.mktemp("regrowth")
    photos = folder / "photos" / "treatment"
    photos.mkdir(parents=True)
    for day in DAYS:
        for fish in ("ember", "flint", "moss"):
            shutil.copy(SAMPLES / "treatment" / f"{day}_{fish}.jpg", photos)
    target = folder / "study"
    status = run("measure", folder / "photos", "--study", target, "--jobs", 0,
                 "--landmarks", SAMPLES / "landmarks.csv", "--outlines", SAMPLES / "outlines.csv",
                 "--name-pattern", "{group}/{date}_{fish}")  # fmt: skip
    assert status == 0
    for name in ("groups", "events", "water"):
        shutil.copy(SAMPLES / f"{name}.csv", target)
    labels = [("fish", "character", "value", "set_by"), ("flint", "whole_reference", "all", "demo"),
              ("moss", "whole_reference", "caudal", "demo")]  # fmt: skip
    with (target / "labels.csv").open("w", newline="") as file:
        csv.writer(file).writerows(labels)
    return target


@pytest.fixture(scope="module")
def changes(study):
    assert run("regrowth", study) == 0
    return pd.read_csv(study / "regrowth" / "changes.csv").set_index(["fish", "fin", "visit"])


def test_the_early_dip_and_the_regrowth_are_seen(changes):
    # Share of ember's tail that was drawn as missing: 15, 21 and 3 % (drawing/scenario.py),
    # a fray and a bite besides.
    missing = np.array([15.0, 21.0, 3.0])
    found = changes.loc["ember"].loc["caudal"]["change_pct"].to_numpy()[1:]
    true = 100 * ((100 - missing[1:]) / (100 - missing[0]) - 1)
    u = changes.loc["ember"].loc["caudal"]["change_u"].to_numpy()[1:]
    assert np.isnan(changes.loc["ember"].loc["caudal"]["change_pct"].iloc[0])
    assert (np.abs(found - true) < 2 * u).all()
    assert found[0] < 0 < found[1]


def test_a_fish_that_only_grew_is_not_called_changed(changes):
    # flint grows by 13 % and its fins with it.
    flint = changes.loc["flint"]
    assert flint["standard_length"].max() > 1.1 * flint["standard_length"].min()
    assert not (flint["verdict"] == "changed").any()
    assert not (flint["erosion_verdict"] == "tissue missing").any()


def test_erosion_runs_against_mates_and_says_so(changes):
    ember = changes.loc["ember"].loc["caudal"]
    assert (ember["reference"] == "2 whole mates of group treatment").all()
    assert ember["flags"].str.contains("few_fish").all()
    anal = changes.loc["ember"].loc["anal"]
    assert anal["reference"].str.startswith("1 whole mate").all()


def test_what_the_keeper_gets(study, changes, capsys):
    folder = study / "regrowth"
    page = (folder / "regrowth.html").read_text(encoding="utf-8")
    assert "The caudal fin is not spread" in page  # moss, clamped at the first visits
    assert 'src="data:image/png' in page
    assert "no diagnosis" in page or "Cautions" in page
    text = "".join(
        one.get_textpage().get_text_range()
        for one in pypdfium2.PdfDocument(folder / "regrowth.pdf")
    )
    assert "ember" in text
    assert len(list(folder.glob("fin_*_before_and_after.jpeg"))) >= 3
    assert run("report", study, "--kind", "regrowth", "--out", study / "r.pdf") == 0
    # `measure` had written report.html, with the same page in it
    assert "Change over time" in (study / "report.html").read_text(encoding="utf-8")
    assert run("report", study, "--kind", "regrowth", "--out", study / "r.docx") == 2
    assert "ending must be" in capsys.readouterr().err


def test_export_holds_change_and_erosion(study, changes, tmp_path):
    assert run("export", study, "--out", tmp_path) == 0
    table = pd.read_csv(tmp_path / "measurements.csv")
    later = table[(table["fish"] == "ember") & (table["photo"].str.contains("03-26"))]
    rows = later.set_index("measure")
    expected = changes.loc["ember", "caudal", "2026-03-26"]
    assert rows.loc["caudal_change", "value"] == pytest.approx(expected["change_pct"])
    assert rows.loc["caudal_erosion", "value"] == pytest.approx(expected["erosion_pct"])
    sectors = [rows.loc[f"caudal_change_{number}", "value"] for number in range(1, 6)]
    assert np.mean(sectors) == pytest.approx(expected["change_pct"], abs=3)
    assert rows.loc["pelvic_change", "unit"] == "%"
    assert "caudal_change" in pd.read_csv(tmp_path / "fish.csv").columns


def test_without_a_reference_erosion_is_refused(study, tmp_path):
    copy = tmp_path / "study"
    shutil.copytree(study, copy)
    with Study.open(copy) as opened:
        opened.add_labels([])
        change = opened.change_over_time()
        frame = opened.fin_frame()
    assert len(frame) == len(change.records)
    assert_frame_equal(frame, records_frame(change.records))  # kept figures are the same figures
    dorsal = [one for one in change.judged if one.series.fin == "dorsal"]
    assert all(one.reference is not None for one in dorsal if one.series.fish != "flint")
    flint = next(one for one in dorsal if one.series.fish == "flint")
    assert flint.reference is None  # a fish is never its own mate, and moss's dorsal is not whole
    assert "no whole fin" in flint.regrowth_reason


def test_notches_of_a_series_are_shares_of_the_fin_at_the_first_visit(study):
    with Study.open(study) as opened:
        records = [r for r in opened.change_over_time().records if r.fish == "ember"]
        first, *_, last = [record for record in records if record.fin == "caudal"]
        (stored,) = opened.current_readings(last.photo)
        scale = opened.scale_of(last.photo)
    edge = measure_fin("caudal", stored.reading.outlines["caudal"], stored.reading, scale,
                       reference_length_mm=first.relative_length * last.sl_mm)  # fmt: skip
    assert last.notch_area == pytest.approx(edge.by_id["caudal_notch_area"].value)
    assert last.notch_depth == pytest.approx(edge.by_id["caudal_notch_depth"].value)


def test_plan_writes_a_table_from_the_study(study, capsys):
    assert run("plan", study, "--change", 5, "--draws", 1000) == 0
    table = pd.read_csv(study / "repeat" / "plan.csv")
    assert table["power"].between(0, 1).all()
    assert "of 100 series" in capsys.readouterr().out
    assert run("plan", study, "--fin", "wing") == 2


def test_a_table_of_whole_fins_tells_what_is_missing(study, tmp_path, capsys):
    copy = tmp_path / "study"
    shutil.copytree(study, copy)
    (copy / "labels.csv").unlink()
    with Study.open(copy) as opened:
        for label in opened.labels():
            opened.add_labels([replace(label, value="none whole")])
    # Straight lengths / SL of whole tails, from the drawing's own truth of flint, which only grew.
    truth = pd.read_csv(SAMPLES / "truth.csv")
    whole = truth[(truth["fish"] == "flint") & (truth["quantity"] == "caudal_length_to_sl")]
    table = tmp_path / "species.csv"
    table.write_text(
        "name,fin,length_to_sl,sd,kind\n"
        f"invented handbook,caudal,{whole['value'].mean():.4f},0.02,blue lanternback (invented)\n"
        "invented handbook,anal,0.2,0.02,a kind nobody has\n",
        encoding="utf-8",
    )
    assert run("regrowth", copy, "--reference", table) == 0
    assert "a kind nobody has" in capsys.readouterr().err
    changes = pd.read_csv(copy / "regrowth" / "changes.csv").set_index(["fish", "fin", "visit"])
    ember = changes.loc["ember"].loc["caudal"]
    assert (ember["reference"] == "species row invented handbook, straight length").all()
    assert ember["erosion_pct"].iloc[1] > ember["erosion_pct"].iloc[2]
    missing = ember["erosion_pct"].to_numpy() - ember["erosion_u"].to_numpy() * 1.96
    assert missing[1] > 0
    flint = changes.loc["flint"].loc["caudal"]
    assert not (flint["erosion_verdict"] == "tissue missing").any()
    assert run("regrowth", copy, "--reference", tmp_path / "none.csv") == 2
