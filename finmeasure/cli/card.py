"""The command that writes the printed card."""

from __future__ import annotations

from datetime import UTC, datetime
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from finmeasure.cli.printing import say
from finmeasure.errors import FinmeasureError

DEFAULT_PAPER = "A5"


class CardKind(StrEnum):
    """Cards that can be found in photos."""

    WINDOW = "window"
    SQUARES = "squares"


class SheetKind(StrEnum):
    """Sheets that can be printed."""

    WINDOW = "window"
    SQUARES = "squares"
    RULER = "ruler"
    TAGS = "tags"


class Paper(StrEnum):
    """Sizes of a card."""

    A4 = "A4"
    A5 = "A5"
    A6 = "A6"
    ID1 = "ID1"
    LETTER = "letter"


class Ground(StrEnum):
    """Field behind the fish."""

    WHITE = "white"
    GREY = "grey"
    BLACK = "black"
    CUT_OUT = "cut-out"


def card(
    out: Annotated[
        Path | None, typer.Option(help="PDF file to write.", metavar="FILE", show_default=False)
    ] = None,
    kind: Annotated[
        SheetKind,
        typer.Option(
            help="window: ring of squares round a blank field; squares: a grid; ruler: to lie "
            "beside the fish; tags: number labels for bags, tanks and fish."
        ),
    ] = SheetKind.WINDOW,
    paper: Annotated[
        Paper | None,
        typer.Option(help=f"Size; {DEFAULT_PAPER} if not given.", show_default=False),
    ] = None,
    for_fish: Annotated[
        float | None,
        typer.Option(
            help="Choose the smallest card that holds a fish of this total length.",
            metavar="MM",
            show_default=False,
        ),
    ] = None,
    first_tag: Annotated[
        int, typer.Option(help="Number of the first tag of the sheet, 1 to 999.", metavar="NUMBER")
    ] = 1,
    ground: Annotated[
        Ground, typer.Option(help="Field behind the fish; cut-out lets light come from behind.")
    ] = Ground.WHITE,
    check_lines: Annotated[
        tuple[float, float] | None,
        typer.Option(
            help="What a caliper shows on the printed card: the line across and the line down, "
            "millimetres. Kept with --study; every scale from this card is then put right.",
            metavar="ACROSS DOWN",
            show_default=False,
        ),
    ] = None,
    calibrate: Annotated[
        Path | None,
        typer.Option(
            help="Folder of three or more photos of our card, filling the photo: how much the lens "
            "bends is measured for each camera and zoom, and used where a card is too small or too "
            "hidden to show it. Kept with --study.",
            metavar="FOLDER",
            show_default=False,
        ),
    ] = None,
    study: Annotated[
        Path | None,
        typer.Option(
            help="Study that keeps check lines and calibrations.",
            metavar="FOLDER",
            show_default=False,
        ),
    ] = None,
) -> None:
    """Write a card to print: every photo taken against it gets its scale from it."""
    if calibrate is not None:
        _calibrate(calibrate, study, alone=out is None and check_lines is None)
        return
    _refuse_contradictions(out, paper, for_fish, check_lines, study)
    chosen = DEFAULT_PAPER if paper is None else paper.value
    if kind in (SheetKind.RULER, SheetKind.TAGS):
        _write_sheet(out, kind, chosen, first_tag, is_card_call=bool(for_fish or check_lines))
        return
    if for_fish is not None:
        chosen = _paper_for_fish(for_fish, kind)
    if out is not None:
        _write(out, kind, chosen, ground)
    if check_lines is not None and study is not None:
        _keep_check_lines(study, kind, chosen, check_lines)


def _refuse_contradictions(
    out: Path | None,
    paper: Paper | None,
    for_fish: float | None,
    check_lines: tuple[float, float] | None,
    study: Path | None,
) -> None:
    """Refuse options that contradict or need each other."""
    message = ""
    if paper is not None and for_fish is not None:
        message = "Give --paper or --for-fish, not both: --for-fish chooses the paper."
    elif out is None and check_lines is None:
        message = "Give --out FILE.pdf for a card, or --check-lines ACROSS DOWN for a printed one."
    elif (check_lines is None) != (study is None):
        message = "--check-lines and --study go together: the study keeps what the caliper shows."
    elif out is not None and out.suffix.lower() != ".pdf":
        message = f"{out.name}: a card is written as PDF. Give --out a name that ends in .pdf."
    elif out is not None and not out.parent.is_dir():
        message = f"{out.parent}: there is no such folder. Make it, or choose another --out."
    if message:
        raise FinmeasureError(message)


def _calibrate(folder: Path, study: Path | None, *, alone: bool) -> None:
    from finmeasure.cli.calibrating import calibrate_cameras

    if study is None or not alone:
        message = (
            "--calibrate FOLDER goes with --study alone: the study keeps how much each lens bends. "
            "Leave --out and --check-lines out."
        )
        raise FinmeasureError(message)
    calibrate_cameras(folder, study)


def _write_sheet(
    out: Path | None, kind: SheetKind, paper: str, first_tag: int, *, is_card_call: bool
) -> None:
    """Write a sheet that is no card."""
    if out is None or is_card_call:
        message = (
            "--for-fish and --check-lines belong to the window and squares cards. "
            f"For --kind {kind.value} give --out FILE.pdf and, if you like, --paper."
        )
        raise FinmeasureError(message)
    if kind == SheetKind.RULER:
        from finmeasure.card.ruler_sheet import write_ruler

        length_mm = write_ruler(out, paper)
        say(
            f"Wrote {out}: two rulers of {length_mm} mm. Print at 100 %, not “fit to page”; then "
            "check with a caliper that the ticks of 0 and 100 are 100 mm apart."
        )
        return
    from finmeasure.card.tag_sheet import write_tags

    first, last = write_tags(out, paper, first=first_tag)
    following = f"; the next sheet begins at --first-tag {last + 1}" if last < 999 else ""
    say(f"Wrote {out}: tags {first} to {last}{following}. Use them with `measure --tags`.")


def _paper_for_fish(for_fish: float, kind: SheetKind) -> str:
    """Choose the smallest card that holds the fish, and say what its fins get."""
    from finmeasure.card.advice import card_for_fish

    advice = card_for_fish(for_fish, kind.value)
    for sentence in advice.sentences():
        say(sentence)
    return advice.design.paper


def _write(out: Path, kind: SheetKind, paper: str, ground: Ground) -> None:
    from finmeasure.card.sheet import PRINT_SENTENCE, write_card

    write_card(out, kind.value, paper, ground=ground.value)
    say(f"Wrote {out}: {kind.value} card, {paper}. {PRINT_SENTENCE}")


def _keep_check_lines(
    folder: Path, kind: SheetKind, paper: str, check_lines: tuple[float, float]
) -> None:
    """Keep what a caliper shows, unless it cannot be this card."""
    from finmeasure.card_design import card_design
    from finmeasure.scale.card_scale import print_ratio
    from finmeasure.scale.request import PrintCheck
    from finmeasure.study.records import CardPrintRow
    from finmeasure.study.store import Study

    design = card_design(kind.value, paper)
    check = PrintCheck(*check_lines)
    ratio = print_ratio(design, check)
    if not isinstance(ratio, tuple):
        raise FinmeasureError(str(ratio))
    (across, down), now = design.check_mm, datetime.now(UTC).isoformat(timespec="milliseconds")
    row = CardPrintRow(
        design.name, design.name, across, check.across_mm, down, check.down_mm, check.u_mm, now
    )
    with Study.open(folder, create=True) as study:
        study.add_card_print(row)
    say(
        f"Kept in {folder}: the {kind.value} card on {paper} is printed at {100 * ratio[0]:.2f} % "
        f"across and {100 * ratio[1]:.2f} % down. `finmeasure measure` puts the scale right."
    )
