"""The command `ask`: is it a male? One photo, no study, no card."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from finmeasure.cli.printing import say


def ask(
    photo: Annotated[Path, typer.Argument(help="Photo of one fish from the side.")],
    kind: Annotated[str, typer.Option(help="Body form; see `finmeasure fins`.")] = "livebearer",
    landmarks: Annotated[
        Path | None,
        typer.Option(help="Table with the 2 to 4 points (landmarks.csv).", show_default=False),
    ] = None,
    length_mm: Annotated[
        float | None, typer.Option(min=1, max=2000, help="Its standard length, if you know it.")
    ] = None,
    out: Annotated[
        Path | None, typer.Option(help="Picture to send on (.jpg).", show_default=False)
    ] = None,
) -> None:
    """Say which fin tells the sex of a fish, and what it says. No guarantee to a buyer."""
    from finmeasure.landmarks.scheme import body_form, fin_definitions, points_for
    from finmeasure.photo.reading import read_photo
    from finmeasure.report.counter import answer_for, picture_of

    form = body_form(kind)
    points = points_for("sex", kind)
    if "anal_tip" in points:
        # Width tells a rod from a fan; without an outline it is taken at the fin's base
        points = tuple(dict.fromkeys((*points, "anal_end")))
    pixels = read_photo(photo).pixels
    if landmarks is None:
        say(f"{form.shown}: {form.sex_note}")
        say(f"Mark these points (`finmeasure open`, or --landmarks): {', '.join(points)}.")
        say("not told yet: no points are given for this photo.")
        raise typer.Exit(1)
    reading, answer = answer_for(photo, landmarks, kind, length_mm)
    if answer.fin:
        fin = fin_definitions()[answer.fin]
        also = " This is not the pelvic (ventral) fin." if answer.fin == "anal" else ""
        say(f"Look at the {fin.shown}: {fin.where}{also}")
    say(str(answer))
    say("No guarantee: fins are one sign among several.")
    if out is not None:
        out.write_bytes(picture_of(pixels, reading, answer))
        say(f"Wrote {out}.")
