"""The fins: which one is traced, how it is held, what its edge looks like."""

from __future__ import annotations

from qtpy.QtCore import Signal
from qtpy.QtWidgets import (
    QButtonGroup,
    QComboBox,
    QGridLayout,
    QHBoxLayout,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from finmeasure.fins.records import EDGE_CAPTION
from finmeasure.landmarks.scheme import body_form, fin_definitions, landmark_definition
from finmeasure.marking.margin import LEAST_POINTS
from finmeasure.reading import EDGE_MARKS
from napari_finmeasure._bench import Bench
from napari_finmeasure._words import Words

SPREADS = (("spread", "spread"), ("part_folded", "partly folded"), ("clamped", "clamped"))
LEGEND = "Orange: what is missing, and how deep. Green ring: a fork or dip that belongs there."
EDGE_WORDS = {mark: mark.replace("_", " ") for mark in EDGE_MARKS}


class EdgesPage(QWidget):
    """A button per fin; spread and edge mark of the present one.

    Signals
    -------
    fin_chosen
        The fin whose edge is to be traced.
    """

    fin_chosen = Signal(str)

    def __init__(self, bench: Bench, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._bench = bench
        self.fin: str | None = None
        self._fins = QGridLayout()
        self._group = QButtonGroup(self)
        self.fin_buttons: dict[str, QPushButton] = {}
        self.spread_buttons: dict[str, QPushButton] = {}
        self._held = QButtonGroup(self)
        held = QHBoxLayout()
        for number, (spread, words) in zip("890", SPREADS, strict=True):
            button = QPushButton(f"{words} ({number})")
            button.setCheckable(True)
            button.clicked.connect(lambda _=False, s=spread: self.set_spread(s))
            self._held.addButton(button)
            held.addWidget(button)
            self.spread_buttons[spread] = button
        self.edge = QComboBox()
        self.edge.addItem("how the edge looks …", "")
        for place, (mark, words) in enumerate(EDGE_WORDS.items(), start=1):
            self.edge.addItem(f"{place}  {words}", mark)
        self.edge.activated.connect(lambda: self.set_edge(self.edge.currentData()))
        self.pull = QPushButton("Pull to the edge (G)")
        self.pull.setToolTip("Moves the traced line to the nearest edge in the photo")
        self.away = QPushButton("Take the line away")
        self.away.clicked.connect(self._take_away)
        tools = QHBoxLayout()
        tools.addWidget(self.pull)
        tools.addWidget(self.away)
        caption = Words(f"{LEGEND} {EDGE_CAPTION}")
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addLayout(self._fins)
        for part in (held, tools):
            layout.addLayout(part)
        layout.addWidget(self.edge)
        layout.addWidget(caption)
        layout.addStretch(1)
        bench.marks_changed.connect(self.show_marks)

    @property
    def fins(self) -> tuple[str, ...]:
        """Fins of the present body form."""
        session = self._bench.session
        return body_form(session.marks.body_form).fins if session is not None else ()

    def choose(self, fin: str) -> None:
        """Go to a fin."""
        self.fin = fin
        self.show_marks()
        self.fin_chosen.emit(fin)

    def set_spread(self, spread: str) -> None:
        """Say how the present fin is held."""
        if (fin := self._present_fin()) is not None:
            self._bench.set_spread(fin, spread)  # type: ignore[arg-type]

    def set_edge(self, mark: str) -> None:
        """Say what the present fin's edge looks like."""
        if mark and (fin := self._present_fin()) is not None:
            self._bench.set_edge(fin, mark)

    def _present_fin(self) -> str | None:
        """Give the fin that is traced; else that of the point that is chosen or asked for."""
        session = self._bench.session
        if self.fin is not None or session is None:
            return self.fin
        point = self._bench.chosen_point or session.at
        fin = landmark_definition(point).fin if point is not None else ""
        if fin not in self.fins:
            self._bench.said.emit("Choose a fin first: press E, or click a point of the fin.", True)
            return None
        self._bench.said.emit(f"Noted for the {fin_definitions()[fin].shown}.", False)
        return fin

    def show_marks(self) -> None:
        """Show which fins are traced and the present one's marks."""
        session = self._bench.session
        self.setEnabled(session is not None)
        if session is None:
            return
        if tuple(self.fin_buttons) != self.fins:
            self._make_buttons()
        for fin, button in self.fin_buttons.items():
            outline = session.marks.outlines.get(fin)
            traced = outline is not None and len(outline.points_px) >= LEAST_POINTS
            button.setText(f"{'✓' if traced else '○'} {fin.replace('_', ' ')}")
            button.setChecked(fin == self.fin)
        outline = session.marks.outlines.get(self.fin) if self.fin is not None else None
        self.edge.setCurrentIndex(self.edge.findData("" if outline is None else outline.edge))
        spread = "spread" if outline is None else outline.spread
        self.spread_buttons[spread].setChecked(True)

    def _make_buttons(self) -> None:
        """Make a button per fin of the present body form."""
        for button in self.fin_buttons.values():
            self._group.removeButton(button)
            self._fins.removeWidget(button)
            button.hide()
            button.deleteLater()
        self.fin_buttons = {}
        if self.fin not in self.fins:
            self.fin = None
        for place, fin in enumerate(self.fins):
            button = QPushButton(fin)
            button.setCheckable(True)
            button.clicked.connect(lambda _=False, f=fin: self.choose(f))
            self._group.addButton(button)
            self._fins.addWidget(button, place // 3, place % 3)
            self.fin_buttons[fin] = button

    def _take_away(self) -> None:
        """Take the present fin's line away."""
        if self.fin is not None:
            self._bench.remove_margin(self.fin)
