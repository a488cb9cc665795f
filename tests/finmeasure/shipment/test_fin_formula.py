"""Fin formulas as printed in FishBase and textbooks parse and print back."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from finmeasure.errors import DefinitionError
from finmeasure.shipment.fin_formula import (
    LATERAL_LINE,
    count_label,
    formulas_of,
    parse_fin_formula,
)


@pytest.mark.parametrize(
    ("text", "printed"),
    [
        ("D ii,9", "D ii,9"),  # Jupiaba ajuricaba, FishBase
        ("A iv-v,23-27", "A iv-v,23-27"),  # the same
        ("D I,7", "D I,7"),  # Trigonostigma heteromorpha, FishBase
        ("A II-III,5", "A II-III,5"),  # Pethia ticto, Maurya et al. 2018
        ("D. XV-XVII/7-9", "D XV-XVII,7-9"),  # Trichogaster lalius, printed with a stroke
        ("D iii-iv,8", "D iii-iv,8"),  # Pethia nankyweensis, FishBase
        ("D ii,7½", "D ii,7½"),  # half ray, Rasbora, FishBase
        ("D VI+I,6-8", "D VI,I,6-8"),  # goby, two dorsals
    ],
)
def test_printed_formulas(text, printed):
    formula = parse_fin_formula(text)
    assert str(formula) == printed
    assert parse_fin_formula(str(formula)) == formula


def test_soft_total_counts_unbranched_rays():
    # FishBase Morphology, Jupiaba ajuricaba: dorsal ii,9 and "Dorsal soft rays (total) 11".
    assert parse_fin_formula("D ii,9").soft_total == (11, 11)


def test_a_count_outside_the_range_does_not_fit():
    run = parse_fin_formula("A iii,16-19").runs[1]
    assert run.holds(17)
    assert not run.holds(20)


@pytest.mark.parametrize("text", ["", "nine rays", "D", "D III,,8", "Q III,8", "D 9 or"])
def test_nonsense_is_refused_with_an_example(text):
    with pytest.raises(DefinitionError, match="D III,8"):
        parse_fin_formula(text)


@given(st.integers(1, 45), st.integers(1, 60), st.sampled_from("DAPVC"))
def test_written_counts_read_back(spines, rays, fin):
    first = parse_fin_formula(f"{fin} {rays}")
    assert first.runs[0].low == rays
    roman = str(parse_fin_formula(f"{fin} I,{rays}").runs[0])
    assert roman == "I"
    from finmeasure.shipment.fin_formula import FinFormula, RayCount

    formula = FinFormula(fin, (RayCount("spine", spines, spines), RayCount("soft", rays, rays)))
    assert parse_fin_formula(str(formula)) == formula


def test_counts_of_labels_are_written_in_the_usual_notation():
    """Notation as in FishBase and the Michigan glossary: Roman spines, lower-case unbranched."""
    labels = {
        "dorsal_spines": "3", "dorsal_soft_rays": "8", "anal_unbranched_rays": "4",
        "anal_soft_rays": "24", "pelvic_soft_rays": "about 7", "sex": "male",
    }  # fmt: skip
    written = [str(one) for one in formulas_of(labels)]
    assert written == ["D III,8", "A iv,24"]
    assert [str(parse_fin_formula(one)) for one in written] == written
    two = formulas_of({"dorsal_spines": "6", "second_dorsal_soft_rays": "9"})
    assert [str(one) for one in two] == ["D1 VI", "D2 9"]
    assert count_label("", LATERAL_LINE) == LATERAL_LINE
    with pytest.raises(DefinitionError, match="Allowed"):
        count_label("nose", "spines")
