"""Landmark definitions, body forms and questions; and the files they come from."""

import csv
import math

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from finmeasure.errors import DefinitionError, TableError
from finmeasure.landmarks.scheme import (
    BODY_PARTS,
    body_form,
    body_forms,
    fin_definitions,
    landmark_definition,
    landmark_definitions,
    points_for,
    read_body_form,
    read_landmark_definitions,
)
from finmeasure.reading import PARTS

# The binding list of landmark names of the project's public contract.
CONTRACT_NAMES = [
    "snout_tip",
    "eye_front",
    "eye_back",
    "eye_centre",
    "operculum_end",
    "dorsal_origin",
    "dorsal_end",
    "dorsal_tip",
    "dorsal_last_ray_tip",
    "dorsal_dip",
    "second_dorsal_origin",
    "second_dorsal_end",
    "second_dorsal_tip",
    "second_dorsal_last_ray_tip",
    "adipose_origin",
    "adipose_tip",
    "caudal_base",
    "caudal_upper_insertion",
    "caudal_lower_insertion",
    "caudal_upper_tip",
    "caudal_lower_tip",
    "caudal_fork",
    "sword_tip",
    "anal_origin",
    "anal_end",
    "anal_tip",
    "anal_last_ray_tip",
    "pelvic_origin",
    "pelvic_end",
    "pelvic_tip",
    "pelvic_thread_tip",
    "pectoral_origin",
    "pectoral_end",
    "pectoral_tip",
    "body_top",
    "body_bottom",
    "peduncle_top",
    "peduncle_bottom",
]


def test_every_name_of_the_contract_is_defined_and_no_other():
    assert set(landmark_definitions()) == set(CONTRACT_NAMES)


def test_every_definition_is_one_plain_sentence_or_two_with_a_source():
    for definition in landmark_definitions().values():
        assert definition.definition.endswith(".")
        assert len(definition.definition) < 180
        assert (definition.grade == "published") == ("no source" not in definition.source)


def test_usual_uncertainty_is_that_of_two_independent_observers(shared):
    """Source: between_observers.csv, two observers on 15 photographs, % of standard length."""
    rows = observer_rows(shared, "between_observers.csv")
    compared = 0
    for name, row in rows.items():
        if int(row["n"]) < 10:  # 3 photographs say too little; the file says what is taken
            continue
        definition = landmark_definition(name)
        assert definition.u_along_pct_sl == float(row["sd_along"])
        assert definition.u_across_pct_sl == float(row["sd_across"])
        assert f"{row['n']} photographs" in definition.u_source
        compared += 1
    assert compared == 19


def observer_rows(shared, name):
    with (shared / "photos" / name).open(encoding="utf-8") as file:
        return {row["landmark"]: row for row in csv.DictReader(file)}


def test_second_dorsal_takes_the_larger_of_its_few_and_the_dorsals_many_figures(shared):
    rows = observer_rows(shared, "between_observers.csv")
    for end in ("origin", "end", "tip"):
        definition = landmark_definition(f"second_dorsal_{end}")
        pair = [rows[f"second_dorsal_{end}"], rows[f"dorsal_{end}"]]
        assert definition.u_along_pct_sl == max(float(row["sd_along"]) for row in pair)
        assert definition.u_across_pct_sl == max(float(row["sd_across"]) for row in pair)


def test_body_and_peduncle_come_from_one_observer_made_larger(shared):
    """Mean absolute difference of two normal draws is 2 sd / √π; 1.84 = 1.03 / 0.56 (README)."""
    rows = observer_rows(shared, "repeatability.csv")
    for name in ("body_top", "body_bottom", "peduncle_top", "peduncle_bottom"):
        definition = landmark_definition(name)
        factor = math.sqrt(math.pi) / 2 * 1.03 / 0.56
        along = float(rows[name]["mean_along_axis_pctSL"]) * factor
        across = float(rows[name]["mean_across_axis_pctSL"]) * factor
        assert definition.u_along_pct_sl == pytest.approx(along, abs=0.006)
        assert definition.u_across_pct_sl == pytest.approx(across, abs=0.006)


def test_landmarks_that_were_not_measured_say_so():
    for definition in landmark_definitions().values():
        told = definition.u_source.startswith(
            ("two independent observers", "one observer", "the larger of", "not measured; taken as")
        )
        assert told, definition.name


def test_every_fin_is_a_part_with_landmarks():
    for fin in fin_definitions():
        assert fin in PARTS
        assert any(d.fin == fin for d in landmark_definitions().values())


@pytest.mark.parametrize("form_id", list(body_forms()))
def test_a_body_form_holds_together(form_id):
    form = body_form(form_id)
    assert set(form.landmarks).isdisjoint(form.absent)
    assert set(form.landmarks) | set(form.absent) == set(CONTRACT_NAMES)
    assert list(form.landmarks) == [n for names in form.by_fin.values() for n in names]
    assert set(form.by_fin) - set(BODY_PARTS) == set(form.fins) == set(form.tells)
    for tell in form.tells.values():
        assert (tell.grade == "published") == (tell.source != "common practice, no source")


@pytest.mark.parametrize("form_id", list(body_forms()))
def test_each_question_asks_few_points_that_the_fish_has(form_id):
    form = body_form(form_id)
    for question in ("size", "sex", *(f"fin:{fin}" for fin in form.fins), "full"):
        points = points_for(question, form_id)
        assert {"snout_tip", "caudal_base"} <= set(points) <= set(form.landmarks)
    assert 2 <= len(points_for("sex", form_id)) <= 4
    assert len(points_for("size", form_id)) <= 4
    # total length needs the end of the tail
    assert any(name.startswith("caudal_") for name in points_for("size", form_id)[2:])


# The rows below are common practice, no source, unless the data file names one.
def test_tetras_have_an_adipose_fin_and_barbs_have_none():
    for form_id in ("adipose", "armoured_catfish", "sucker_catfish"):
        assert "adipose_tip" in body_form(form_id).landmarks
    assert "adipose" not in body_form("plain").fins
    assert "adipose_origin" in body_form("plain").absent


def test_gobies_have_the_spiny_dorsal_in_front_of_the_soft_one():
    form = body_form("two_dorsals")
    assert form.fins.index("dorsal") + 1 == form.fins.index("second_dorsal")
    assert "dorsal" in form.spiny
    assert "second_dorsal" not in form.spiny
    assert "spiny dorsal" in form.tells["dorsal"].synonyms


def test_livebearers_are_sexed_by_the_anal_fin_and_the_rod_is_that_fin():
    form = body_form("livebearer")
    assert {"anal_origin", "anal_tip"} <= set(points_for("sex", "livebearer"))
    assert {"rod", "gonopodium"} <= set(form.tells["anal"].synonyms)
    assert "fan" in form.tells["anal"].text
    assert "never female" in " ".join(form.notes)


def test_gouramis_have_thread_pelvics_and_puffers_no_pelvics_at_all():
    assert "pelvic_thread_tip" in body_form("gourami").landmarks
    assert "pelvic_thread_tip" in body_form("plain").absent
    assert "pelvic_tip" in body_form("puffer").absent


def test_the_dip_of_a_cichlid_dorsal_is_natural():
    form = body_form("cichlid")
    assert "dorsal_dip" in form.landmarks
    assert "dorsal" in form.natural_notches


def test_any_form_can_be_a_long_fin_strain():
    strain = body_form("betta+long_fin")
    assert strain.long_fin
    assert strain.id == "betta+long_fin"
    assert set(strain.free_tips) == {"dorsal", "caudal", "anal"}
    assert not body_form("betta").long_fin
    assert points_for("size", "betta+long_fin") == points_for("size", "betta")


def test_a_fin_may_be_asked_by_the_word_of_the_trade():
    assert points_for("fin:tail", "plain") == points_for("fin:caudal", "plain")


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: points_for("weight"), ["'weight'", "size, sex, fin:NAME, full"]),
        (lambda: points_for("fin"), ["'fin'", "fin:NAME"]),
        (lambda: points_for("size:dorsal"), ["'size:dorsal'"]),
        (lambda: points_for("fin:ventral"), ["two fins", "fin:pelvic", "fin:anal"]),
        (lambda: points_for("fin:pelvic", "puffer"), ["no fin 'pelvic'", "fin:dorsal"]),
        (lambda: body_form("shark"), ["'shark'", "plain", "gourami", "+long_fin"]),
        (lambda: landmark_definition("snout"), ["'snout'", "snout_tip"]),
    ],
)
def test_what_is_not_known_is_refused_with_what_is_allowed(call, words):
    with pytest.raises(DefinitionError) as caught:
        call()
    for word in words:
        assert word in str(caught.value)


GOOD = """[snout_tip]
shown = "tip"
fin = "head"
definition = "The front."
exact = "The front."
grade = "published"
source = "a book"
synonyms = ["nose"]
u_along_pct_sl = 0.1
u_across_pct_sl = 0.2
u_source = "measured"
"""


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('shown = "tip"', 'showm = "tip"', ["line 2", "'showm'", "shown"]),
        ('fin = "head"', 'fin = "hand"', ["line 3", "'hand'", "head", "caudal"]),
        ('source = "a book"\n', "", ["source is missing", "snout_tip"]),
        ("u_along_pct_sl = 0.1", "u_along_pct_sl = -1", ["line 9", "-1", "0.01 to 20"]),
        ("u_along_pct_sl = 0.1", "u_along_pct_sl = nan", ["line 9", "nan"]),
        ("u_along_pct_sl = 0.1", "u_along_pct_sl = true", ["line 9", "True"]),
        ('["nose"]', "[1]", ["line 8", "list of texts"]),
        ('["nose"]', '["nose", "nose"]', ["line 8", "twice"]),
        ('grade = "published"', 'grade = "rumour"', ["line 6", "common practice"]),
        ("[snout_tip]\n", "snout_tip = 3\n[x]\n", ["line 1", "table of keys"]),
        ('shown = "tip"', "shown = tip", ["not valid TOML", "line 2"]),
    ],
)
def test_a_wrong_definition_file_is_refused_with_file_and_line(tmp_path, old, new, words):
    path = tmp_path / "landmarks.toml"
    path.write_text(GOOD, encoding="utf-8")
    assert read_landmark_definitions(path)["snout_tip"].fin == "head"
    assert old in GOOD
    path.write_text(GOOD.replace(old, new), encoding="utf-8")
    with pytest.raises(TableError) as caught:
        read_landmark_definitions(path)
    for word in ["landmarks.toml", *words]:
        assert word in str(caught.value)


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('id = "plain"', 'id = "plain"\ncolour = "red"', ["line 3", "'colour'"]),
        ('"anal_tip"', '"anal_top"', ["line 24", "'anal_top'", "anal_tip"]),
        ("[tells.dorsal]", "[tells.adipose]", ["'adipose'", "dorsal"]),
        ('absent = ["sword_tip"', 'absent = ["snout_tip"', ["'snout_tip'", "sword_tip"]),
        ('"body_top", "body_bottom"]\nsex_note', '"pelvic_thread_tip"]\nsex_note', ["thread"]),
    ],
)
def test_a_wrong_body_form_is_refused_with_file_and_line(tmp_path, old, new, words):
    import finmeasure.landmarks.scheme as scheme

    good = (scheme._DATA / "body_forms" / "plain.toml").read_text(encoding="utf-8")
    assert old in good
    path = tmp_path / "plain.toml"
    path.write_text(good.replace(old, new), encoding="utf-8")
    with pytest.raises(TableError) as caught:
        read_body_form(path)
    for word in ["plain.toml", *words]:
        assert word in str(caught.value)


@pytest.mark.parametrize("raw", [b"\xff\xfe\x00", b"a = " + b"[" * 5000, b"=" * 2_000_000])
def test_a_hostile_definition_file_is_one_clear_line(tmp_path, raw):
    path = tmp_path / "landmarks.toml"
    path.write_bytes(raw)
    with pytest.raises(TableError) as caught:
        read_landmark_definitions(path)
    assert "\n" not in str(caught.value)
    assert len(str(caught.value)) < 300


@settings(max_examples=200, deadline=None, derandomize=True,
          suppress_health_check=[HealthCheck.function_scoped_fixture])  # fmt: skip
@given(st.integers(0, len(GOOD)), st.integers(0, 30),
       st.text(st.sampled_from("=[]{}\"'.,#0123456789-+eEnaiftrue\n\\ uU"), max_size=20)
       | st.text(max_size=5))  # fmt: skip
def test_a_changed_definition_file_gives_definitions_or_a_table_error(tmp_path, place, cut, new):
    path = tmp_path / "landmarks.toml"
    path.write_bytes((GOOD[:place] + new + GOOD[place + cut :]).encode("utf-8", "surrogatepass"))
    try:
        definitions = read_landmark_definitions(path)
    except TableError:
        return
    assert all(0 < each.u_along_pct_sl <= 20 for each in definitions.values())


def test_a_missing_definition_file_is_said(tmp_path):
    with pytest.raises(TableError, match="cannot be read"):
        read_landmark_definitions(tmp_path / "none.toml")


# Common practice, no source: the kinds that each body form names as its examples.
@pytest.mark.parametrize(
    ("typed", "form"), [("tetra", "adipose"), ("Guppy", "livebearer"), ("corydoras", "armoured")]
)
def test_a_kind_of_fish_given_as_body_form_is_told_its_form(typed, form):
    with pytest.raises(DefinitionError, match=f"For {typed} give {form}"):
        body_form(typed)
