"""The command answers at once: nothing heavy is loaded before it is needed."""

import os
import subprocess
import sys

import pytest

# Part 3 of the plan: start-up ≤ 0.7 s. Processor time, because a busy machine stretches the clock.
LONGEST_S = 0.7
HEAVY = ("numpy", "cv2", "scipy", "skimage", "shapely", "pandas", "pyarrow", "sqlalchemy",
         "alembic", "matplotlib", "reportlab", "jinja2", "PIL", "statsmodels", "onnxruntime",
         "dask", "napari", "qtpy", "PySide6")  # fmt: skip


def processor_seconds(arguments):
    before = os.times()
    done = subprocess.run(
        [sys.executable, "-m", "finmeasure", *arguments], capture_output=True, check=False
    )
    after = os.times()
    assert done.stdout or done.stderr
    return (
        after.children_user + after.children_system - before.children_user - before.children_system
    )


@pytest.mark.benchmark  # a slow machine is no fault of the program
@pytest.mark.skipif(os.name != "posix", reason="counts the processor time of a child")
def test_start_up_takes_less_than_a_blink():
    assert min(processor_seconds(["--help"]) for _ in range(3)) <= LONGEST_S


@pytest.mark.parametrize("arguments", [["measure", "--help"], ["measure"]])
def test_help_and_wrong_calls_load_nothing_heavy(arguments):
    done = subprocess.run(
        [sys.executable, "-X", "importtime", "-m", "finmeasure", *arguments],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    lines = [line for line in done.stderr.splitlines() if line.startswith("import time:")]
    loaded = {line.rsplit("|", 1)[1].strip().split(".")[0] for line in lines}
    assert {"finmeasure", "typer"} <= loaded
    assert loaded.isdisjoint(HEAVY)
