"""The command `ask`: is it a male? One photo, no study, no card."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from finmeasure.cli.printing import say


def ask(
    photo: Annotated[
        Path, typer.Argument(help="Photo of one fish from the side.", metavar="PHOTO")
    ],
    kind: Annotated[
        str, typer.Option(help="Body form; see `finmeasure fins`.", metavar="FORM")
    ] = "livebearer",
    landmarks: Annotated[
        Path | None,
        typer.Option(
            help="Table with the 2 to 4 points; without it the program tries.",
            metavar="FILE",
            show_default=False,
        ),
    ] = None,
    length_mm: Annotated[
        float | None,
        typer.Option(min=1, max=2000, help="Its standard length, if you know it.", metavar="MM"),
    ] = None,
    out: Annotated[
        Path | None,
        typer.Option(help="Picture to send on (.jpg).", metavar="FILE", show_default=False),
    ] = None,
) -> None:
    """Say which fin tells the sex of a fish, and what it says. No guarantee to a buyer."""
    from finmeasure.errors import NotFound
    from finmeasure.landmarks.scheme import body_form, fin_definitions
    from finmeasure.photo.reading import read_photo
    from finmeasure.report.counter import answer_for, answer_of, picture_of, proposed_reading

    form = body_form(kind)
    taken = read_photo(photo)
    if landmarks is None:
        say(f"{form.shown}: {form.sex_note}")
        reading = proposed_reading(taken, kind)
        if isinstance(reading, NotFound):
            say(f"not told yet: {reading.reason} {reading.remedy}")
            raise typer.Exit(1)
        answer = answer_of(reading, length_mm=length_mm)
        say("Points were placed by the program, not confirmed by a person: look at the picture.")
    else:
        reading, answer = answer_for(photo, landmarks, kind, length_mm)
    if answer.fin:
        fin = fin_definitions()[answer.fin]
        also = " This is not the pelvic (ventral) fin." if answer.fin == "anal" else ""
        say(f"Look at the {fin.shown}: {fin.where}{also}")
    say(str(answer))
    say("No guarantee: fins are one sign among several.")
    if out is not None:
        out.write_bytes(picture_of(taken.pixels, reading, answer))
        say(f"Wrote {out}.")
