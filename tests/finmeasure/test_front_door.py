"""`import finmeasure as fm`: every name is there, typed, and loaded late; every example is true."""

import ast
import doctest
import subprocess
import sys
from importlib import import_module
from pathlib import Path
from xml.etree import ElementTree

import pytest

import finmeasure as fm

PROJECT = Path(fm.__file__).parents[1]
SAMPLE = "bag_7/2026-05-02_b01.jpg"


def modules_with_examples():
    for file in sorted((PROJECT / "finmeasure").rglob("*.py")):
        if ">>> " in file.read_text(encoding="utf-8"):
            parts = file.relative_to(PROJECT).with_suffix("").parts
            yield ".".join(part for part in parts if part != "__init__")


@pytest.mark.parametrize("name", sorted(modules_with_examples()))
def test_examples_in_docstrings_are_true(name, monkeypatch):
    monkeypatch.chdir(PROJECT)
    outcome = doctest.testmod(import_module(name))
    assert outcome.attempted > 0
    assert outcome.failed == 0


def test_the_stub_names_what_the_front_door_has_and_where():
    stub = ast.parse(Path(fm.__file__).with_suffix(".pyi").read_text(encoding="utf-8"))
    told = {
        line.names[0].name: line.module.removeprefix("finmeasure.")
        for line in stub.body
        if isinstance(line, ast.ImportFrom)
    }
    assert told == fm._FOUND_IN


@pytest.mark.parametrize("name", sorted(fm._FOUND_IN))
def test_every_name_can_be_used(name):
    assert getattr(fm, name) is getattr(import_module(f"finmeasure.{fm._FOUND_IN[name]}"), name)
    assert name in dir(fm)


def test_a_name_that_is_not_there_says_where_to_look():
    with pytest.raises(AttributeError, match=r"dir\(finmeasure\)"):
        fm.no_such_thing  # noqa: B018


def test_importing_loads_nothing_heavy():
    seen = "import finmeasure, sys; print(*sorted(m.split('.')[0] for m in sys.modules))"
    done = subprocess.run([sys.executable, "-c", seen], capture_output=True, text=True, check=True)
    heavy = {"numpy", "cv2", "scipy", "pandas", "matplotlib", "sqlalchemy", "onnxruntime"}
    assert heavy.isdisjoint(done.stdout.split())


@pytest.fixture(scope="module")
def shown():
    """A photo, its scale, one reading and what it gives."""
    photo = fm.read_photo(PROJECT / "sample_images" / SAMPLE)
    scale = fm.find_scale(photo)
    folder = PROJECT / "sample_images"
    marks = fm.read_landmarks(folder / "landmarks.csv")
    marks = marks.joined(fm.read_outlines(folder / "outlines.csv"))
    reading = marks.readings(SAMPLE)[0]
    return photo, scale, reading, fm.measure_reading(reading, scale, gray=photo.gray())


def test_results_show_themselves_in_a_notebook(shown):
    for result in shown:
        page = ElementTree.fromstring(result._repr_html_())  # must be well-formed
        assert page.tag in ("table", "figure")
    photo, scale, reading, fish = shown
    assert f"{scale.px_per_mm:.3f}" in scale._repr_html_()
    assert f"fish {reading.fish}" in reading._repr_html_()
    assert fish._repr_html_().count("<tr>") == len(fish.measured()) + 1
    assert photo.sha256[:12] in photo._repr_html_()


def test_results_can_be_drawn(shown):
    from matplotlib import pyplot

    photo, scale, reading, fish = shown
    axes = reading.plot(scale.plot(photo.plot()))
    height, width = photo.pixels.shape[:2]
    assert sorted(axes.get_xlim()) == [-0.5, width - 0.5]  # the photo's own pixels, not moved
    assert axes.get_ylim() == (height - 0.5, -0.5)
    rings = [line for line in axes.lines if line.get_marker() == "o"]
    placed = [mark for mark in reading.landmarks.values() if mark.state == "placed"]
    assert sorted(rings[0].get_xdata()) == sorted(mark.x_px for mark in placed)
    assert len(axes.lines) == 2 + len(reading.outlines)
    bars = fish.plot()
    ratios = [row for row in fish.measured() if row.id.endswith("_to_sl")]
    assert len(bars.get_yticks()) == len(ratios)
    alone = reading.plot()
    low, high = alone.get_ylim()
    assert low > high  # y down, as in the photo
    pyplot.close("all")


def test_measures_as_a_data_frame(shown):
    fish = shown[-1]
    frame = fish.to_frame()
    assert list(frame.index) == [row.id for row in fish.rows]
    row = fish.by_id["standard_length"]
    assert frame.loc["standard_length", ["value", "u", "unit"]].tolist() == [row.value, row.u, "mm"]
