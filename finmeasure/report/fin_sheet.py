"""The fin guide as a sheet to print and hang up: opens in any browser, prints on A4."""

from __future__ import annotations

from jinja2 import Environment, PackageLoader
from markupsafe import Markup

from finmeasure.landmarks.drawings.svg import form_svg
from finmeasure.landmarks.scheme import body_forms, fin_definitions


def fin_sheet() -> str:
    """Write all fins with their other words, and every body form with its drawing.

    Returns
    -------
    str
        One HTML page that needs no other file.
    """
    shown = {name: fin.shown.removesuffix(" fin") for name, fin in fin_definitions().items()}
    # The drawings are our own SVG, whose texts are escaped where they are made.
    forms = [
        (form, Markup(form_svg(form.id, names={fin: shown[fin] for fin in form.fins})))
        for form in body_forms().values()
    ]
    loader = PackageLoader("finmeasure.report", "templates")
    page = Environment(loader=loader, autoescape=True).get_template("fin_sheet.html.j2")
    return page.render(fins=list(fin_definitions().values()), forms=forms)
