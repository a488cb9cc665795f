"""Drawn photos with their marks as tables, and the command as a user runs it."""

import os
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
import pytest

from finmeasure.drawing.forms import random_spec
from finmeasure.drawing.hand import true_reading
from finmeasure.drawing.photo import View, draw_photo
from finmeasure.drawing.scene import printed_card
from finmeasure.exchange.landmarks import write_landmarks
from finmeasure.exchange.outlines import write_outlines

COMMAND = (sys.executable, "-m", "finmeasure")


@dataclass(frozen=True)
class DrawnFolder:
    """A folder of drawn photos: a.jpg to d.jpg before the card, e.jpg without one."""

    path: Path
    truth: dict

    @property
    def marks(self):
        """The options that give the tables of marks."""
        tables = self.path / "landmarks.csv", self.path / "outlines.csv"
        return ["--landmarks", str(tables[0]), "--outlines", str(tables[1])]


def _draw(number):
    card = printed_card("window", "A6") if number < 4 else None
    rng = np.random.default_rng([11, number])
    view = View(
        width_px=700,
        height_px=500,
        card=card,
        px_per_mm=4.2 if card else 0.0,
        tilt_deg=3.0 if card else 0.0,
        facing="right" if number % 2 else "left",
    )
    return draw_photo(random_spec(rng, body_form="plain"), view, rng)


@pytest.fixture(scope="session")
def drawn(tmp_path_factory):
    folder = tmp_path_factory.mktemp("drawn")
    photos = {f"{'abcde'[number]}.jpg": _draw(number) for number in range(5)}
    for name, photo in photos.items():
        cv2.imwrite(str(folder / name), photo.pixels[..., ::-1])
    readings = [(name, true_reading(photo)) for name, photo in photos.items()]
    write_landmarks(folder / "landmarks.csv", readings)
    write_outlines(folder / "outlines.csv", readings)
    return DrawnFolder(folder, photos)


@pytest.fixture(scope="session")
def run_process():
    """Run the real command in a process of its own. A traceback fails the test."""

    def run_command(*arguments, timeout=120, **options):
        done = subprocess.run(
            [*COMMAND, *map(str, arguments)],
            capture_output=True,
            text=True,
            encoding="utf-8",
            timeout=timeout,
            env={**os.environ, "OMP_NUM_THREADS": "1"},
            **options,
        )
        assert "Traceback" not in done.stderr, done.stderr
        return done

    return run_command
