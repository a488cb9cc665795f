"""What the panel says before anything is open: how marking goes, in four lines."""

from __future__ import annotations

from qtpy.QtWidgets import QPushButton, QVBoxLayout, QWidget

from napari_finmeasure._text_size import follow_text, text_size
from napari_finmeasure._words import Words

LINES = (
    "<b>1</b>&nbsp; Open photos: a folder, one photo, or a study.",
    "<b>2</b>&nbsp; A card beside the mouse names one point at a time. Click it on the fish; the "
    "card goes on to the next.",
    "<b>3</b>&nbsp; Numbers appear here with their ±. Drag a point and watch them follow.",
    "<b>4</b>&nbsp; To know how whole a fin is, trace its edge.",
    "<b>5</b>&nbsp; Confirm. Every click is kept at once, so nothing is lost if the power fails.",
)


class Welcome(QWidget):
    """Four lines and two buttons."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        layout = QVBoxLayout(self)
        title = Words("How it goes")
        follow_text(title, lambda: title.setStyleSheet(f"font-weight: bold; {text_size(1.4)}"))
        layout.addWidget(title)
        for line in LINES:
            layout.addSpacing(8)
            layout.addWidget(Words(line))
        layout.addSpacing(16)
        self.guide = QPushButton("Which fin is which?")
        self.keys = QPushButton("All keys  (?)")
        layout.addWidget(self.guide)
        layout.addWidget(self.keys)
        layout.addStretch(1)
