"""The report on change over time as a web page or as a PDF."""

from __future__ import annotations

import base64
import hashlib
import io
import os
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined

from finmeasure import __version__
from finmeasure.cautions import cautions
from finmeasure.errors import FinmeasureError
from finmeasure.report.change_content import HOW_TO_READ, ChangePage, Figure, change_page
from finmeasure.report.html import TEMPLATES
from finmeasure.report.pdf import pdf_table, words
from finmeasure.timeseries.care import HEADING

if TYPE_CHECKING:
    from finmeasure.study.store import Study

ENDINGS = (".html", ".htm", ".pdf")


def write_change_report(study: Study, file: Path, page: ChangePage | None = None) -> None:
    """Write the report on change over time.

    Parameters
    ----------
    study : Study
        Open.
    file : Path
        Ending .html or .pdf; an older one is replaced when the new one is complete.
    page : ChangePage, optional
        Gathered from the study if None.

    Raises
    ------
    FinmeasureError
        If the ending is another, or the file cannot be written.
    """
    ending = file.suffix.lower()
    if ending not in ENDINGS:
        message = f"Report file {file.name!r}: the ending must be one of {', '.join(ENDINGS)}."
        raise FinmeasureError(message)
    page = page or change_page(study, study.change_over_time())
    title = study.folder.resolve().name
    content = _pdf(page, title) if ending == ".pdf" else _html(page, title)
    part = file.with_name(f".{file.name}.{os.getpid()}.part")
    try:
        part.write_bytes(content)
        os.replace(part, file)
    except OSError as error:
        message = f"The report cannot be written to {file}: {error.strerror}."
        raise FinmeasureError(message) from error
    finally:
        part.unlink(missing_ok=True)


def section_html(page: ChangePage) -> str:
    """Give the part on change over time for the page of another report."""
    return _environment().get_template("change_over_time.html.j2").render(**_given(page))


def _html(page: ChangePage, title: str) -> bytes:
    style = (TEMPLATES / "page.css").read_text(encoding="utf-8")
    text = _environment().get_template("change_report.html.j2").render(
        **_given(page),
        title=title,
        cautions=cautions(),
        style=style,
        style_hash=base64.b64encode(hashlib.sha256(style.encode()).digest()).decode(),
        version=__version__,
        written=_now(),
    )  # fmt: skip
    return text.encode("utf-8", "backslashreplace")


def _given(page: ChangePage) -> dict[str, Any]:
    return {"page": page, "data": _data_address, "heading": HEADING, "how_to_read": HOW_TO_READ}


def _environment() -> Environment:
    return Environment(
        loader=FileSystemLoader(TEMPLATES),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def _data_address(figure: Figure) -> str:
    return f"data:image/{figure.kind};base64," + base64.b64encode(figure.content).decode()


def _now() -> str:
    return datetime.now().astimezone().strftime("%Y-%m-%d %H:%M")


def _pdf(page: ChangePage, title: str) -> bytes:
    from reportlab.lib.pagesizes import A4
    from reportlab.platypus import SimpleDocTemplate

    target = io.BytesIO()
    document = SimpleDocTemplate(
        target, pagesize=A4, title=f"Change over time: {title}", leftMargin=45, rightMargin=45
    )
    document.build(_flowing(page, title))
    return target.getvalue()


def _flowing(page: ChangePage, title: str) -> list[Any]:
    """Give the PDF's paragraphs, tables and pictures in order."""
    from reportlab.platypus import KeepTogether

    parts = [
        words(f"Change over time: {title}", "Title"),
        words(f"Written {_now()} with finmeasure {__version__}.", "BodyText"),
        words("In short", "Heading2"),
        words(HOW_TO_READ, "BodyText"),
        pdf_table(("Fish", "Group", "Fin", "Seen", "Verdict"), page.rows, (55, 55, 85, 85, 225)),
    ]
    parts += [words(f"! {text}", "BodyText") for text in page.remarks]
    for advice in page.advice:
        parts += [
            words(f"{HEADING}: {advice.group} ({advice.because})", "Heading2"),
            *(words(f"• {line}", "BodyText") for line in advice.lines),
        ]
    if page.group_rows:
        heads = ("Group", "Fin", "Visit", "Fish", "Change", "Verdict", "Compared")
        parts.append(words("Groups", "Heading2"))
        parts.append(pdf_table(heads, page.group_rows, (60, 85, 58, 52, 130, 75, 50)))
    parts += [words(text, "BodyText") for text in page.arms]
    parts += [_picture(figure) for figure in page.groups]
    for story in page.stories:
        head = [words(story.title, "Heading2"), words(story.sentence, "BodyText")]
        parts.append(KeepTogether([*head, _picture(story.figures[0])]))
        for figure in story.figures[1:]:
            told = f"{figure.title}. {figure.caption}"
            parts.append(KeepTogether([_picture(figure), words(told, "BodyText")]))
    for heading, lines in cautions().items():
        parts.append(words(heading.capitalize(), "Heading3"))
        parts += [words(f"• {line}", "BodyText") for line in lines]
    return parts


def _picture(figure: Figure) -> Any:
    from reportlab.lib.utils import ImageReader
    from reportlab.platypus import Image

    width, height = ImageReader(io.BytesIO(figure.content)).getSize()
    factor = min(480 / width, 300 / height)
    return Image(io.BytesIO(figure.content), width * factor, height * factor)
