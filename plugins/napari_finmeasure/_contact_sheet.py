"""The group at a glance: every fish with its picture, ratios and state; sort, open, mark many."""

from __future__ import annotations

from collections.abc import Sequence

from qtpy.QtCore import QSize, Qt, QTimer, Signal
from qtpy.QtGui import QIcon, QImage, QPixmap
from qtpy.QtWidgets import (
    QAbstractItemView,
    QComboBox,
    QDialog,
    QLabel,
    QLineEdit,
    QPushButton,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from finmeasure.errors import FinmeasureError
from finmeasure.exchange.inputs import LabelRow
from finmeasure.marking.queue import STATE_WORDS
from finmeasure.measurements.definitions import HEADLINE, MEASURES
from finmeasure.report.contact_sheet import SheetFish, contact_sheet, fish_picture
from napari_finmeasure._queue_list import SIGNS
from napari_finmeasure._text_size import ems, follow_text, page_style, stretch_to
from napari_finmeasure._words import Words, beside
from napari_finmeasure._workspace import Workspace

PICTURE_EMS = (9.5, 4.2)
WORD_COLUMNS = ("fish", "photo", "group", "state", "sex", "species")
SHOWN = (
    "standard_length", "total_length", *HEADLINE, "body_depth_to_sl", "head_length_to_sl",
    "anal_height_to_sl",
)  # fmt: skip
SEXES = {"": "as it is", "male": "male", "female": "female", "not told": "not told yet"}
HINT = (
    "Click a heading to sort. Choose several fish with Shift or Ctrl and mark them together. "
    "Enter or a double click opens one."
)


class Cell(QTableWidgetItem):
    """A cell that is sorted by a number where it has one; empty cells come last."""

    def __init__(self, text: str, number: float | None = None) -> None:
        super().__init__(text)
        self.number = number
        if number is not None:
            self.setTextAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)

    def __lt__(self, other: QTableWidgetItem) -> bool:
        """Compare for sorting."""
        assert isinstance(other, Cell)
        if self.number is None and other.number is None:
            return bool(self.text().casefold() < other.text().casefold())
        if self.number is None or other.number is None:
            return other.number is None
        return self.number < other.number


class ContactSheet(QDialog):
    """All fish of the open study.

    Signals
    -------
    opened
        Photo and fish that the person wants to see.
    marked
        Labels or names were written.

    Parameters
    ----------
    parent : QWidget
        The desk.
    """

    opened = Signal(str, str)
    marked = Signal()

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.setObjectName("finmeasure_contact_sheet")
        self.setWindowTitle("All fish")
        self._workspace: Workspace | None = None
        self._fish: tuple[SheetFish, ...] = ()
        self._waiting: list[int] = []
        self._pictures: dict[tuple[str, str], QIcon] = {}
        self.group = QComboBox()
        self.group.currentIndexChanged.connect(self._fill)
        self.order = QComboBox()
        for column, words in enumerate(_headings()[1:], start=1):
            self.order.addItem(words.replace("\n", " "), column)
        self.order.activated.connect(self._sort)
        self.table = QTableWidget(0, 1 + len(WORD_COLUMNS) + len(SHOWN))
        self._set_up_table()
        self.sex, self.species, self.name = QComboBox(), QLineEdit(), QLineEdit()
        for value, words in SEXES.items():
            self.sex.addItem(words, value)
        self.species.setPlaceholderText("as it is")
        self.name.setPlaceholderText("as it is")
        self.mark_button, self.open_button = QPushButton("Mark"), QPushButton("Open  (Enter)")
        self.mark_button.setAutoDefault(False)
        self.open_button.setDefault(True)
        self.mark_button.clicked.connect(self.mark_chosen)
        self.open_button.clicked.connect(self.open_chosen)
        self.said = Words(HINT)
        self._soon = QTimer(self)
        self._soon.timeout.connect(self._next_picture)
        self._lay_out()

    def _set_up_table(self) -> None:
        """Give the table its headings and habits."""
        self.table.setHorizontalHeaderLabels(_headings())
        for column, one in enumerate(SHOWN, start=1 + len(WORD_COLUMNS)):
            self.table.horizontalHeaderItem(column).setToolTip(MEASURES[one].explanation)
        self.table.verticalHeader().hide()
        self.table.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.table.setSelectionMode(QAbstractItemView.SelectionMode.ExtendedSelection)
        self.table.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.table.setTabKeyNavigation(False)
        self.table.itemDoubleClicked.connect(lambda _: self.open_chosen())
        self.table.itemSelectionChanged.connect(self._chosen_changed)

    def _lay_out(self) -> None:
        """Put the parts below each other."""
        layout = QVBoxLayout(self)
        layout.addWidget(beside(QLabel("group"), self.group, QLabel("  sort by"), self.order))
        layout.addWidget(self.table, 1)
        layout.addWidget(
            beside(
                QLabel("chosen fish:  sex"), self.sex, QLabel("species"), self.species,
                QLabel("name"), self.name, self.mark_button, self.open_button,
            )
        )  # fmt: skip
        layout.addWidget(self.said)
        follow_text(self, self._dress)

    def _dress(self) -> None:
        """Take the room that the text needs."""
        self.setStyleSheet(page_style())
        self._pictures = {}
        picture = _picture_size()
        self.table.setIconSize(picture)
        self.table.verticalHeader().setDefaultSectionSize(picture.height() + 4)
        stretch_to(self, 84, 48)
        self._fill()

    # -- showing ------------------------------------------------------------------------------

    def show_study(self, workspace: Workspace) -> None:
        """Show the fish of a study."""
        if workspace is not self._workspace:
            self._pictures = {}
        self._workspace = workspace
        self._fish = contact_sheet(workspace.study)
        chosen = self.group.currentData()
        self.group.blockSignals(True)
        self.group.clear()
        self.group.addItem("all groups", None)
        for group in sorted({one.group for one in self._fish if one.group}):
            self.group.addItem(group, group)
        self.group.setCurrentIndex(max(self.group.findData(chosen), 0))
        self.group.blockSignals(False)
        self._fill()

    def _sort(self) -> None:
        """Sort by what is chosen in the box; a click on a heading does the same."""
        self.table.sortItems(self.order.currentData(), Qt.SortOrder.AscendingOrder)

    def hideEvent(self, event: object) -> None:
        """Stop making pictures when nobody looks."""
        self._soon.stop()

    def _fill(self) -> None:
        """Write the table; pictures follow one by one."""
        group = self.group.currentData()
        rows = [i for i, one in enumerate(self._fish) if group is None or one.group == group]
        self.table.setSortingEnabled(False)
        self.table.setRowCount(len(rows))
        for row, index in enumerate(rows):
            for column, cell in enumerate(_cells(self._fish[index])):
                self.table.setItem(row, column, cell)
            self.table.item(row, 0).setData(Qt.ItemDataRole.UserRole, index)
        self.table.setSortingEnabled(True)
        self.table.resizeColumnsToContents()
        self.table.setColumnWidth(0, _picture_size().width() + 8)
        self._waiting = rows
        self._soon.start(0)
        self._chosen_changed()

    def _next_picture(self) -> None:
        """Make one more picture; the window stays alive between two."""
        if not self._waiting:
            self._soon.stop()
            return
        index = self._waiting.pop(0)
        one = self._fish[index]
        key = (one.photo, one.fish)
        if key not in self._pictures:
            self._pictures[key] = _icon(one)
        for row in range(self.table.rowCount()):
            item = self.table.item(row, 0)
            if item.data(Qt.ItemDataRole.UserRole) == index:
                item.setIcon(self._pictures[key])

    def _chosen_changed(self) -> None:
        """Say how many fish would be marked."""
        count = sum(bool(one.fish) for one in self.chosen)
        self.mark_button.setText(f"Mark {count} fish" if count else "Mark")
        self.mark_button.setEnabled(count > 0)
        self.open_button.setEnabled(bool(self.chosen))

    @property
    def chosen(self) -> list[SheetFish]:
        """Fish of the chosen lines, from top to bottom."""
        rows = sorted({index.row() for index in self.table.selectedIndexes()})
        items = [self.table.item(row, 0) for row in rows]
        return [self._fish[item.data(Qt.ItemDataRole.UserRole)] for item in items]

    # -- doing --------------------------------------------------------------------------------

    def open_chosen(self) -> None:
        """Open the first chosen fish on the desk."""
        if self.chosen:
            one = self.chosen[0]
            self.close()
            self.opened.emit(one.photo, one.fish)

    def mark_chosen(self) -> None:
        """Write sex, species and name of all chosen fish into the study."""
        workspace, fish = self._workspace, [one for one in self.chosen if one.fish]
        given = {"sex": self.sex.currentData(), "species": self.species.text().strip()}
        given = {character: value for character, value in given.items() if value}
        name = self.name.text().strip()
        if workspace is None or not fish or not (given or name):
            self.said.setText("Choose fish above, then a sex, a species or a name for them.")
            return
        if workspace.read_only:
            self.said.setText(workspace.read_only)
            return
        try:
            workspace.study.add_labels(_labels(fish, given, workspace.person))
            self._give_names(workspace, fish, name)
        except FinmeasureError as error:
            self.said.setText(str(error))
            return
        self.said.setText(f"Kept for {len(fish)} fish.")
        self.sex.setCurrentIndex(0)
        self.species.clear()
        self.name.clear()
        self.show_study(workspace)
        self.marked.emit()

    @staticmethod
    def _give_names(workspace: Workspace, fish: Sequence[SheetFish], name: str) -> None:
        """Name fish; several get a number after the name."""
        if not name:
            return
        for number, one in enumerate(fish, start=1):
            own = name if len(fish) == 1 else f"{name}-{number}"
            workspace.study.name_fish(one.photo, one.fish, own)


def _labels(fish: Sequence[SheetFish], given: dict[str, str], person: str) -> list[LabelRow]:
    """Make the labels of many fish."""
    return [
        LabelRow(one.fish, character, value, person, one.photo if one.fish.isdecimal() else "")
        for one in fish
        for character, value in given.items()
    ]


def _cells(one: SheetFish) -> list[Cell]:
    """Make the cells of one line."""
    state = f"{SIGNS[one.state]} {STATE_WORDS[one.state]}"  # type: ignore[index]
    words = (
        one.fish or "–", one.photo, one.group, state, one.labels.get("sex", ""),
        one.labels.get("species", ""),
    )  # fmt: skip
    cells = [Cell(""), *(Cell(text) for text in words)]
    cells[4].setToolTip(one.reason)
    for measure in SHOWN:
        value = one.value(measure)
        unit = " mm" if MEASURES[measure].unit == "mm" else ""
        text = "" if value is None else f"{value:.1f}{unit}" if unit else f"{value:.3f}"
        cells.append(Cell(text, value))
    return cells


def _headings() -> list[str]:
    """Headings of all columns; that of the pictures is empty."""
    names = [MEASURES[one].shown.replace(" / ", "\n/ ") for one in SHOWN]
    return ["", *WORD_COLUMNS, *names]


def _picture_size() -> QSize:
    """Size of the small pictures, pixels."""
    return QSize(*(ems(side) for side in PICTURE_EMS))


def _icon(one: SheetFish) -> QIcon:
    """Make the small picture of a fish."""
    size = _picture_size()
    pixels = fish_picture(one, (size.width(), size.height()))
    if not pixels.size:
        return QIcon()
    height, width = pixels.shape[:2]
    image = QImage(pixels.data, width, height, 3 * width, QImage.Format.Format_RGB888)
    return QIcon(QPixmap.fromImage(image.copy()))
