"""Sizes that follow napari's text: who makes the text larger gets larger buttons and panels too."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache

from napari.settings import get_settings
from qtpy.QtCore import QEvent, QObject
from qtpy.QtGui import QFont, QFontMetricsF
from qtpy.QtWidgets import QApplication, QTableView, QWidget

USUAL_LINE_PX = 14.0  # height of a line where the sizes on the canvas were chosen


def text_points() -> int:
    """Give napari's font size in points."""
    return int(get_settings().appearance.font_size)


def text_font() -> QFont:
    """Give the font of napari's text, for what is painted by hand."""
    font = QFont(QApplication.font())
    font.setPointSize(text_points())
    return font


def ems(count: float) -> int:
    """Give a length in pixels from a number of text lines.

    Parameters
    ----------
    count : float
        Times the height of one line of napari's text.
    """
    return round(count * _line_px(text_points(), QApplication.font().family()))


def on_screen(length_px: float) -> float:
    """Give a length that is right beside text of the usual size, for the size that text has now."""
    return length_px * _line_px(text_points(), QApplication.font().family()) / USUAL_LINE_PX


@lru_cache(maxsize=32)
def _line_px(points: int, family: str) -> float:
    """Height of a line."""
    font = QFont(QApplication.font())
    font.setPointSize(points)
    return float(QFontMetricsF(font).height())


def text_size(factor: float) -> str:
    """Give a font size for a style sheet, relative to napari's own.

    Parameters
    ----------
    factor : float
        1 is napari's size.
    """
    return f"font-size: {round(factor * text_points())}pt;"


def page_style() -> str:
    """Give a style sheet for a page: tables and fields as large as the rest, and a visible focus.

    napari's own sheet sets no size for them and draws no focus.
    """
    return (
        "QTableView, QHeaderView, QLineEdit, QGroupBox, QProgressBar, QToolTip"
        f" {{ {text_size(1)} }}"
        "QPushButton, QComboBox, QListView, QTableView, QLineEdit, QCheckBox, QScrollArea"
        " { border: 2px solid transparent; }"
        "QPushButton { padding: 3px; }"
        "QPushButton:focus, QComboBox:focus, QListView:focus, QTableView:focus, QLineEdit:focus,"
        " QCheckBox:focus, QScrollArea:focus { border: 2px solid #e69f00; }"
    )


def set_line_height(table: QTableView, line_ems: float) -> None:
    """Give all lines of a table, those it has and those to come, one height."""
    lines = table.verticalHeader()
    lines.setMinimumSectionSize(ems(line_ems))
    lines.setDefaultSectionSize(ems(line_ems))
    for row in range(lines.count()):
        table.setRowHeight(row, ems(line_ems))


def stretch_to(window: QWidget, wide_ems: float, high_ems: float) -> None:
    """Give a window a size in lines of text, but never more than the screen has."""
    screen = QApplication.primaryScreen().availableSize()
    window.resize(min(ems(wide_ems), screen.width() - 40), min(ems(high_ems), screen.height() - 60))


def follow_text(widget: QWidget, dress: Callable[[], object]) -> None:
    """Give a widget its sizes now and whenever napari's text changes its size.

    Parameters
    ----------
    widget : QWidget
        Lives at least as long as what `dress` touches.
    dress : callable
        Sets sizes.
    """
    _Follower(widget, dress)


class _Follower(QObject):
    """Belongs to a widget and hears when the window's style changes."""

    def __init__(self, widget: QWidget, dress: Callable[[], object]) -> None:
        super().__init__(widget)
        self._dress, self._points = dress, text_points()
        dress()
        widget.installEventFilter(self)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Set sizes anew when the text has another size than before."""
        if event.type() == QEvent.Type.StyleChange and self._points != text_points():
            self._points = text_points()
            self._dress()
        return False
