"""The trade's words for landmarks, fins and parts."""

import pytest

from finmeasure.landmarks.names import match_fin, match_landmark, match_part, nearest
from finmeasure.landmarks.scheme import fin_definitions, landmark_definitions
from finmeasure.reading import PARTS


def test_every_contract_name_is_itself_without_a_note():
    for name in landmark_definitions():
        assert match_landmark(name).name == name
        assert match_landmark(name).note == ""
    for part in PARTS:
        assert match_part(part).name == part


def test_no_word_means_two_landmarks_or_two_fins():
    words = [w for d in landmark_definitions().values() for w in d.synonyms]
    assert len(set(words)) == len(words)
    assert set(words).isdisjoint(landmark_definitions())
    fin_words = [w for d in fin_definitions().values() for w in d.synonyms]
    assert len(set(fin_words)) == len(fin_words)


# Common practice, no source: what keepers call the points and fins.
@pytest.mark.parametrize(
    ("typed", "name"),
    [
        ("nose", "snout_tip"),
        ("Tail Base", "caudal_base"),
        ("tail-fork", "caudal_fork"),
        ("tail_upper_tip", "caudal_upper_tip"),
        ("back fin tip", "dorsal_tip"),
        ("fat_fin_tip", "adipose_tip"),
        ("gill_cover", "operculum_end"),
        ("gonopodium_tip", "anal_tip"),
        ("soft dorsal origin", "second_dorsal_origin"),
        ("  SNOUT_TIP ", "snout_tip"),
    ],
)
def test_the_words_of_the_trade_are_understood(typed, name):
    assert match_landmark(typed).name == name


@pytest.mark.parametrize("typed", ["ventral_tip", "Ventral fin origin", "ventral-end"])
def test_ventral_is_read_as_pelvic_and_the_mapping_is_told(typed):
    match = match_landmark(typed)
    assert match.name.startswith("pelvic_")
    assert match.ask
    assert "read as pelvic" in match.note
    assert "anal" in match.note


def test_tail_is_the_caudal_fin_and_whole_the_fish():
    assert match_fin("tail").name == match_part("tail").name == "caudal"
    assert not match_fin("tail").ask
    assert match_fin("ventral").ask
    assert match_part("whole").name == "fish"


@pytest.mark.parametrize("typed", ["snout_tp", "", "x" * 100_000, "dorsal\ntip\x00", "🐟"])
def test_an_unknown_name_is_a_value_that_says_what_is_allowed(typed):
    found = match_landmark(typed)
    if typed.startswith("dorsal"):
        assert "dorsal_tip" in str(found)
        return
    assert not found
    assert "snout_tip" in str(found)
    assert len(str(found)) < 1000


def test_nothing_near_is_said_by_nothing():
    assert nearest("qqqq", ["snout_tip"]) == ""
