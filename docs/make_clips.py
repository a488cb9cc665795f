"""Make short clips of the real window at work, so that they never go stale.

Run from the project's folder, with a display or under Xvfb::

    .venv/bin/python docs/make_clips.py docs/screens
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from make_screens import Camera, draw_folder, rough_margin
from PIL import Image

from finmeasure.drawing.photo import DrawnPhoto

WIDTH_PX = 800
FRAME_MS, LAST_MS = 450, 2500
CLICKS_SHOWN = 9


class FilmCamera(Camera):
    """Keeps pictures as the frames of a clip instead of files."""

    def __init__(self, out: Path) -> None:
        super().__init__(out)
        self.frames: list[Image.Image] = []

    def take(self, name: str) -> None:
        """Take a frame."""
        self.settle(0.15)
        shot = Image.fromarray(self.viewer.screenshot(canvas_only=False, flash=False)[..., :3])
        height = round(shot.height * WIDTH_PX / shot.width)
        self.frames.append(shot.resize((WIDTH_PX, height), Image.Resampling.LANCZOS))

    def write(self, name: str) -> None:
        """Write the frames as one animated WebP and begin a new clip."""
        durations = [FRAME_MS] * (len(self.frames) - 1) + [LAST_MS]
        self.frames[0].save(
            self.out / f"{name}.webp", save_all=True, append_images=self.frames[1:],
            duration=durations, loop=0, quality=60, method=4, minimize_size=True,
        )  # fmt: skip
        self.frames = []


def film_points(camera: FilmCamera, truth: DrawnPhoto) -> None:
    """Set the first points one by one, then all, and look at a number."""
    desk = camera.desk
    desk.kinds.chosen.emit("adipose")
    for _ in range(CLICKS_SHOWN):
        asked = desk.bench.session.at
        if asked is None:
            break
        if truth.states[asked] != "placed":
            desk.answer_absent()
            continue
        camera.hover(truth.landmarks[asked])
        camera.take(asked)
        camera.mark(truth, _next_after(camera, asked))
    camera.mark(truth)
    camera.take("all points")
    desk.numbers.table.selectRow(0)
    camera.take("numbers")
    camera.write("clip_points")


def _next_after(camera: FilmCamera, asked: str) -> str | None:
    """Name the point that is asked for when this one is set."""
    order = list(camera.desk.bench.session.order)
    place = order.index(asked) + 1
    return order[place] if place < len(order) else None


def film_edge(camera: FilmCamera, truth: DrawnPhoto) -> None:
    """Trace a fin by clicks and pull the line to the edge in the photo."""
    desk = camera.desk
    desk.next_fin()
    for place in rough_margin(truth, "dorsal", 9)[1:7]:
        camera.click(tuple(place))
        camera.take("traced")
    desk.bench.set_margin("dorsal", rough_margin(truth, "dorsal", 6))
    camera.take("whole line")
    desk.pull_to_edge()
    camera.take("pulled")
    camera.write("clip_edge")


def film_all(out: Path) -> None:
    """Make all clips."""
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made) / "shipment"
        folder.mkdir()
        drawn = draw_folder(folder)
        camera = FilmCamera(out)
        camera.desk.open_paths([folder])
        camera.wait_for(lambda: camera.desk.bench.prepared is not None)
        film_points(camera, drawn["bag7_01"])
        film_edge(camera, drawn["bag7_01"])
        camera.viewer.close()


if __name__ == "__main__":
    film_all(Path(sys.argv[1] if len(sys.argv) > 1 else "docs/screens"))
