"""The table of measures against the contract and the landmark scheme."""

from pathlib import Path

import pytest

from finmeasure.errors import DefinitionError
from finmeasure.landmarks.scheme import body_forms, landmark_definitions
from finmeasure.measurements.definitions import (
    HEADLINE,
    MEASURES,
    measure_definition,
    measures_of_landmark,
)

# Ids of the public contract.
LENGTHS = (
    "standard_length", "total_length", "fork_length", "head_length", "snout_length",
    "eye_diameter", "body_depth", "predorsal_length", "prepelvic_length", "preanal_length",
    "peduncle_depth", "peduncle_length", "dorsal_base_length", "dorsal_height",
    "anal_base_length", "anal_height", "pelvic_length", "pectoral_length", "caudal_length",
    "caudal_span", "caudal_fork_depth",
)  # fmt: skip
OTHERS = ("caudal_aspect_ratio", "fineness_ratio", "anal_rod_to_sl", "anal_rod_width_to_sl")
FIN_FIGURES = (
    "area", "notch_area", "notch_depth", "notch_count", "split_count", "relative_length",
)  # fmt: skip


def test_every_measure_of_the_contract_is_there():
    ratios = [f"{name}_to_sl" for name in LENGTHS if name != "standard_length"]
    fins = [
        f"{fin}_{figure}"
        for fin in ("dorsal", "second_dorsal", "caudal", "anal")
        for figure in (*FIN_FIGURES, "change", "erosion")
    ]
    assert set(MEASURES) >= {*LENGTHS, *ratios, *OTHERS, *fins}
    assert {MEASURES[name].unit for name in LENGTHS} == {"mm"}
    assert {MEASURES[name].unit for name in (*ratios, *OTHERS)} == {"1"}
    assert MEASURES["caudal_area"].unit == "mm2"
    assert MEASURES["caudal_notch_depth"].unit == "%"


def test_headline_ratios_come_first_then_raggedness():
    order = list(MEASURES)
    assert order[:3] == list(HEADLINE)
    assert HEADLINE == ("dorsal_height_to_sl", "caudal_fork_depth_to_sl", "pelvic_length_to_sl")
    assert all(name.endswith("_notch_area") for name in order[3:7])
    assert order[7] == "standard_length"


def test_names_shown():
    assert MEASURES["pelvic_length"].shown == "ventral (pelvic) fin length"
    assert "raggedness (notch area)" in MEASURES["dorsal_notch_area"].shown
    shown = [row.shown for row in MEASURES.values()]
    assert len(set(shown)) == len(shown)


@pytest.mark.parametrize("row", MEASURES.values(), ids=lambda row: row.id)
def test_each_row_is_complete(row):
    assert row.source
    assert row.formula
    assert row.explanation.endswith(".")
    assert set(row.landmarks) <= set(landmark_definitions())
    assert bool(row.landmarks) == (row.kind not in ("fin_edge", "over_time"))
    assert all(part in MEASURES for part in row.parts)
    assert set(row.body_forms) <= set(body_forms())
    assert row.plausible is None or row.plausible[0] < row.plausible[1]


def test_plausible_range_of_total_length():
    # facts on length–length relations: SL/TL 0.65–0.90 for fish without filaments.
    low, high = MEASURES["total_length_to_sl"].plausible
    assert (1 / high, 1 / low) == pytest.approx((0.65, 0.90))


def test_unknown_measure_names_what_is_allowed():
    with pytest.raises(DefinitionError, match=r"'length'.*standard_length"):
        measure_definition("length")


def test_page_of_methods_lists_every_measure_as_it_is():
    page = (Path(__file__).parents[3] / "docs/method/measures.md").read_text(encoding="utf-8")
    for row in MEASURES.values():
        line = f"| {row.id} | {row.shown} | {row.unit} | {row.formula} |"
        assert line in page, f"{row.id}: run the benchmark test_table_of_definitions"
        assert row.source in page


def test_measures_of_a_landmark():
    assert "total_length" in measures_of_landmark("caudal_fork")
    assert "dorsal_height_to_sl" in measures_of_landmark("snout_tip")
    assert measures_of_landmark("sword_tip") == ()


# Common practice, no source: which measures a body form can have at all.
@pytest.mark.parametrize(
    ("form", "landmark", "has"),
    [
        ("plain", "adipose_tip", False),
        ("adipose", "adipose_tip", True),
        ("gourami", "pelvic_thread_tip", True),
        ("plain", "pelvic_thread_tip", False),
        ("two_dorsals", "second_dorsal_origin", True),
        ("puffer", "pelvic_tip", False),
    ],
)
def test_body_forms_have_their_landmarks(form, landmark, has):
    assert (landmark in body_forms()[form].landmarks) is has
    assert (landmark in body_forms()[form].absent) is not has
