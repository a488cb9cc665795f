"""The fin guide: every body form, every fin, the trade's words, and a drawing of our own."""

import html
import xml.etree.ElementTree as ET

import pytest

from finmeasure.landmarks.scheme import body_forms, fin_definitions


def test_all_body_forms_are_listed(run):
    done = run("fins")
    assert done.returncode == 0
    starts = [line.split(":")[0] for line in done.stdout.splitlines() if line[0] != " "]
    assert set(starts) >= set(body_forms())


def test_a_fin_is_told_with_the_words_of_the_trade(run):
    # Common practice, no source: pelvic = ventral; the rod of male livebearers is the anal fin.
    told = run("fins", "--body-form", "livebearer").stdout
    for words in ("pelvic (ventral) fin", "rod", "anal fin"):
        assert words in told


@pytest.mark.parametrize("form", ["plain", "gourami", "two_dorsals", "betta+long_fin"])
def test_the_drawing_names_the_fins_of_the_body_form(run, tmp_path, form):
    file = tmp_path / "fins.svg"
    done = run("fins", "--body-form", form, "--drawing", file)
    assert done.returncode == 0, done.stderr
    text = " ".join(ET.fromstring(file.read_text(encoding="utf-8")).itertext())
    for fin in body_forms()[form.partition("+")[0]].fins:
        assert fin.replace("_", " ").split()[-1] in text, fin


@pytest.mark.parametrize(
    "arguments",
    [
        ["--drawing", "fins.svg"],
        ["--body-form", "plain", "--drawing", "fins.jpg"],
        ["--body-form", "plain", "--drawing", "none/fins.svg"],
        ["--body-form", "whale"],
    ],
)
def test_a_wrong_call_is_one_line(run, arguments):
    done = run("fins", *arguments)
    assert done.returncode == 2
    assert len(done.stderr.splitlines()) == 1


def test_the_sheet_to_print_shows_every_body_form_and_every_other_word(run, tmp_path):
    file = tmp_path / "fins.html"
    assert run("fins", "--sheet", file).returncode == 0
    page = html.unescape(file.read_text(encoding="utf-8"))
    assert page.count("<svg") == len(body_forms())
    for form in body_forms():
        assert f"--body-form {form}<" in page
    for fin in fin_definitions().values():
        assert all(word.replace("_", " ") in page for word in fin.synonyms)
    assert "http" not in page.replace("http://www.w3.org/2000/svg", "")  # needs no other file


def test_the_sheet_says_how_its_file_must_end(run, tmp_path):
    done = run("fins", "--sheet", tmp_path / "fins.pdf")
    assert done.returncode == 2
    assert ".html" in done.stderr
