"""Slope of the face on a drawn profile, and counts given as labels."""

import numpy as np
import pytest

from finmeasure.reading import Landmark, Outline, Reading
from finmeasure.shipment.box import BoxFish
from finmeasure.shipment.fin_formula import parse_fin_formula
from finmeasure.shipment.form_figures import face_slope_deg
from finmeasure.shipment.reference_table import (
    compare,
    counts_agree,
    counts_of,
    fits_in_words,
    read_species,
)


def _fish(slope_deg, *, turn_deg=0.0, mirrored=False, outline=True):
    """A body whose upper edge rises straight from the snout; the angle is known by construction."""
    rise = np.tan(np.radians(slope_deg))
    ring = np.array([[0, 0], [30, -30 * rise], [60, -30 * rise], [100, 0], [60, 20], [30, 20.0]])
    marks = np.array([[0, 0], [100, 0], [20, -8.0]])
    turn = np.radians(turn_deg)
    matrix = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    matrix = matrix * ([-1, 1] if mirrored else [1, 1])
    names = ("snout_tip", "caudal_base", "eye_centre")
    placed = {n: Landmark(n, *at) for n, at in zip(names, marks @ matrix.T, strict=True)}
    traced = {"body": Outline("body", ring @ matrix.T)} if outline else {}
    return Reading("1", placed, traced)


@pytest.mark.parametrize("slope_deg", [30.0, 45.0, 60.0])
@pytest.mark.parametrize(("turn_deg", "mirrored"), [(0, False), (37, False), (180, True)])
def test_face_slope_of_a_straight_forehead(slope_deg, turn_deg, mirrored):
    found = face_slope_deg(_fish(slope_deg, turn_deg=turn_deg, mirrored=mirrored))
    assert found == pytest.approx(slope_deg, abs=0.5)


def test_no_outline_gives_no_slope():
    assert face_slope_deg(_fish(40, outline=False)) is None


@pytest.mark.parametrize(
    ("counted", "known", "agree"),
    [("D III,8", "D III,7-8", True), ("D III,9", "D III,7-8", False),
     ("D ii,8", "D 2/8", True), ("D 7", "D III,7", True), ("A III", "A III,5", True),
     ("A II", "A III,5", False), ("D 10", "D III,7", True), ("D 12", "D III,7", False)],
)  # fmt: skip
def test_counts_against_a_known_formula(counted, known, agree):
    assert counts_agree(parse_fin_formula(counted), parse_fin_formula(known)) is agree


def test_labelled_counts_decide_which_rows_fit():
    # Danio rerio D 2/6, Pethia conchonius D 3/7-8, A 2-3/5: the shipped rows, from nrcrlf.gov.bt.
    rows, _ = read_species()
    labels = {"dorsal_formula": "D iii,8", "anal_formula": "A iii,5"}
    fits = {
        fit.row.species: fit
        for fit in compare(BoxFish("p", "1", Reading("1", {}), {}, labels), rows)
    }
    assert not fits["Pethia conchonius"].misfits
    assert fits["Danio rerio"].misfits


def test_counts_kept_by_the_window_decide_with_the_lateral_line():
    # Andromakhe tupi D iii,9, A iv-vi,24-27, LL 35-38; Jupiaba ajuricaba D ii,9, LL 37-41: FishBase
    rows, _ = read_species()
    labels = {"dorsal_unbranched_rays": "3", "dorsal_soft_rays": "9", "anal_soft_rays": "25",
              "lateral_line_scales": "36"}  # fmt: skip
    fish = BoxFish("p", "1", Reading("1", {}), {}, labels)
    fits = {fit.row.species: fit for fit in compare(fish, rows)}
    assert not fits["Andromakhe tupi"].misfits
    assert fits["Jupiaba ajuricaba"].misfits == (
        "D iii,9 against D ii,9", "lateral line 36 against 37-41",
    )  # fmt: skip
    # A source of its own for one cell is told beside it
    assert fits["Pterophyllum scalare"].fits[-1].endswith("against 35-45 [piglix, SEEN]")
    lines = fits_in_words(fish, rows, most=2)
    assert lines[0].startswith("Andromakhe tupi: fits")
    assert "more rows of the reference table do not fit" in lines[-1]


def test_a_count_that_cannot_be_read_is_named():
    fish = BoxFish("p", "7", Reading("7", {}), {}, {"dorsal_formula": "eight"})
    assert counts_of(fish)[0] == ()
    assert "'eight'" in counts_of(fish)[1][0]
