"""Pages made from the program's own tables, so that docs and program cannot differ."""

from __future__ import annotations

from pathlib import Path

from typer.main import get_command

from finmeasure.cautions import cautions
from finmeasure.cli import app
from finmeasure.flags import FLAGS
from finmeasure.landmarks.drawings.svg import form_svg
from finmeasure.landmarks.scheme import body_forms, fin_definitions, landmark_definitions
from finmeasure.measurements.definitions import MEASURES

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
        "measures": _measures(),
        "flags": _flags(),
        "commands": _commands(),
        "cautions": _cautions(),
    }
    for name, text in pages.items():
        (folder / f"{name}.md").write_text(NOTE + text, encoding="utf-8")


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
        "# Fin guide\n\nEvery drawing is our own. Generalities have exceptions.\n\n## The fins\n\n",
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


def _measures() -> str:
    rows = [(f"`{m.id}`", m.shown, m.unit, m.formula, m.source) for m in MEASURES.values()]
    head = ("in tables", "shown", "unit", "formula", "source")
    return "# Every measure\n\n" + _table(head, rows)


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
