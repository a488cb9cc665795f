"""Type a command as in a terminal, and show what the program says."""

import os
import re
import shlex
import shutil
import subprocess
import sys
from pathlib import Path

import pandas as pd

import finmeasure

SAMPLES = Path(finmeasure.__file__).parents[1] / "sample_images"


def type_command(line: str, folder: Path) -> None:
    """Run ``finmeasure …`` in a folder and print its words.

    Raises
    ------
    RuntimeError
        If the command ends with a status that is neither 0 nor 1, or with a fault.
    """
    done = subprocess.run(
        [sys.executable, "-m", "finmeasure", *shlex.split(line)],
        cwd=folder, capture_output=True, text=True, check=False,
    )  # fmt: skip
    # Status 1 means that photos were refused; Python ends with 1 after a fault of the program too.
    if done.returncode not in (0, 1) or "Traceback" in done.stderr:
        message = f"finmeasure {line}: {done.stderr or done.stdout}"
        raise RuntimeError(message)
    said = f"{done.stdout}{done.stderr}".replace(f"{folder}{os.sep}", "")
    print(f"$ finmeasure {line}", *_shortened(said.splitlines()), sep="\n")


def _shortened(lines: list[str]) -> list[str]:
    """Leave out all but the first of the lines that only count photos."""
    counting = [line for line in lines if re.match(r"\d+/\d+ ", line)]
    few = [line if line not in counting[3:] else "…" for line in lines]
    return [
        line for line, before in zip(few, ["", *few], strict=False) if line != "…" or before != line
    ]


def copy_samples(folder: Path, *patterns: str) -> None:
    """Copy some of the sample photos, and of the tables the rows that are about them."""
    photos = [file for pattern in patterns for file in sorted(SAMPLES.glob(pattern))]
    for file in photos:
        target = folder / file.relative_to(SAMPLES)
        target.parent.mkdir(parents=True, exist_ok=True)
        shutil.copy(file, target)
    fish = {file.stem.split("_")[1] for file in photos}
    groups = {file.parent.name for file in photos}
    for name, column, kept in (
        ("landmarks", "fish", fish),
        ("outlines", "fish", fish),
        ("labels", "fish", fish),
        ("groups", "group", groups),
        ("events", "group", groups),
        ("water", "group", groups),
    ):
        table = pd.read_csv(SAMPLES / f"{name}.csv", dtype=str, keep_default_na=False)
        table[table[column].isin(kept)].to_csv(folder / f"{name}.csv", index=False)
