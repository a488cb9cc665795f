"""Colours of pictures and pages, which colour-blind people can tell apart.

Source: M. Okabe, K. Ito, "Color Universal Design", 2008. Colour never stands alone: every use adds
a shape, a line style or a word.
"""

from __future__ import annotations

Rgb = tuple[int, int, int]

BLACK: Rgb = (0, 0, 0)
WHITE: Rgb = (255, 255, 255)
ORANGE: Rgb = (230, 159, 0)
SKY_BLUE: Rgb = (86, 180, 233)
BLUISH_GREEN: Rgb = (0, 158, 115)
YELLOW: Rgb = (240, 228, 66)
BLUE: Rgb = (0, 114, 178)
VERMILLION: Rgb = (213, 94, 0)
REDDISH_PURPLE: Rgb = (204, 121, 167)

PART_COLOURS: dict[str, Rgb] = {
    "body": WHITE,
    "fish": WHITE,
    "dorsal": SKY_BLUE,
    "second_dorsal": BLUE,
    "adipose": REDDISH_PURPLE,
    "caudal": YELLOW,
    "anal": BLUISH_GREEN,
    "pelvic": ORANGE,
    "pectoral": REDDISH_PURPLE,
}
"""Colour of each part; the part is also written beside it."""
