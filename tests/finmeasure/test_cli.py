"""The command line as a whole: what is listed, start-up, wrong calls, the short commands."""

import subprocess
import sys

import pytest

from finmeasure import __version__


def call(*arguments):
    done = subprocess.run(
        [sys.executable, "-m", "finmeasure", *map(str, arguments)],
        capture_output=True,
        text=True,
        encoding="utf-8",
        timeout=60,
    )
    assert "Traceback" not in done.stderr, done.stderr
    return done


def test_help_lists_the_commands_and_each_has_help():
    done = call("--help")
    assert done.returncode == 0
    listed = done.stdout.split("Commands:")[1].split("\n  ")
    names = [line.split()[0] for line in listed if line.strip() and not line.startswith(" ")]
    assert {"card", "measure", "open", "report", "export", "check", "fins"} <= set(names)
    for name in ("card", "measure", "check"):
        assert call(name, "--help").returncode == 0


def test_version_is_that_of_the_package():
    assert call("--version").stdout.strip() == f"finmeasure {__version__}"


@pytest.mark.parametrize("arguments", [["measur"], ["measure"], ["card", "--paper", "A3"]])
def test_wrong_calls_end_with_status_two(arguments):
    done = call(*arguments)
    assert done.returncode == 2
    assert done.stderr.strip()


def test_a_report_needs_an_ending_and_a_study(tmp_path):
    done = call("report", tmp_path / "none", "--out", tmp_path / "r.html")
    assert done.returncode == 2
    assert len(done.stderr.splitlines()) == 1


def test_the_fin_guide_tells_the_other_words():
    done = call("fins", "--body-form", "livebearer")
    assert done.returncode == 0
    # design.md: pelvic = ventral, caudal = tail, the rod of livebearers is the anal fin
    assert "pelvic (ventral) fin" in done.stdout
    assert "caudal (tail) fin" in done.stdout
    assert "rod of male livebearers is this fin" in done.stdout
    wrong = call("fins", "--body-form", "whale")
    assert wrong.returncode == 2
    assert "Allowed: plain" in wrong.stderr
