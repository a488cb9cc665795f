"""The fin guide as text: which fin is which in a body form, with the trade's other words."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from finmeasure.cli.printing import say
from finmeasure.errors import FinmeasureError

if TYPE_CHECKING:
    from finmeasure.landmarks.records import BodyForm


def fins(
    body_form: Annotated[
        str | None,
        typer.Option(
            help="Show this body form; all of them in short if not given.", metavar="FORM"
        ),
    ] = None,
    drawing: Annotated[
        Path | None,
        typer.Option(
            help="Also write a drawing of this body form with its fins named (.svg).",
            metavar="FILE",
            show_default=False,
        ),
    ] = None,
    sheet: Annotated[
        Path | None,
        typer.Option(
            help="Also write the whole guide as a page to print (.html).",
            metavar="FILE",
            show_default=False,
        ),
    ] = None,
) -> None:
    """Tell which fin is which, and what people call it."""
    from finmeasure.landmarks.scheme import body_form as find_body_form
    from finmeasure.landmarks.scheme import body_forms

    if drawing is not None:
        _draw(body_form, drawing)
    if sheet is not None:
        _write_sheet(sheet)
    if body_form is not None:
        _show_form(find_body_form(body_form))
        return
    for form in body_forms().values():
        say(f"{form.id}: {form.shown}; for example {', '.join(form.examples)}")
        say(f"    fins: {', '.join(_fin_shown(fin) for fin in form.fins)}")
    say("More on one of them: finmeasure fins --body-form NAME --drawing fins.svg")


def _draw(body_form: str | None, file: Path) -> None:
    """Write the drawing of a body form."""
    from finmeasure.landmarks.drawings.svg import form_svg
    from finmeasure.landmarks.scheme import body_form as find_body_form

    if body_form is None or file.suffix.lower() != ".svg":
        message = (
            f"--drawing {file.name} was given. A drawing shows one body form and ends in .svg: "
            "finmeasure fins --body-form plain --drawing plain.svg"
        )
        raise FinmeasureError(message)
    names = {fin: _fin_shown(fin).removesuffix(" fin") for fin in find_body_form(body_form).fins}
    _write(file, form_svg(body_form, names=names), "--drawing")
    say(f"Wrote {file}: open it in any browser.")


def _write_sheet(file: Path) -> None:
    """Write the page to print."""
    from finmeasure.report.fin_sheet import fin_sheet

    if file.suffix.lower() not in (".html", ".htm"):
        message = f"--sheet {file.name} was given. The page ends in .html: --sheet fins.html"
        raise FinmeasureError(message)
    _write(file, fin_sheet(), "--sheet")
    say(f"Wrote {file}: open it in any browser and print it on A4.")


def _write(file: Path, text: str, option: str) -> None:
    try:
        file.write_text(text, encoding="utf-8")
    except OSError as error:
        message = f"{file} cannot be written ({error.strerror}). Choose another {option}."
        raise FinmeasureError(message) from error


def _show_form(form: BodyForm) -> None:
    """Write fins, what they tell, their landmarks and the notes of one body form."""
    from finmeasure.landmarks.scheme import fin_definitions, landmark_definition

    say(f"{form.shown}, for example {', '.join(form.examples)}")
    for fin in form.fins:
        definition = fin_definitions()[fin]
        say("")
        say(f"{_fin_shown(fin)}: {definition.where}")
        if definition.synonyms:
            say(f"    also called: {', '.join(definition.synonyms)}")
        if fin in form.tells:
            say(f"    {form.tells[fin].text}")
        for landmark in form.by_fin.get(fin, ()):
            say(f"    {landmark}: {landmark_definition(landmark).definition}")
    for note in (*form.notes, form.sex_note):
        if note:
            say("")
            say(note)


def _fin_shown(fin: str) -> str:
    """Name of a fin as shown."""
    from finmeasure.landmarks.scheme import fin_definitions

    return fin_definitions()[fin].shown
