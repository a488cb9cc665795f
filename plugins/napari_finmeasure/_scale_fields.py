"""What a person types about the reference and about where the fish stands."""

from __future__ import annotations

from collections.abc import Sequence

from qtpy.QtWidgets import (
    QComboBox,
    QFormLayout,
    QGroupBox,
    QLabel,
    QLineEdit,
    QSizePolicy,
    QWidget,
)

from finmeasure.errors import MarkingError
from finmeasure.scale.references import COINS_MM, MarkedObject, Ruler
from finmeasure.scale.request import Bar, ScaleRequest
from finmeasure.scale.water import GLASS_MM, Tank
from napari_finmeasure._hands import Place
from napari_finmeasure._text_size import ems, follow_text
from napari_finmeasure._words import beside

WAYS = {
    "card": "our printed card",
    "paper": "square paper",
    "ruler": "a ruler",
    "bar": "a length that I know",
    "ID1": "a blank bank-size card",
    "coin": "a coin",
    "known": "nothing; I know pixels per mm",
}
TICKS_MM = {
    "1 mm": 1.0,
    "0.5 mm": 0.5,
    "1/16 inch": 25.4 / 16,
    "1/8 inch": 25.4 / 8,
    "1/32 inch": 25.4 / 32,
}
PLACES = {
    "": "beside it, in one plane",
    "before": "nearer to the camera",
    "tank": "in a glass tank",
    "curved": "in a bag or round bowl",
}
FIELDS_OF = {
    "paper": ("square_mm",),
    "ruler": ("ticks",),
    "bar": ("bar",),
    "coin": ("coin",),
    "known": ("known",),
    "before": ("before_mm", "distance_mm"),
    "tank": ("fish_behind_mm", "card_behind_mm", "glass_mm", "distance_mm"),
}
MARKED_WAYS = ("ruler", "bar", "ID1", "coin")


class ReferenceFields(QGroupBox):
    """Which reference stands in the photo, and its size."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__("What shows the size?", parent)
        self.way = _choice()
        for way, words in WAYS.items():
            self.way.addItem(words, way)
        self.square_mm = number("5")
        self.ticks, self.coin = _choice(), _choice()
        for words, tick_mm in TICKS_MM.items():
            self.ticks.addItem(words, tick_mm)
        for name, across_mm in COINS_MM.items():
            self.coin.addItem(f"{name}  ({across_mm:g} mm)", name)
        self.length, self.length_u = number("10"), number("0.1")
        self.px_per_mm, self.px_per_mm_u = number(""), number("")
        self.form = QFormLayout(self)
        self.form.addRow("in the photo", self.way)
        self.rows = {
            "square_mm": self._row("lines are apart", self.square_mm, "mm"),
            "ticks": self._row("finest marks", self.ticks),
            "bar": self._row("its length", self.length, "mm ±", self.length_u),
            "coin": self._row("which coin", self.coin),
            "known": self._row("pixels per mm", self.px_per_mm, "±", self.px_per_mm_u),
        }
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)
        self.way.currentIndexChanged.connect(lambda: show_rows(self.form, self.rows, self.chosen))
        show_rows(self.form, self.rows, self.chosen)

    @property
    def chosen(self) -> str:
        """The way that is chosen."""
        return str(self.way.currentData())

    def choose(self, way: str) -> None:
        """Choose another way."""
        self.way.setCurrentIndex(self.way.findData(way))

    def request(self, points: Sequence[Place]) -> ScaleRequest:
        """Make a request from what is typed and marked.

        Raises
        ------
        FinmeasureError
            If a number is none, or cannot be.
        """
        way = self.chosen
        if way == "paper":
            return ScaleRequest(square_mm=value(self.square_mm, "spacing"))
        if way == "known":
            u = value(self.px_per_mm_u, "uncertainty") if self.px_per_mm_u.text().strip() else None
            return ScaleRequest(px_per_mm=value(self.px_per_mm, "number"), px_per_mm_u=u)
        if way in MARKED_WAYS:
            return ScaleRequest().with_reference(self._marked(way, points))
        return ScaleRequest()

    def _marked(self, way: str, points: Sequence[Place]) -> Bar | Ruler | MarkedObject:
        """Make the reference that was marked."""
        if way == "bar":
            (x1, y1), (x2, y2) = points
            length, u = value(self.length, "length"), value(self.length_u, "uncertainty")
            return Bar(x1, y1, x2, y2, length, u)
        if way == "ruler":
            (x1, y1), (x2, y2) = points
            return Ruler(x1, y1, x2, y2, float(self.ticks.currentData()))
        name = "ID1" if way == "ID1" else str(self.coin.currentData())
        return MarkedObject(name, tuple(points))

    def _row(self, words: str, *parts: QWidget | str) -> QWidget:
        """Add one line of the form."""
        holder = beside(*(QLabel(part) if isinstance(part, str) else part for part in parts))
        self.form.addRow(words, holder)
        return holder


class DepthFields(QGroupBox):
    """Where the fish stands, seen from the reference."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__("Where is the fish?", parent)
        self.place = _choice()
        for place, words in PLACES.items():
            self.place.addItem(words, place)
        self.before_mm, self.distance_mm = number(""), number("")
        self.fish_behind_mm, self.card_behind_mm = number(""), number("")
        self.glass_mm = number(f"{GLASS_MM:g}")
        self.distance_mm.setPlaceholderText("from photo")
        self.card_behind_mm.setPlaceholderText("outside")
        self.form = QFormLayout(self)
        self.form.addRow("the fish is", self.place)
        self.rows = {
            "before_mm": self._row("nearer by", self.before_mm),
            "fish_behind_mm": self._row("water before the fish", self.fish_behind_mm),
            "card_behind_mm": self._row("water before the card", self.card_behind_mm),
            "glass_mm": self._row("thickness of the glass", self.glass_mm),
            "distance_mm": self._row("lens to card", self.distance_mm),
        }
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)
        self.place.currentIndexChanged.connect(lambda: show_rows(self.form, self.rows, self.chosen))
        show_rows(self.form, self.rows, self.chosen)

    @property
    def chosen(self) -> str:
        """Where the fish is said to be."""
        return str(self.place.currentData())

    def given(self) -> dict[str, object]:
        """Give what belongs into a request, by its names there.

        Raises
        ------
        FinmeasureError
            If a number is none, or cannot be.
        """
        if not self.chosen:
            return {}
        if self.chosen == "curved":
            return {"through_curved": True}
        distance = _perhaps(self.distance_mm, "distance from lens to card")
        if self.chosen == "before":
            before = value(self.before_mm, "distance of the fish before the reference")
            return {"fish_before_card_mm": before, "camera_distance_mm": distance}
        tank = Tank(
            value(self.fish_behind_mm, "water before the fish"),
            _perhaps(self.card_behind_mm, "water before the card"),
            value(self.glass_mm, "thickness of the glass"),
        )
        return {"tank": tank, "camera_distance_mm": distance}

    def _row(self, words: str, field: QLineEdit) -> QWidget:
        """Add one line of the form."""
        holder = beside(field, QLabel("mm"))
        self.form.addRow(words, holder)
        return holder


def show_rows(form: QFormLayout, rows: dict[str, QWidget], chosen: str) -> None:
    """Show the lines of a form that belong to what is chosen."""
    for name, holder in rows.items():
        form.setRowVisible(holder, name in FIELDS_OF.get(chosen, ()))


def _choice() -> QComboBox:
    """Make a list to choose from that never makes the panel wider."""
    box = QComboBox()
    box.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
    box.setMinimumContentsLength(8)
    box.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
    return box


def number(text: str) -> QLineEdit:
    """Make a short field."""
    field = QLineEdit(text)
    follow_text(field, lambda: field.setFixedWidth(ems(6.3)))
    return field


def value(field: QLineEdit, what: str) -> float:
    """Read a number as people type it, with decimal point or comma.

    Raises
    ------
    MarkingError
        If it is none.
    """
    text = field.text().strip().replace(",", ".")
    try:
        return float(text)
    except ValueError as error:
        message = f"The {what} is {field.text()!r}. Type a number, for example 10 or 12.5."
        raise MarkingError(message) from error


def _perhaps(field: QLineEdit, what: str) -> float | None:
    """Read a number that may be left out."""
    return value(field, what) if field.text().strip() else None
