"""Pages on one box as HTML and PDF files."""

from __future__ import annotations

import base64
import hashlib
import io
import os
from datetime import datetime
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined

from finmeasure import __version__
from finmeasure.errors import FinmeasureError
from finmeasure.report.condition import BoxPage
from finmeasure.report.condition_parts import Section, Table
from finmeasure.report.pdf import pdf_table, words

TEMPLATES = Path(__file__).with_name("templates")
ENDINGS = (".html", ".htm", ".pdf")
_WIDTH_POINTS = 500
_LETTER_POINTS = 4.6
WORD_LETTERS = 26


def write_box_page(page: BoxPage, file: Path) -> None:
    """Write a page; an older file is replaced when the new one is complete.

    Raises
    ------
    FinmeasureError
        If the ending is neither .html nor .pdf, or the file cannot be written.
    """
    ending = file.suffix.lower()
    if ending not in ENDINGS:
        message = f"Report file {file.name!r}: the ending must be .html or .pdf."
        raise FinmeasureError(message)
    content = _pdf(page) if ending == ".pdf" else _html(page)
    part = file.with_name(f".{file.name}.{os.getpid()}.part")
    try:
        part.write_bytes(content)
        os.replace(part, file)
    except OSError as error:
        message = f"The report cannot be written to {file}: {error.strerror}."
        raise FinmeasureError(message) from error
    finally:
        part.unlink(missing_ok=True)


def _now() -> str:
    return datetime.now().astimezone().strftime("%Y-%m-%d %H:%M %z")


def _html(page: BoxPage) -> bytes:
    environment = Environment(
        loader=FileSystemLoader(TEMPLATES), autoescape=True, undefined=StrictUndefined,
        trim_blocks=True, lstrip_blocks=True,
    )  # fmt: skip
    environment.filters["base64"] = lambda content: base64.b64encode(content).decode()
    style = (TEMPLATES / "page.css").read_text(encoding="utf-8")
    text = environment.get_template("box_page.html.j2").render(
        page=page,
        style=style,
        style_hash=base64.b64encode(hashlib.sha256(style.encode()).digest()).decode(),
        version=__version__,
        written=_now(),
    )
    return text.encode("utf-8", "backslashreplace")


def _pdf(page: BoxPage) -> bytes:
    from reportlab.lib.pagesizes import A4
    from reportlab.platypus import SimpleDocTemplate

    target = io.BytesIO()
    # Margins leave room so that A4 also prints unscaled on letter, which is 50 points shorter
    document = SimpleDocTemplate(
        target, pagesize=A4, title=page.title, leftMargin=45, rightMargin=45, topMargin=55,
        bottomMargin=55,
    )  # fmt: skip
    flow = [words(page.title, "Title")]
    flow.append(words(f"Written {_now()} with finmeasure {__version__}.", "BodyText"))
    for section in page.sections:
        flow += _flowing(section)
    document.build(flow)
    return target.getvalue()


def _flowing(section: Section) -> list[Any]:
    """Give one section's paragraphs, tables and pictures in order."""
    from reportlab.lib.utils import ImageReader
    from reportlab.platypus import Image, KeepTogether, Spacer

    flow = [words(section.title, "Heading2")]
    flow[0].keepWithNext = True  # no heading alone at the foot of a page
    flow += [words(text, "BodyText") for text in section.paragraphs]
    for table in section.tables:
        flow += [_pdf_table(table), Spacer(1, 8)]
    flow += [words(f"• {text}", "BodyText") for text in section.bullets]
    for picture in section.pictures:
        width, height = ImageReader(io.BytesIO(picture.content)).getSize()
        factor = min((480 if width > 600 else 300) / width, 200 / height)
        image = Image(io.BytesIO(picture.content), width * factor, height * factor)
        flow.append(KeepTogether([image, words(picture.caption, "BodyText")]))
    return flow


def _pdf_table(table: Table) -> Any:
    """Share the width by the longest cells, but never break a word that fits."""
    columns = list(zip(table.heads, *table.rows, strict=True))
    words_of = [
        max(len(word) for cell in column for word in cell.split() or [""]) for column in columns
    ]
    least = [min(max(word, 3), WORD_LETTERS) * _LETTER_POINTS + 12 for word in words_of]
    longest = [min(max(len(cell) for cell in column), 70) for column in columns]
    left = max(_WIDTH_POINTS - sum(least), 0)
    shared = [
        max(letters * _LETTER_POINTS + 12 - room, 1)
        for letters, room in zip(longest, least, strict=True)
    ]
    widths = [room + left * share / sum(shared) for room, share in zip(least, shared, strict=True)]
    return pdf_table(
        table.heads, table.rows, tuple(_WIDTH_POINTS * w / sum(widths) for w in widths)
    )
