"""Window tests need a real X display with OpenGL: start a private Xvfb where there is none."""

import gc
import os
import select
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

SHARED = Path(__file__).resolve().parents[2] / "shared"
_xvfb = None
LONG_FIRST = ("/napari_finmeasure/", "/batch/", "/report/", "/cli/", "/study/", "/scale/")


def _start_xvfb():
    """Start Xvfb on a free display and return the process and its display name."""
    read_end, write_end = os.pipe()
    screen = ["-screen", "0", "1600x1000x24", "-nolisten", "tcp", "-noreset"]
    process = subprocess.Popen(
        ["Xvfb", "-displayfd", str(write_end), *screen],
        pass_fds=[write_end],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    os.close(write_end)
    number = b""
    # Read up to the newline: Xvfb writes it apart and dies if the pipe is closed before it.
    while not number.endswith(b"\n") and select.select([read_end], [], [], 20)[0]:
        part = os.read(read_end, 16)
        if not part:
            break
        number += part
    os.close(read_end)
    return process, ":" + number.decode().strip() if number.endswith(b"\n") else None


def pytest_configure(config):
    global _xvfb
    os.environ.setdefault("NAPARI_CONFIG", "")  # never touch the user's napari settings
    os.environ.pop("QT_QPA_PLATFORM", None)  # "offscreen" has no OpenGL: napari breaks on it
    # keys go to the one active window of a display, so each xdist worker needs a display of its own
    is_worker = hasattr(config, "workerinput")
    if not sys.platform.startswith("linux") or (os.environ.get("DISPLAY") and not is_worker):
        return
    if shutil.which("Xvfb"):
        _xvfb, display = _start_xvfb()
        if display:
            os.environ["DISPLAY"] = display


def pytest_unconfigure(config):
    if _xvfb is not None:
        _xvfb.terminate()
        _xvfb.wait(10)


def _turn(item):
    """Give the place in the run: no worker is left alone with a long file at the end."""
    folder = item.path.parent.as_posix() + "/"
    return next((n for n, part in enumerate(LONG_FIRST) if part in folder), len(LONG_FIRST))


def pytest_collection_modifyitems(config, items):
    items.sort(key=_turn)
    if not sys.platform.startswith("linux") or os.environ.get("DISPLAY"):
        return
    # Without a display Qt aborts the whole process (SIGABRT): skip here, refuse in CI.
    if os.environ.get("CI"):
        message = "no DISPLAY and no Xvfb: the window tests cannot run"
        raise pytest.UsageError(message)
    for item in items:
        if "make_napari_viewer" in getattr(item, "fixturenames", ()):
            item.add_marker(pytest.mark.skip(reason="no X display and no Xvfb"))


def pytest_collection_finish(session):
    """Take all that was loaded out of the garbage collector's sight: it stays to the end anyway.

    A window collects garbage whenever a layer is removed, which went through all modules and
    tests each time and was the larger part of closing a window.
    """
    gc.collect()
    gc.freeze()


@pytest.fixture(scope="session")
def shared():
    """Folder of open data beside the project; tests that need it skip where it is absent."""
    if not SHARED.is_dir():
        pytest.skip("the folder shared/ with open data is not beside the project")
    return SHARED
