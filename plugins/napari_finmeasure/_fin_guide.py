"""Which fin is which: every kind of fish with its fins, their names and what they tell."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

from qtpy.QtCore import Qt
from qtpy.QtWidgets import QComboBox, QListWidget, QSizePolicy, QTextBrowser, QVBoxLayout, QWidget

from finmeasure.landmarks.drawings.svg import DARK, LIGHT, form_svg
from finmeasure.landmarks.scheme import BodyForm, body_form, body_forms, fin_definitions
from napari_finmeasure._hint_card import FormPicture
from napari_finmeasure._text_size import ems, follow_text, page_style

if TYPE_CHECKING:
    import napari


class FinGuide(QWidget):
    """A drawing with the chosen fin lit up, and what is known of it.

    Parameters
    ----------
    napari_viewer : napari.viewer.Viewer
        For its theme.
    """

    def __init__(self, napari_viewer: napari.viewer.Viewer) -> None:
        super().__init__()
        self.setObjectName("finmeasure_fin_guide")
        self._viewer = napari_viewer
        self.kinds = QComboBox()
        for form in body_forms().values():
            self.kinds.addItem(form.shown, form.id)
        self.kinds.setMinimumContentsLength(20)
        self.kinds.currentIndexChanged.connect(self._kind_changed)
        self.picture = FormPicture()
        self.fins = QListWidget()
        self.fins.currentRowChanged.connect(self._fin_changed)
        self.text = QTextBrowser()
        layout = QVBoxLayout(self)
        for widget in (self.kinds, self.picture, self.fins, self.text):
            layout.addWidget(widget, 2 if widget is self.text else 0)
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Expanding)
        follow_text(self, self._dress)
        self._kind_changed()

    def _dress(self) -> None:
        """Take the room that the text needs."""
        self.setStyleSheet(page_style())
        self.picture.setFixedHeight(ems(14))
        self.fins.setMaximumHeight(ems(11))
        self.setMinimumWidth(ems(23))

    def show_kind(self, form_id: str) -> None:
        """Show one kind of fish."""
        self.kinds.setCurrentIndex(self.kinds.findData(form_id))

    def _kind_changed(self) -> None:
        """Show the fins of another kind."""
        form = body_form(self.kinds.currentData())
        self.fins.clear()
        for fin in form.fins:
            self.fins.addItem(fin_definitions()[fin].shown)
            self.fins.item(self.fins.count() - 1).setData(Qt.ItemDataRole.UserRole, fin)
        self.fins.setCurrentRow(0)

    def _fin_changed(self) -> None:
        """Light up another fin."""
        item = self.fins.currentItem()
        if item is None:
            return
        form = body_form(self.kinds.currentData())
        fin = item.data(Qt.ItemDataRole.UserRole)
        ink = DARK if self._viewer.theme == "dark" else LIGHT
        names = {one: fin_definitions()[one].shown for one in form.fins}
        self.picture.show_svg(form_svg(form.id, lit_fin=fin, names=names, ink=ink))
        self.text.setHtml(fin_text(form, fin))


def fin_text(form: BodyForm, fin: str) -> str:
    """Write what is known of a fin, with the ground for it.

    Parameters
    ----------
    form : BodyForm
        Kind of fish.
    fin : str
        Fin.

    Returns
    -------
    str
        Rich text.
    """
    definition, tell = fin_definitions()[fin], form.tells[fin]
    other = ", ".join(dict.fromkeys((*definition.synonyms, *tell.synonyms))).replace("_", " ")
    parts = [
        f"<h3>{escape(definition.shown)}</h3>",
        f"<p>{escape(definition.where)}</p>",
        f"<p><b>Also called:</b> {escape(other)}</p>" if other else "",
        f"<p><b>What it tells:</b> {escape(tell.text)} <i>({escape(tell.source)})</i></p>",
        f"<p><b>Male or female:</b> {escape(form.sex_note)}</p>",
        "".join(f"<p>{escape(note)}</p>" for note in form.notes),
        "<p>Generalities; there are exceptions.</p>",
    ]
    return "".join(parts)
