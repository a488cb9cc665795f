"""The diary of a tank: events and water tests with their days, written into the study."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

from qtpy.QtCore import Qt
from qtpy.QtWidgets import (
    QComboBox,
    QDialog,
    QFormLayout,
    QGroupBox,
    QHBoxLayout,
    QLineEdit,
    QListWidget,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from finmeasure.errors import FinmeasureError
from finmeasure.report.change_diary import (
    EVENTS,
    QUANTITIES,
    groups_of,
    on_record,
    write_event,
    write_water,
)
from napari_finmeasure._text_size import follow_text, page_style, stretch_to
from napari_finmeasure._words import Words
from napari_finmeasure._workspace import Workspace

HINT = (
    "What happened in the tank, and water tests. The report on change over time takes treated "
    "tanks, deaths and what to look at next from here. Medication: its name as you type it."
)
NO_GROUP = (
    "No group is known yet. Type a name for the tank here; photos get theirs by --group or "
    "the name pattern."
)


class Diary(QDialog):
    """Events and water tests of the open study's groups.

    Parameters
    ----------
    parent : QWidget
        The desk.
    """

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.setObjectName("finmeasure_diary")
        self.setWindowTitle("Diary of the tank")
        self._workspace: Workspace | None = None
        self.group, self.day = QComboBox(), QLineEdit()
        self.group.setEditable(True)
        self.group.currentTextChanged.connect(self._show_record)
        self.what, self.fish, self.note = QComboBox(), QLineEdit(), QLineEdit()
        self.what.setEditable(True)
        self.what.addItems(["", *EVENTS])
        self.fish.setPlaceholderText("only if it is about one fish")
        self.values = {name: QLineEdit() for name in QUANTITIES}
        self.record, self.said = QListWidget(), Words(HINT)
        self.event_button = _button("Write the event down", self.add_event)
        self.water_button = _button("Write the water test down", self.add_water)
        self._lay_out()
        follow_text(self, self._dress)

    def _lay_out(self) -> None:
        """Put everything in its place."""
        head, event, water = QFormLayout(), QFormLayout(), QFormLayout()
        head.addRow("Group", self.group)
        head.addRow("Day", self.day)
        event.addRow("What happened", self.what)
        event.addRow("Fish", self.fish)
        event.addRow("Note", self.note)
        event.addRow(self.event_button)
        for name, field in self.values.items():
            unit = QUANTITIES[name]
            water.addRow(name if unit == "1" else f"{name}, {unit}", field)
        water.addRow(self.water_button)
        both = QHBoxLayout()
        for title, form in (("Event", event), ("Water test", water)):
            box = QGroupBox(title)
            box.setLayout(form)
            both.addWidget(box, 1)
        layout = QVBoxLayout(self)
        layout.addLayout(head)
        layout.addLayout(both)
        layout.addWidget(self.said)
        layout.addWidget(self.record, 1)

    def _dress(self) -> None:
        """Take the room that the text needs."""
        self.setStyleSheet(page_style())
        stretch_to(self, 58, 42)

    def show_study(self, workspace: Workspace) -> None:
        """Show what is on record of a study's groups."""
        self._workspace = workspace
        chosen, groups = self.group.currentText(), groups_of(workspace.study)
        self.group.blockSignals(True)
        self.group.clear()
        self.group.addItems(groups)
        if chosen in groups:
            self.group.setCurrentText(chosen)
        self.group.blockSignals(False)
        self.day.setText(date.today().isoformat())
        self.said.setText(workspace.read_only or (HINT if groups else NO_GROUP))
        for button in (self.event_button, self.water_button):
            button.setEnabled(not workspace.read_only)
        self._show_record()
        self.what.setFocus(Qt.FocusReason.OtherFocusReason)

    def _show_record(self) -> None:
        """List what is on record of the group."""
        self.record.clear()
        if self._workspace is not None and self.group.currentText().strip():
            lines = on_record(self._workspace.study, self.group.currentText().strip())
            self.record.addItems(lines or ["Nothing is on record of this group yet."])

    def add_event(self) -> None:
        """Write an event down."""
        workspace = self._workspace
        if workspace is None:
            return
        what = self.what.currentText()
        try:
            write_event(workspace.study, self.group.currentText(), self.day.text(), what,
                        note=self.note.text(), fish=self.fish.text())  # fmt: skip
        except FinmeasureError as error:
            self.said.setText(str(error))
            return
        self.said.setText(f"Written down: {what}, {self.day.text()}.")
        self.what.setCurrentIndex(0)
        self.fish.clear()
        self.note.clear()
        self._show_record()

    def add_water(self) -> None:
        """Write a water test down."""
        workspace = self._workspace
        if workspace is None:
            return
        values = {name: field.text() for name, field in self.values.items()}
        try:
            count = write_water(workspace.study, self.group.currentText(), self.day.text(), values)
        except FinmeasureError as error:
            self.said.setText(str(error))
            return
        self.said.setText(f"Written down: water test with {count} values, {self.day.text()}.")
        for field in self.values.values():
            field.clear()
        self._show_record()


def _button(words: str, does: Callable[[], None]) -> QPushButton:
    """Make a button that Enter presses only where it has the keyboard."""
    button = QPushButton(words)
    button.setAutoDefault(False)
    button.clicked.connect(does)
    return button
