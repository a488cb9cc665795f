"""The fin guide: every body form, every fin, the trade's words, and a drawing of our own."""

import xml.etree.ElementTree as ET

import pytest

from finmeasure.landmarks.scheme import body_forms


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
