"""Every key, once: what it does and what the cheat sheet says of it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Key:
    """One key: its sequence, the desk's method, words, and where it belongs on the sheet."""

    sequence: str
    does: str
    words: str
    part: str


KEYS = (
    Key("A", "answer_absent", "the fish has no such fin or point", "Points"),
    Key("H", "answer_hidden", "the point cannot be seen", "Points"),
    Key("S", "skip", "later: ask for this point again at the end", "Points"),
    Key("B", "back", "back: ask for the point before again", "Points"),
    Key("R", "rename", "give the chosen point another name", "Points"),
    Key("Delete", "remove", "take the chosen point away", "Points"),
    Key("Ctrl+Z", "undo", "undo, as often as you like", "Points"),
    Key("Ctrl+Y", "redo", "redo", "Points"),
    Key("E", "next_fin", "trace the edge of the next fin", "Fin edges"),
    Key("G", "pull_to_edge", "pull the traced line to the edge", "Fin edges"),
    Key("Backspace", "last_corner_away", "take the last corner away", "Fin edges"),
    Key("1", "edge_mark_1", "edge: clean", "Fin edges"),
    Key("2", "edge_mark_2", "edge: clear new growth", "Fin edges"),
    Key("3", "edge_mark_3", "edge: red", "Fin edges"),
    Key("4", "edge_mark_4", "edge: whitish", "Fin edges"),
    Key("5", "edge_mark_5", "edge: fluffy", "Fin edges"),
    Key("6", "edge_mark_6", "edge: healed thick", "Fin edges"),
    Key("7", "edge_mark_7", "edge: unknown", "Fin edges"),
    Key("8", "spread_1", "fin is spread", "Fin edges"),
    Key("9", "spread_2", "fin is partly folded", "Fin edges"),
    Key("0", "spread_3", "fin is clamped", "Fin edges"),
    Key("Return", "confirm", "confirm and go to the next photo", "Photos"),
    Key("Enter", "confirm", "", "Photos"),
    Key("PgDown", "next_photo", "next photo", "Photos"),
    Key("PgUp", "previous_photo", "photo before", "Photos"),
    Key("Ctrl+R", "mark_again", "mark this photo once more, blind", "Photos"),
    Key("F", "show_fish", "show the fish as large as it fits", "View"),
    Key("Shift+F", "fit", "show the whole photo", "View"),
    Key("M", "toggle_magnifier", "enlarged view on or off", "View"),
    Key("W", "toggle_wet_hands", "big buttons for wet hands", "View"),
    Key("T", "toggle_theme", "light or dark", "View"),
    Key("Esc", "stop", "stop what was begun, back to the points", "View"),
    Key("?", "cheat_sheet", "this sheet", "View"),
)
MOUSE = (
    ("Click", "set the point that the card names"),
    ("Drag a point", "move it; the numbers follow"),
    ("Drag the photo", "move the photo; the wheel zooms"),
    ("Right-click", "take a point or a corner away"),
    ("Drag a traced line", "put in a corner and move it"),
    ("Shift-click", "set a point on top of another one"),
    ("Shift-drag along a fin", "draw this stretch of its edge anew"),
)
