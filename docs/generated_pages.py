"""Pages made from the program's own tables, so that docs and program cannot differ."""

from __future__ import annotations

from pathlib import Path

from drawings import closeness_svg, ground_svg, measure_svg, tank_svg
from typer.main import get_command

from finmeasure.cautions import cautions
from finmeasure.cli import app
from finmeasure.flags import FLAGS
from finmeasure.landmarks.drawings.svg import form_svg
from finmeasure.landmarks.scheme import body_forms, fin_definitions, landmark_definitions
from finmeasure.measurements.definitions import MEASURES, MeasureDefinition

NOTE = "<!-- written by docs/generated_pages.py from the program's own tables -->\n\n"


def write_generated_pages(folder: Path) -> None:
    """Write fin guide, landmarks, measures, flags, commands and cautions.

    Parameters
    ----------
    folder : Path
        Made where it is missing.
    """
    folder.mkdir(exist_ok=True)
    pages = {
        "fin_guide": _fin_guide(folder),
        "landmarks": _landmarks(),
        "measures": _measures(folder),
        "flags": _flags(),
        "commands": _commands(),
        "cautions": _cautions(),
    }
    for name, text in pages.items():
        (folder / f"{name}.md").write_text(NOTE + text, encoding="utf-8")
    drawn = {"tank": tank_svg(), "ground": ground_svg(), "closeness": closeness_svg()}
    for name, picture in drawn.items():
        (folder / f"{name}.svg").write_text(picture, encoding="utf-8")


def _table(head: tuple[str, ...], rows: list[tuple[str, ...]]) -> str:
    """Write a Markdown table."""
    lines = [head, tuple("---" for _ in head), *rows]
    return "\n".join("| " + " | ".join(_cell(c) for c in line) + " |" for line in lines) + "\n"


def _cell(text: str) -> str:
    return text.replace("|", "\\|").replace("\n", " ").replace("<", "&lt;")


def _fin_guide(folder: Path) -> str:
    fins = [
        (
            fin.shown,
            f"`{fin.name}`",
            ", ".join(s.replace("_", " ") for s in fin.synonyms),
            fin.where,
        )
        for fin in fin_definitions().values()
    ]
    parts = [
        "# Fin guide\n\nEvery drawing is our own. Generalities have exceptions. "
        "To print and hang up: `finmeasure fins --sheet fins.html`.\n\n## The fins\n\n",
        _table(("fin", "in tables", "also called", "where"), fins),
        '\nMany people call the anal fin "ventral" too. The program asks which fin is meant.\n',
    ]
    for form in body_forms().values():
        (folder / f"form_{form.id}.svg").write_text(
            form_svg(form.id, names={fin: fin.replace("_", " ") for fin in form.fins}),
            encoding="utf-8",
        )
        parts.append(f"\n## {form.shown.capitalize()}\n\n![{form.shown}](form_{form.id}.svg)\n\n")
        parts.append("\n".join(f"- {note}" for note in form.notes) + "\n\n")
        tells = [(fin, tell.text, tell.source) for fin, tell in form.tells.items()]
        parts.append(_table(("fin", "what it tells", "source"), tells))
        parts.append(f"\nIn commands: `--body-form {form.id}`. Source: {form.source}.\n")
    return "".join(parts)


def _landmarks() -> str:
    rows = [(f"`{d.name}`", d.shown, d.exact, d.source) for d in landmark_definitions().values()]
    return "# Landmarks\n\n" + _table(("in tables", "shown", "definition", "source"), rows)


def _measures(folder: Path) -> str:
    """Every measure: the lengths with a drawing, the others as a table."""
    lengths = [row for row in MEASURES.values() if row.unit == "mm" and row.landmarks]
    rows = [
        (f"`{m.id}`", m.shown, m.unit, m.formula, m.source)
        for m in MEASURES.values()
        if m not in lengths
    ]
    head = ("in tables", "shown", "unit", "formula", "source")
    return (
        "# Every measure\n\nHow exact they are, counted over drawn fish, and the command that "
        "makes the figures: [Lengths and ratios](../method/measures.md), "
        "[Fin edges](../method/fin_edges.md). The uncertainty of a mark is the largest share of "
        "most: [How good are my numbers](../guide/numbers.md).\n\n## Lengths\n"
        + "".join(_length(row, folder) for row in lengths)
        + "\n## Ratios, fin edges, change\n\n"
        + _table(head, rows)
    )


def _length(row: MeasureDefinition, folder: Path) -> str:
    """One length: drawing, meaning, formula, limits, source."""
    picture = measure_svg(row)
    parts = [f"\n### {row.shown.capitalize()}\n\n"]
    if picture is not None:
        (folder / f"measure_{row.id}.svg").write_text(picture, encoding="utf-8")
        parts.append(f"![{row.shown}: {row.formula}](measure_{row.id}.svg){{width=420px}}\n\n")
    ratio = MEASURES.get(f"{row.id}_to_sl")
    spread = "Refused where the fin is folded. " if row.needs_spread else ""
    usual = (
        f"Flagged as implausible outside {ratio.plausible[0]:.3g} to {ratio.plausible[1]:.3g} of "
        "standard length. "
        if ratio is not None and ratio.plausible
        else ""
    )
    parts.append(
        f"{row.explanation} In tables `{row.id}`, {row.unit}. Formula: {row.formula}. "
        f"{spread}{usual}Source: {row.source}.\n"
    )
    return "".join(parts)


def _flags() -> str:
    return "# Flags\n\n" + _table(
        ("flag", "meaning"), [(f"`{flag}`", words) for flag, words in FLAGS.items()]
    )


def _commands() -> str:
    parts = ["# Commands\n"]
    for name, command in get_command(app).commands.items():
        context = command.make_context(f"finmeasure {name}", [], resilient_parsing=True)
        parts.append(f"\n## finmeasure {name}\n\n```text\n{command.get_help(context)}\n```\n")
    return "".join(parts)


def _cautions() -> str:
    parts = ["# Cautions\n\nLocal rules come first.\n"]
    for heading, lines in cautions().items():
        parts.append(f"\n## {heading.capitalize()}\n\n" + "\n".join(f"- {x}" for x in lines) + "\n")
    return "".join(parts)
