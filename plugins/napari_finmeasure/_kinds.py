"""Choose the kind of fish by its picture."""

from __future__ import annotations

from qtpy.QtCore import QRectF, QSize, Qt, Signal
from qtpy.QtGui import QIcon, QPainter, QPixmap
from qtpy.QtSvg import QSvgRenderer
from qtpy.QtWidgets import QCheckBox, QLabel, QListWidget, QListWidgetItem, QVBoxLayout, QWidget

from finmeasure.landmarks.drawings.svg import Ink, form_svg
from finmeasure.landmarks.scheme import LONG_FIN, body_form, body_forms
from napari_finmeasure._text_size import ems, follow_text

ICON_EMS, GRID_EMS = (8.3, 4.7), (12.9, 8.6)


class KindPicker(QWidget):
    """All body forms as pictures.

    Signals
    -------
    chosen
        Id of a body form.
    """

    chosen = Signal(str)

    def __init__(self, ink: Ink, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        title = QLabel("Which of these is nearest to your fish?")
        title.setWordWrap(True)
        self.list = QListWidget()
        self.list.setObjectName("finmeasure_kinds")
        self.list.setViewMode(QListWidget.ViewMode.IconMode)
        self.list.setResizeMode(QListWidget.ResizeMode.Adjust)
        self.list.setMovement(QListWidget.Movement.Static)
        self.list.setWordWrap(True)
        for form in body_forms().values():
            item = QListWidgetItem(form.shown)
            item.setData(Qt.ItemDataRole.UserRole, form.id)
            item.setToolTip("; ".join((*form.examples, *form.notes)))
            item.setTextAlignment(Qt.AlignmentFlag.AlignHCenter)
            self.list.addItem(item)
        self._ink = ink
        follow_text(self, self._dress)
        self.list.itemClicked.connect(self._picked)
        self.list.itemActivated.connect(self._picked)
        self.long_fin = QCheckBox("Long-fin or veil strain")
        self.long_fin.setToolTip("Its fins are not comparable with those of the wild type")
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addWidget(title)
        layout.addWidget(self.list, 1)
        layout.addWidget(self.long_fin)

    def use(self, ink: Ink) -> None:
        """Draw the pictures in other colours."""
        self._ink = ink
        size = QSize(*(ems(side) for side in ICON_EMS))
        self.list.setIconSize(size)
        self.list.setGridSize(QSize(ems(GRID_EMS[0]), ems(GRID_EMS[1])))  # two columns
        for row in range(self.list.count()):
            item = self.list.item(row)
            item.setIcon(kind_icon(item.data(Qt.ItemDataRole.UserRole), ink, size))

    def _dress(self) -> None:
        """Draw the pictures as large as the text asks for."""
        self.use(self._ink)

    def _picked(self, item: QListWidgetItem) -> None:
        """Tell which kind was chosen."""
        form_id = item.data(Qt.ItemDataRole.UserRole)
        drawn_out = self.long_fin.isChecked() and not body_form(form_id).long_fin
        self.chosen.emit(form_id + LONG_FIN if drawn_out else form_id)


def kind_icon(form_id: str, ink: Ink, size: QSize) -> QIcon:
    """Draw a body form as an icon.

    Parameters
    ----------
    form_id : str
        Id of a body form.
    ink : Ink
        Colours.
    size : QSize
        Size of the icon in pixels.
    """
    renderer = QSvgRenderer(form_svg(form_id, ink=ink).encode())
    natural = renderer.defaultSize()
    share = min(size.width() / natural.width(), size.height() / natural.height())
    width, height = natural.width() * share, natural.height() * share
    picture = QPixmap(size)
    picture.fill(Qt.GlobalColor.transparent)
    painter = QPainter(picture)
    left, top = (size.width() - width) / 2.0, (size.height() - height) / 2.0
    renderer.render(painter, QRectF(left, top, width, height))
    painter.end()
    return QIcon(picture)
