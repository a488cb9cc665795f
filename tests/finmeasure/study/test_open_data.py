"""Tables for the world: Darwin Core Archive and Data Package, against the published standards.

Truth: names of terms as TDWG publishes them (tests/truth/darwin_core_terms.csv, source there);
structure of meta.xml from the Darwin Core text guide (http://rs.tdwg.org/dwc/text/, its schema
tdwg_dwc_text.xsd); rules of Data Package and Table Schema version 2 (https://datapackage.org);
UUIDs by Python's own reader (RFC 9562).
"""

import csv
import io
import json
import re
import uuid
import zipfile
from pathlib import Path
from xml.etree import ElementTree

import pytest
from study_samples import fish_of, measures_of, result_of

from finmeasure.exchange.inputs import GroupRow, LabelRow

TRUTH = Path(__file__).parents[2] / "truth" / "darwin_core_terms.csv"
NAMESPACE = "{http://rs.tdwg.org/dwc/text/}"
TERMS = "http://rs.tdwg.org/dwc/terms/"


def published_terms():
    lines = [line for line in TRUTH.read_text().splitlines() if not line.startswith("#")]
    found = {}
    for row in csv.DictReader(lines):
        found.setdefault(row["class"], set()).add(row["term"])
    return found


@pytest.fixture
def filled(study):
    for number in (1, 2):
        study.record_photo_result(result_of(number, fish=(fish_of(number, "1"),)))
    return study


def tables_of(file):
    """Read an archive as its meta.xml says, knowing nothing else: {row type: [{term: cell}]}."""
    with zipfile.ZipFile(file) as archive:
        root = ElementTree.fromstring(archive.read("meta.xml"))
        assert root.tag == f"{NAMESPACE}archive"
        read = {}
        for element in root:
            assert element.tag in (f"{NAMESPACE}core", f"{NAMESPACE}extension")
            name = element.find(f"{NAMESPACE}files/{NAMESPACE}location").text
            text = archive.read(name).decode(element.get("encoding"))
            assert text.endswith(element.get("linesTerminatedBy").encode().decode("unicode_escape"))
            rows = list(
                csv.reader(
                    io.StringIO(text, newline=""),
                    delimiter=element.get("fieldsTerminatedBy"),
                    quotechar=element.get("fieldsEnclosedBy"),
                )
            )[int(element.get("ignoreHeaderLines")) :]
            fields = {
                field.get("term"): int(field.get("index"))
                for field in element.findall(f"{NAMESPACE}field")
            }
            key = "id" if element.tag.endswith("core") else "coreid"
            key_index = int(element.find(f"{NAMESPACE}{key}").get("index"))
            read[element.get("rowType").removeprefix(TERMS)] = [
                {"key": row[key_index]} | {term: row[index] for term, index in fields.items()}
                for row in rows
            ]
        return read


def test_every_term_is_one_that_the_standard_publishes(filled, tmp_path):
    (file,) = filled.export("dwc", tmp_path)
    read = tables_of(file)
    published = published_terms()
    assert set(read) == set(published)
    for row_type, rows in read.items():
        used = {term for term in rows[0] if term != "key"}
        assert used
        assert used <= {TERMS + name for name in published[row_type]}


def test_measurements_carry_value_unit_accuracy_method_and_their_occurrence(filled, tmp_path):
    read = tables_of(filled.export("dwc", tmp_path)[0])
    occurrences = {row["key"]: row for row in read["Occurrence"]}
    assert len(occurrences) == 2
    assert all(uuid.UUID(key).urn == key for key in occurrences)
    rows = read["MeasurementOrFact"]
    assert {row["key"] for row in rows} <= set(occurrences)
    assert len({row[TERMS + "measurementID"] for row in rows}) == len(rows)
    expected = [one for n in (1, 2) for one in measures_of(n) if one.state == "measured"]
    assert len(rows) == len(expected)
    for row, one in zip(rows, expected, strict=True):
        assert row[TERMS + "verbatimMeasurementType"] == one.id
        assert float(row[TERMS + "measurementValue"]) == one.value
        assert float(row[TERMS + "measurementAccuracy"]) == one.u
        assert row[TERMS + "measurementUnit"] == {"mm2": "mm²"}.get(one.unit, one.unit)
        assert "scale:" in row[TERMS + "measurementMethod"]


def test_values_of_closed_lists_are_those_of_the_standard(filled, tmp_path):
    # basisOfRecord: names of Darwin Core classes; occurrenceStatus: present, absent;
    # degreeOfEstablishment: controlled vocabulary http://rs.tdwg.org/dwcdoe/values/d002
    for row in tables_of(filled.export("dwc", tmp_path)[0])["Occurrence"]:
        assert row[TERMS + "basisOfRecord"] == "MachineObservation"
        assert row[TERMS + "occurrenceStatus"] == "present"
        assert row[TERMS + "degreeOfEstablishment"] == "captive"
        date = row[TERMS + "eventDate"]
        assert re.fullmatch(r"\d{4}-\d\d-\d\d(T\d\d:\d\d:\d\d)?", date)  # ISO 8601-1


def test_what_the_keeper_said_is_in_and_keys_stay_when_a_fish_gets_a_name(filled, tmp_path):
    before = {row["key"] for row in tables_of(filled.export("dwc", tmp_path)[0])["Occurrence"]}
    photo = result_of(1).photo
    filled.set_groups([GroupRow("tank 1", kind="blue lanternback (invented)")])
    filled.name_fish(photo, "1", "ember")
    filled.add_labels([LabelRow("ember", "sex", "female", "demo")])
    rows = tables_of(filled.export("dwc", tmp_path)[0])["Occurrence"]
    assert {row["key"] for row in rows} == before
    (ember,) = [row for row in rows if row[TERMS + "organismName"] == "ember"]
    assert ember[TERMS + "sex"] == "female"
    assert ember[TERMS + "verbatimIdentification"] == "blue lanternback (invented)"
    assert result_of(1).sha256 in ember[TERMS + "associatedMedia"]


def test_an_empty_study_gives_an_archive_without_rows(study, tmp_path):
    assert tables_of(study.export("dwc", tmp_path)[0]) == {
        "Occurrence": [],
        "MeasurementOrFact": [],
    }


def test_data_package_describes_every_column_as_it_is_written(filled, tmp_path):
    files = filled.export("csv", tmp_path)
    assert files[-1].name == "datapackage.json"
    package = json.loads(files[-1].read_text(encoding="utf-8"))
    # Data Package: "resources" is needed, names are of a-z 0-9 . _ - (v1) and differ
    names = [resource["name"] for resource in package["resources"]]
    assert len(set(names)) == len(names) == len(files) - 1
    for resource in package["resources"]:
        assert re.fullmatch(r"[a-z0-9._-]+", resource["name"])
        with (tmp_path / resource["path"]).open(encoding=resource["encoding"], newline="") as file:
            rows = list(csv.DictReader(file))
        fields = resource["schema"]["fields"]
        assert rows
        assert list(rows[0]) == [field["name"] for field in fields]
        assert {field["type"] for field in fields} <= {"string", "integer", "number"}
        assert all(field["description"] for field in fields)
        for field in fields:
            cells = [row[field["name"]] for row in rows if row[field["name"]] != ""]
            for cell in cells:
                {"string": str, "integer": int, "number": float}[field["type"]](cell)
        keys = [tuple(row[name] for name in resource["schema"]["primaryKey"]) for row in rows]
        assert len(set(keys)) == len(keys)
        for foreign in resource["schema"].get("foreignKeys", ()):
            assert foreign["reference"]["resource"] in names


def test_the_standards_own_reader_finds_no_fault(filled, tmp_path):
    frictionless = pytest.importorskip("frictionless", reason="the reader of the standard is large")
    filled.export("csv", tmp_path)
    report = frictionless.validate(str(tmp_path / "datapackage.json"))
    assert report.valid, report.to_summary()
