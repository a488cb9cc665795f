"""What the keeper knows comes back as it was given; giving it twice changes nothing."""

import pytest
from study_samples import result_of

from finmeasure.errors import StudyError
from finmeasure.exchange.inputs import EventRow, GroupRow, LabelRow, WaterRow
from finmeasure.study.records import CameraRow, CardPrintRow, ReferenceRow

BAG = GroupRow(
    "bag 7",
    kind="bag",
    body_form="adipose",
    came_from="an invented exporter",
    box="B2",
    bag="7",
    invoiced=48,
    grade_mm_from=20.0,
    grade_mm_to=25.0,
    alive=46,
    dead=2,
    opened_at="2026-05-03T09:30",
    claim_until="2026-05-04T09:30",
)


def test_groups_come_back_and_keep_what_a_later_row_does_not_say(study):
    study.set_groups([BAG, GroupRow("tank 2")])
    study.set_groups([GroupRow("bag 7", alive=45)])
    expected = GroupRow(**{**{f: getattr(BAG, f) for f in BAG.__dataclass_fields__}, "alive": 45})
    assert study.groups() == (expected, GroupRow("tank 2"))


def test_group_that_a_photo_named_first_can_be_described_later(study):
    study.record_photo_result(result_of(1))
    study.set_groups([GroupRow("tank 1", kind="tank")])
    assert study.groups() == (GroupRow("tank 1", kind="tank"),)


def test_group_without_a_name_is_refused(study):
    with pytest.raises(StudyError, match="no group"):
        study.set_groups([GroupRow(" ")])


def test_events_given_twice_are_there_once(study):
    rows = [
        EventRow("tank 1", "2026-05-01", "water change", "half"),
        EventRow("tank 1", "2026-05-02", "death", fish="red 7"),
    ]
    assert study.add_events(rows) == 2
    assert study.add_events([*rows, EventRow("", "2026-05-03", "power cut")]) == 1
    assert study.events("tank 1") == tuple(rows)
    assert len(study.events()) == 3


def test_water_test_is_corrected_not_doubled(study):
    study.add_water([WaterRow("tank 1", "2026-05-01T08:00", "ammonia", 0.5, "mg/l")])
    study.add_water([WaterRow("tank 1", "2026-05-01T08:00", "ammonia", 0.05, "mg/l")])
    assert study.water() == (WaterRow("tank 1", "2026-05-01T08:00", "ammonia", 0.05, "mg/l"),)
    assert study.water("tank 2") == ()


def test_labels_of_two_people_stand_side_by_side(study):
    study.record_photo_result(result_of(1))
    numbered = LabelRow("1", "sex", "male", "Keeper", result_of(1).photo)
    rows = [LabelRow("red 7", "sex", "male", "Keeper"), LabelRow("red 7", "sex", "female", "Buyer")]
    study.add_labels([*rows, numbered])
    study.add_labels([LabelRow("red 7", "sex", "not told yet", "Keeper")])
    assert set(study.labels()) == {
        LabelRow("red 7", "sex", "not told yet", "Keeper"),
        rows[1],
        numbered,
    }


def test_label_for_a_bare_number_needs_the_photo(study):
    with pytest.raises(StudyError, match="only a number within a photo"):
        study.add_labels([LabelRow("3", "sex", "male")])


def test_wrong_row_leaves_none_of_its_table_behind(study):
    with pytest.raises(StudyError):
        study.add_labels([LabelRow("red 7", "sex", "male"), LabelRow("3", "sex", "male")])
    assert study.labels() == ()


def test_references_cards_cameras_and_settings_come_back(study):
    reference = ReferenceRow(
        "own_record", "caudal", "red 7", "tank 1", "", {"visit": "2026-04-01"}, "Keeper", "2026-05"
    )
    card = CardPrintRow("card A6", "window-A6-1", 100.0, 99.8, 120.0, 119.9, 0.02, "2026-05-01")
    camera = CameraRow("Invented A1", 26.0, {"radial": 0.01}, "2026-05-01")
    study.declare_reference(reference)
    study.add_card_print(card)
    study.add_camera(camera)
    study.set_setting("repeat", {"u": 0.1})
    study.set_setting("repeat", {"u": 0.2})
    assert study.references() == (reference,)
    assert study.card_prints() == (card,)
    assert study.cameras() == (camera,)
    assert study.setting("repeat") == {"u": 0.2}
    assert study.setting("never set") is None
