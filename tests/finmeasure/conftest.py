"""The command as a user runs it, within the process of the tests."""

from dataclasses import dataclass

import pytest

from finmeasure.cli import main


@dataclass(frozen=True)
class Done:
    """What a command gave."""

    returncode: int
    stdout: str
    stderr: str


@pytest.fixture
def run(capfd):
    """Run a command in this process, which saves the time to load it. Errors come through."""

    def run_command(*arguments):
        capfd.readouterr()
        with pytest.raises(SystemExit) as end:
            main([str(argument) for argument in arguments])
        told = capfd.readouterr()
        return Done(end.value.code or 0, told.out, told.err)

    return run_command
