"""Every key, once: what it does and what the cheat sheet says of it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Key:
    """One key.

    Parameters
    ----------
    sequence : str
        As Qt writes it.
    does : str
        Method of the desk.
    words, part : str
        What the cheat sheet says of it, and where; without words it is left out there.
    given : str
        What the method is given, if anything.
    """

    sequence: str
    does: str
    words: str
    part: str
    given: str = ""


KEYS = (
    Key("A", "answer_absent", "the fish has no such fin or point", "Points"),
    Key("H", "answer_hidden", "the point cannot be seen", "Points"),
    Key("S", "skip", "later: ask for this point again at the end", "Points"),
    Key("B", "back", "back: ask for the point before again", "Points"),
    Key("Y", "agree", "yes: the point asked for is right where the program put it", "Points"),
    Key("Shift+Y", "agree_with_all", "yes to all points of the program", "Points"),
    Key("Shift+Delete", "drop_proposal", "throw the program's points away", "Points"),
    Key("O", "toggle_proposals", "the program marks first, or not", "Points"),
    Key("Shift+Left", "nudge", "(and the other arrows) move the chosen point", "Points", "left"),
    Key("Shift+Right", "nudge", "", "Points", "right"),
    Key("Shift+Up", "nudge", "", "Points", "up"),
    Key("Shift+Down", "nudge", "", "Points", "down"),
    Key("R", "rename", "give the chosen point another name", "Points"),
    Key("Delete", "remove", "take the chosen point away", "Points"),
    Key("Ctrl+Z", "undo", "undo, as often as you like", "Points"),
    Key("Ctrl+Y", "redo", "redo", "Points"),
    Key("E", "next_fin", "trace the edge of the next fin", "Fin edges"),
    Key("G", "pull_to_edge", "pull the traced line to the edge", "Fin edges"),
    Key("Backspace", "last_corner_away", "take the last corner away", "Fin edges"),
    Key("1", "mark_edge", "edge: clean", "Fin edges", "clean"),
    Key("2", "mark_edge", "edge: clear new growth", "Fin edges", "clear_new_growth"),
    Key("3", "mark_edge", "edge: red", "Fin edges", "red"),
    Key("4", "mark_edge", "edge: whitish", "Fin edges", "whitish"),
    Key("5", "mark_edge", "edge: fluffy", "Fin edges", "fluffy"),
    Key("6", "mark_edge", "edge: healed thick", "Fin edges", "healed_thick"),
    Key("7", "mark_edge", "edge: unknown", "Fin edges", "unknown"),
    Key("8", "mark_spread", "fin is spread", "Fin edges", "spread"),
    Key("9", "mark_spread", "fin is partly folded", "Fin edges", "part_folded"),
    Key("0", "mark_spread", "fin is clamped", "Fin edges", "clamped"),
    Key("N", "count", "count rays, spines or scales along a line", "Fin edges"),
    Key("Return", "confirm", "confirm and go to the next photo", "Photos"),
    Key("Enter", "confirm", "", "Photos"),
    Key("PgDown", "next_photo", "next photo", "Photos"),
    Key("PgUp", "previous_photo", "photo before", "Photos"),
    Key("Ctrl+R", "mark_again", "mark this photo once more, blind", "Photos"),
    Key("C", "contact_sheet", "all fish at a glance: sort, open, mark many", "Photos"),
    Key("V", "change_over_time", "what became of every fin since the first visit", "Photos"),
    Key("Shift+V", "same_fish", "likely the same fish at two visits: you say so", "Photos"),
    Key("D", "diary", "diary of the tank: events and water tests", "Photos"),
    Key("F", "show_fish", "show the fish as large as it fits", "View"),
    Key("Shift+F", "fit", "show the whole photo", "View"),
    Key("M", "toggle_magnifier", "enlarged view on or off", "View"),
    Key("W", "toggle_wet_hands", "big buttons for wet hands", "View"),
    Key("T", "toggle_theme", "light or dark", "View"),
    Key("Esc", "stop", "stop what was begun, back to the points", "View"),
    Key("F1", "fin_guide", "which fin is which: the fin guide", "View"),
    Key("?", "cheat_sheet", "this sheet", "View"),
)
# while the photo has the keyboard, which Esc gives back; in a list these keys are the list's own
ON_PHOTO = (
    ("Arrows", "move a cross-hair; hold to go faster"),
    ("Ctrl+arrows", "move it by one pixel of the screen"),
    ("Space", "set the point there; on a point or corner: take hold, let go"),
    ("Shift+Space", "set a point on top of another one"),
    ("Delete", "take away what is under it"),
    ("+  \u2212", "enlarge, make smaller"),
    ("Tab", "go to buttons and lists; Enter presses, Esc goes back"),
)
MOUSE = (
    ("Click", "set the point that the card names"),
    ("Drag a point", "move it; the numbers follow"),
    ("Drag along the fish", 'for "How long is it?": set both ends of a length at once'),
    ("Drag the photo", "move the photo; the wheel zooms"),
    ("Right-click", "take a point or a corner away"),
    ("Drag a traced line", "put in a corner and move it"),
    ("Shift-click", "set a point on top of another one"),
    ("Shift-drag along a fin", "draw this stretch of its edge anew"),
)
