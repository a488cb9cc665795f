"""What is handed to others: the built package holds all that the program needs to run.

Names of files in a wheel: Python packaging specification "Binary distribution format". The citation
entry: Citation File Format 1.2.0 (required keys: authors, cff-version, message, title).
"""

import re
import shutil
import subprocess
import tomllib
import zipfile
from pathlib import Path

import pytest
import yaml
from hatchling.builders.wheel import WheelBuilder

import finmeasure as fm

PROJECT = Path(fm.__file__).parents[1]


@pytest.fixture(scope="module")
def wheel(tmp_path_factory):
    folder = tmp_path_factory.mktemp("wheel")
    (file,) = WheelBuilder(str(PROJECT)).build(directory=str(folder), versions=["standard"])
    with zipfile.ZipFile(file) as opened:
        yield opened


def tracked(*paths):
    if shutil.which("git") is None:
        pytest.skip("git is not installed")
    done = subprocess.run(
        ["git", "ls-files", "-z", *paths], cwd=PROJECT, capture_output=True, check=False
    )
    if done.returncode or not done.stdout:
        pytest.skip("this copy of the project is not a git clone")
    return set(done.stdout.decode().strip("\0").split("\0"))


def test_the_wheel_holds_every_file_of_both_packages(wheel):
    core = tracked("finmeasure")
    plugin = {name.removeprefix("plugins/") for name in tracked("plugins/napari_finmeasure")}
    held = set(wheel.namelist())
    # A file that is deleted but not yet committed is no fault of the wheel.
    assert {name for name in core if (PROJECT / name).exists()} <= held
    assert {name for name in plugin if (PROJECT / "plugins" / name).exists()} <= held


@pytest.mark.parametrize(
    "ending",
    [".onnx", ".toml", ".html.j2", ".css", "species.csv", "schema_0001.py", "napari.yaml",
     "py.typed", "__init__.pyi", "LICENSE"],
)  # fmt: skip
def test_the_wheel_holds_weights_definitions_templates_migrations_and_manifest(wheel, ending):
    assert any(name.endswith(ending) for name in wheel.namelist())


def test_nothing_else_is_in_the_wheel(wheel):
    tops = {name.split("/")[0] for name in wheel.namelist()}
    assert tops == {"finmeasure", "napari_finmeasure", f"finmeasure-{fm.__version__}.dist-info"}


def test_versions_agree():
    project = tomllib.loads((PROJECT / "pyproject.toml").read_text())["project"]
    entry = yaml.safe_load((PROJECT / "docs" / "CITATION.cff").read_text(encoding="utf-8"))
    changes = (PROJECT / "docs" / "CHANGELOG.md").read_text(encoding="utf-8")
    newest = re.search(r"^## (\S+?),?(?: |$)", changes, re.MULTILINE).group(1)
    assert {project["version"], entry["version"], newest} == {fm.__version__}


def test_the_citation_entry_has_what_the_format_asks_for():
    entry = yaml.safe_load((PROJECT / "docs" / "CITATION.cff").read_text(encoding="utf-8"))
    assert {"authors", "cff-version", "message", "title"} <= set(entry)
    assert entry["type"] in ("software", "dataset")
    assert all("name" in one or "family-names" in one for one in entry["authors"])
    assert entry["license"] == "BSD-3-Clause"
