"""A box of fish: odd ones in words, bad input, reference rows, sex rules."""

import numpy as np
import pytest

from finmeasure.errors import TableError
from finmeasure.quantity import Measure
from finmeasure.reading import Landmark, Reading
from finmeasure.shipment.box import CHARACTERS, BoxFish, sort_box
from finmeasure.shipment.odd_ones import find_odd, find_odd_against
from finmeasure.shipment.reference_table import compare, first_look, read_species
from finmeasure.shipment.sex_rules import tell_sex

NAMES = list(CHARACTERS)[:4]


def _fish(number, ratios, adipose="placed"):
    measures = {n: Measure(n, "1", "measured", float(v), 0.001) for n, v in ratios.items()}
    marks = {"adipose_origin": Landmark("adipose_origin", 1.0, 2.0, adipose)}
    return BoxFish(f"{number}.jpg", f"f{number}", Reading(f"f{number}", marks), measures)


def _box(count, rng, adipose="placed"):
    middle = np.array([0.30, 0.25, 0.60, 0.12])
    rows = rng.normal(middle, 0.03 * middle, (count, 4))
    return [_fish(i, dict(zip(NAMES, row, strict=True)), adipose) for i, row in enumerate(rows)]


def test_a_deep_fish_without_adipose_fin_is_told_in_words():
    rng = np.random.default_rng(1)
    box = _box(40, rng)
    ratios = {n: box[0].value(n) for n in NAMES} | {"body_depth_to_sl": 0.393}
    box[7] = _fish(7, ratios, "absent")
    result = sort_box(box)
    assert [one.fish.fish for one in result.odd] == ["f7"]
    assert "no adipose fin (39 of 40 have one)" in result.odd[0].reasons
    assert any(text.startswith("body 3") and "deeper" in text for text in result.odd[0].reasons)
    assert result.typical is not box[7]


def test_three_fish_get_no_verdict_and_no_crash():
    result = sort_box(_box(3, np.random.default_rng(2)))
    assert result.odd == ()
    assert "too few" in result.notes[0]


def test_no_fish_and_fish_without_any_ratio():
    assert "too few" in sort_box([]).notes[0]
    hidden = [_fish(i, {}, "hidden") for i in range(30)]
    assert sort_box(hidden).odd == ()


def test_all_alike_to_the_last_digit_is_no_crash():
    same = [_fish(i, dict.fromkeys(NAMES, 0.3)) for i in range(25)]
    assert sort_box(same).odd == ()


def test_a_mixed_box_says_that_there_is_no_majority():
    rng = np.random.default_rng(3)
    box = _box(24, rng)
    rows = 1.6 * rng.normal([0.3, 0.25, 0.6, 0.12], 0.003, (16, 4))
    other = [_fish(50 + i, dict(zip(NAMES, row, strict=True))) for i, row in enumerate(rows)]
    result = sort_box(box + other)
    assert sum(one.kind for one in result.odd) == 16
    assert any("mixed" in note for note in result.notes)


def test_boxes_of_equal_fish_alarm_in_one_of_twenty():
    # Both with a reference box: 5 % with three binomial standard deviations.
    rng = np.random.default_rng(4)
    alarms = sum(
        any(f.odd for f in find_odd_against(rng.normal(size=(25, 3)), rng.normal(size=(30, 3))))
        for _ in range(100)
    )
    assert alarms / 100 <= 0.05 + 3 * np.sqrt(0.05 * 0.95 / 100)


def test_a_box_all_of_another_kind_is_seen_against_the_reference():
    rng = np.random.default_rng(6)
    box = rng.normal([12.0, 0.0, 0.0], 1.0, (20, 3))
    assert all(fish.odd for fish in find_odd_against(box, rng.normal(size=(30, 3))))


def test_a_stray_at_four_deviations_in_each_character_is_found():
    rng = np.random.default_rng(5)
    alone = against = 0
    for _ in range(10):
        box = rng.normal(size=(60, 3))
        box[0] += 4.0
        verdict = find_odd(box)
        alone += verdict.fish[0].row == 0 and verdict.fish[0].odd
        first = find_odd_against(box, rng.normal(size=(60, 3)))[0]
        against += first.row == 0 and first.odd
    assert alone / 10 >= 0.80
    assert against / 10 >= 0.95


def test_few_reference_fish_are_refused():
    with pytest.raises(ValueError, match="20 are needed"):
        find_odd_against(np.ones((30, 2)), np.ones((10, 2)))


def test_reference_rows_fit_or_do_not_fit_and_say_why():
    rows, problems = read_species()
    assert problems == ()
    assert all(row.grade.startswith(("SEEN", "MEMORY")) and row.source for row in rows)
    fish = _fish(1, {"body_depth_to_sl": 0.40}, "placed")
    by_name = {fit.row.species: fit for fit in compare(fish, rows)}
    # Depth 36.9-42.6 % SL, FishBase; a tetra with an adipose fin
    assert by_name["Andromakhe tupi"].misfits == ()
    assert "does not fit" in str(by_name["Pterophyllum scalare"])
    assert all("this is" not in str(fit).lower() for fit in by_name.values())
    assert "characins" in first_look(fish)[0]


def test_a_reference_row_with_nonsense_is_named_and_left_out(tmp_path):
    file = tmp_path / "species.csv"
    file.write_text("species,dorsal,body_depth_to_sl\nA,D ii,\nB,nine rays,\nC,,deep\nD,,0.4-0.2\n")
    rows, problems = read_species(file)
    assert [row.species for row in rows] == ["A"]
    assert [f"row {n}" in problem for n, problem in zip((3, 4, 5), problems, strict=True)]
    file.write_text("species,dorsal\nB,nine rays\n")
    with pytest.raises(TableError, match="no row can be used"):
        read_species(file)


@pytest.mark.parametrize(
    ("length", "base", "size", "answer"),
    [
        # A rod of 17-20 % SL: Kelly et al. 2000, from memory; base width: common practice
        (0.19, 0.04, 16.0, "male-like"),
        (0.17, 0.10, 35.0, "female-like"),
        (0.17, 0.10, 11.0, "not told yet"),
        (0.17, 0.10, None, "not told yet"),
        (0.05, 0.01, 30.0, "female-like"),
        (None, 0.10, 30.0, "cannot tell"),
        (0.19, None, 30.0, "cannot tell"),
    ],
)
def test_rod_against_fan(length, base, size, answer):
    given = {"anal_height_to_sl": length, "anal_base_length_to_sl": base, "standard_length": size}
    measures = {n: Measure(n, "1", "measured", v) for n, v in given.items() if v is not None}
    told = tell_sex("livebearer", measures)
    assert told.answer == answer
    assert told.answer != "male-like" or "Masculinised females" in told.caution


@pytest.mark.parametrize("form", ["adipose", "inside_fertilising", "puffer", "betta+long_fin"])
def test_forms_without_a_rule_do_not_guess(form):
    assert tell_sex(form, {}).answer == "cannot tell"
