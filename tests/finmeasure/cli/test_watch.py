"""`finmeasure watch`, as a real process on a real terminal, with files dropped into its folder."""

import os
import select
import signal
import subprocess
import sys
import time

import cv2
import numpy as np
import pytest

from finmeasure.drawing.forms import random_spec
from finmeasure.drawing.photo import View, draw_photo
from finmeasure.drawing.scene import printed_card
from finmeasure.study.store import Study

pty = pytest.importorskip("pty", reason="needs a pseudo-terminal")
LONGEST_S = 120  # a machine under load; the two seconds are counted in the benchmark


class Watching:
    """A running watch and what it has written."""

    def __init__(self, folder, study):
        self.near, far = pty.openpty()

        def hear_interrupts():  # what runs in the background of a shell ignores them
            signal.signal(signal.SIGINT, signal.SIG_DFL)

        self.process = subprocess.Popen(
            [sys.executable, "-m", "finmeasure", "watch", str(folder), "--study", str(study)],
            stdin=far, stdout=far, stderr=far, start_new_session=True, preexec_fn=hear_interrupts,
            env={**os.environ, "OMP_NUM_THREADS": "1", "TERM": "xterm", "COLUMNS": "80",
                 "PYTHONIOENCODING": "utf-8"},
        )  # fmt: skip
        os.close(far)
        self.text = ""

    def until(self, words):
        """Read until the words have come."""
        end = time.monotonic() + LONGEST_S
        while words not in self.text:
            assert time.monotonic() < end, self.text
            if not select.select([self.near], [], [], 1.0)[0]:
                continue
            try:
                part = os.read(self.near, 4096)
            except OSError:  # the process has ended
                part = b""
            assert part, self.text
            self.text += part.decode("utf-8", "replace")

    def end(self):
        """Press Ctrl-C and wait for the exit status."""
        self.process.send_signal(signal.SIGINT)
        self.until("report.html")
        return self.process.wait(LONGEST_S)


def photo_file(card):
    rng = np.random.default_rng(5)
    view = View(1080, 780, card=printed_card("window", "A6") if card else None,
                px_per_mm=6.6 if card else 0.0, ground="water")  # fmt: skip
    pixels = draw_photo(random_spec(rng, body_form="plain"), view, rng).pixels
    return cv2.imencode(".jpg", pixels[..., ::-1])[1].tobytes()


def test_each_new_photo_is_judged_and_good_ones_are_kept(tmp_path):
    folder, study = tmp_path / "phone", tmp_path / "study"
    folder.mkdir()
    (folder / "before.jpg").write_bytes(b"not looked at")
    good = photo_file(card=True)
    watching = Watching(folder, study)
    try:
        watching.until("Take a photo")
        assert "Keep mains lamps away from water" in watching.text  # the cautions
        with (folder / "good.jpg").open("wb") as file:  # comes in two parts, as a phone sends it
            file.write(good[: len(good) // 2])
            file.flush()
            time.sleep(0.15)
            file.write(good[len(good) // 2 :])
        watching.until("good.jpg")
        (folder / "no_card.jpg").write_bytes(photo_file(card=False))
        watching.until("no_card.jpg")
        assert watching.end() == 0
    finally:
        watching.process.kill()
        os.close(watching.near)
    shown = watching.text
    assert shown.count("\a") == 1 + 3  # once for KEEP, three times for RETAKE
    assert "XXXXX" in shown.partition("good.jpg")[2]
    assert "XXXXX" not in shown.partition("good.jpg")[0]
    assert "No card is found in the photo." in shown
    assert "1 photo kept, 1 to take again." in shown
    with Study.open(study) as kept:
        assert {name: photo.state for name, photo in kept.recorded_photos().items()} == {
            "good.jpg": "measured"
        }
    assert (study / "measurements.csv").is_file()


def test_a_folder_that_is_not_there_is_a_wrong_call(tmp_path):
    done = subprocess.run(
        [sys.executable, "-m", "finmeasure", "watch", str(tmp_path / "no"), "--study",
         str(tmp_path / "study")], capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 2
    assert "no such folder" in done.stderr
    assert not (tmp_path / "study").exists()
