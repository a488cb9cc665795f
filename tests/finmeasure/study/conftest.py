"""Studies for the tests; `study_samples` is imported by name, also in child processes."""

import multiprocessing
import os
import shutil
import sys
import tempfile
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

import finmeasure
from finmeasure.study.store import Study

_PACKAGE = Path(finmeasure.__file__).parent


@pytest.fixture(scope="session")
def empty_study(tmp_path_factory):
    """Give the file of a study without anything in it, to be copied."""
    folder = tmp_path_factory.mktemp("empty")
    Study.open(folder, create=True).close()
    return folder / "study.db"


@pytest.fixture
def study(tmp_path, empty_study):
    folder = tmp_path / "study"
    folder.mkdir()
    shutil.copy(empty_study, folder)
    with Study.open(folder) as opened:
        yield opened


@pytest.fixture(scope="session")
def processes():
    """Give a source of child processes that start quickly and can be killed.

    A server imports everything once and forks for each child. It does not know the `sys.path`
    of this process (Python below 3.13), only its environment.
    """
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(["study_samples", "finmeasure.study.exporting"])
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("PYTHONPATH", str(Path(__file__).parent))
        first = context.Process(target=int)
        first.start()
        first.join()
    return context


@pytest.fixture
def ordinary_user():
    """Give a folder and run as a user whom rights hold back: root may write anywhere."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder)
        is_root = os.geteuid() == 0
        if is_root:
            os.chown(path, 65534, 65534)
        try:
            if is_root:
                os.seteuid(65534)
            if not os.access(_PACKAGE, os.R_OK | os.X_OK, effective_ids=True):
                pytest.skip("the program lies where an ordinary user may not read")
            yield path
        finally:
            if is_root:
                os.seteuid(0)
