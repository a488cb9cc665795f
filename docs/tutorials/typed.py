"""Type a command as in a terminal, and show what the program says."""

import shlex
import subprocess
import sys
from pathlib import Path

import finmeasure

SAMPLES = Path(finmeasure.__file__).parents[1] / "sample_images"


def type_command(line: str, folder: Path) -> None:
    """Run ``finmeasure …`` in a folder and print its words.

    Raises
    ------
    RuntimeError
        If the command ends with a status that is neither 0 nor 1.
    """
    done = subprocess.run(
        [sys.executable, "-m", "finmeasure", *shlex.split(line)],
        cwd=folder, capture_output=True, text=True, check=False,
    )  # fmt: skip
    if done.returncode not in (0, 1):
        message = f"finmeasure {line}: {done.stderr or done.stdout}"
        raise RuntimeError(message)
    print(f"$ finmeasure {line}\n{done.stdout}{done.stderr}".rstrip())


def copy_samples(folder: Path, *patterns: str) -> None:
    """Copy the tables and some of the sample photos, so that nothing is written beside them."""
    for pattern in ("*.csv", *patterns):
        for file in sorted(SAMPLES.glob(pattern)):
            target = folder / file.relative_to(SAMPLES)
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_bytes(file.read_bytes())
