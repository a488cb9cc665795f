"""The command `watch`: KEEP or RETAKE for each new photo, while the fish is still there."""

from __future__ import annotations

import sys
import time
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from finmeasure.cli.big_letters import big
from finmeasure.cli.options import (
    BodyFormOption,
    CardOption,
    FishBeforeCardOption,
    GroupOption,
    NamePatternOption,
    QuestionOption,
    SquareOption,
    ThroughCurvedOption,
)
from finmeasure.cli.printing import complain, counted, one_line, say
from finmeasure.errors import FinmeasureError

if TYPE_CHECKING:
    from rich.console import Console

    from finmeasure.batch.verdict import Verdict
    from finmeasure.batch.watching import Watch

LOOK_EVERY_S = 0.2
BELL = "\a"


def watch(
    folder: Annotated[
        Path, typer.Argument(help="Folder that the phone or camera fills.", metavar="FOLDER")
    ],
    study: Annotated[
        Path, typer.Option(help="Folder of the study; made where it is missing.", metavar="FOLDER")
    ],
    card: CardOption = None,
    square_mm: SquareOption = None,
    fish_before_card: FishBeforeCardOption = None,
    through_curved: ThroughCurvedOption = False,
    question: QuestionOption = "full",
    body_form: BodyFormOption = None,
    group: GroupOption = "",
    name_pattern: NamePatternOption = None,
    quiet: Annotated[bool, typer.Option("--quiet", help="No sound.")] = False,
) -> None:
    """Say KEEP or RETAKE for each new photo in a folder; keep the good ones in the study.

    Photos that are in the folder already are left alone. Ctrl-C ends it and writes tables and
    report.
    """
    _check(folder)
    from finmeasure.batch.given import read_given
    from finmeasure.batch.watching import opened_watch
    from finmeasure.scale.request import ScaleRequest

    request = ScaleRequest(
        card=None if card is None else card.value,
        square_mm=square_mm,
        fish_before_card_mm=fish_before_card,
        through_curved=through_curved,
    )
    given = read_given(
        scale_request=request,
        question=question,
        body_form=body_form,
        group=group,
        name_pattern=name_pattern,
    )
    screen = _Screen.of(quiet=quiet)
    screen.cautions()
    with opened_watch(folder, study, given) as watching:
        say(f"{counted(watching.there_before, 'photo')} there already, left alone.")
        say(f"Watching {folder}. Take a photo. Ctrl-C ends.")
        try:
            _look_on(watching, screen)
        except KeyboardInterrupt:
            say("")
        watching.write_out()
    say(f"{counted(screen.kept, 'photo')} kept, {screen.retaken} to take again.")
    say(f"Tables, pictures and report.html are in {study}.")


def _check(folder: Path) -> None:
    if not folder.is_dir():
        message = f"{folder}: there is no such folder. Give the one that the photos come to."
        raise FinmeasureError(message)


def _look_on(watching: Watch, screen: _Screen) -> None:
    """Judge photos as they come, until Ctrl-C."""
    while True:
        for path in watching.ready():
            name, verdict = watching.judged(path)
            screen.show(name, verdict)
            if verdict.keep and (problem := watching.keep(path)):
                complain(f"{name} could not be kept: {problem}")
        sys.stdout.flush()
        time.sleep(LOOK_EVERY_S)


@dataclass(slots=True)
class _Screen:
    """Shows verdicts: large on a terminal, one line each elsewhere."""

    console: Console | None
    bell: bool
    kept: int = 0
    retaken: int = 0

    @classmethod
    def of(cls, *, quiet: bool) -> _Screen:
        """Suit where the output goes."""
        if not sys.stdout.isatty():
            return cls(None, bell=False)
        from rich.console import Console

        return cls(Console(highlight=False), bell=not quiet)

    def cautions(self) -> None:
        """Show what protects fish and people."""
        from finmeasure.cautions import cautions

        for heading in ("handling", "reading"):
            for line in cautions()[heading]:
                say(f"- {line}")

    def show(self, name: str, verdict: Verdict) -> None:
        """Show one verdict and sound it: once for KEEP, three times for RETAKE."""
        word = "KEEP" if verdict.keep else "RETAKE"
        self.kept += verdict.keep
        self.retaken += not verdict.keep
        if self.console is None:
            say(f"{word} {name} {verdict.reason} {verdict.remedy}".rstrip())
            return
        if self.bell:  # heard before anybody looks up
            sys.stdout.write(BELL if verdict.keep else 3 * BELL)
            sys.stdout.flush()
        self._large(word, verdict, name)
        sys.stdout.flush()

    def _large(self, word: str, verdict: Verdict, name: str) -> None:
        """Write the word large; KEEP between lines, RETAKE between crosses, each its colour."""
        from rich.text import Text

        console, colour, mark = self.console, "#56B4E9", "─"
        assert console is not None
        if not verdict.keep:
            colour, mark = "#E69F00", "X"
        ink = "█" if console.encoding.lower().startswith("utf") else "#"
        mark = mark if ink == "█" or mark == "X" else "-"
        edge = mark * min(console.width, 66)
        lines = [edge, *(row.rstrip() for row in big(word, ink)), edge]
        console.print(Text("\n".join(lines), style=f"bold {colour}"))
        told = (verdict.reason, verdict.remedy, name)
        for text, style in zip(told, ("bold", "bold", ""), strict=True):
            if text:
                console.print(Text(one_line(text), style=style))
        console.print()
