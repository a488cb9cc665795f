"""The fin guide as text: which fin is which in a body form, with the trade's other words."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from finmeasure.cli.printing import say

if TYPE_CHECKING:
    from finmeasure.landmarks.records import BodyForm


def fins(
    body_form: Annotated[
        str | None, typer.Option(help="Show this body form; all of them in short if not given.")
    ] = None,
) -> None:
    """Tell which fin is which, and what people call it."""
    from finmeasure.landmarks.scheme import body_form as find_body_form
    from finmeasure.landmarks.scheme import body_forms

    if body_form is not None:
        _show_form(find_body_form(body_form))
        return
    for form in body_forms().values():
        say(f"{form.id}: {form.shown} ({', '.join(form.examples)})")
        say(f"    fins: {', '.join(_fin_shown(fin) for fin in form.fins)}")
    say("More on one of them: finmeasure fins --body-form NAME")


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
