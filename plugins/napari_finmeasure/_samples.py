"""Sample photos: invented fish, drawn by the program itself, for File ▸ Open Sample."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image

from finmeasure.drawing.forms import random_spec
from finmeasure.drawing.photo import View, draw_photo
from finmeasure.drawing.scene import printed_card
from napari_finmeasure._layers import PHOTO
from napari_finmeasure._opening import open_on_desk

KINDS = {"invented tetra": "adipose", "invented barb": "plain", "invented toothcarp": "killifish"}
SEED = 2026
QUALITY = 93


def three_fish() -> list[tuple[Any, ...]]:
    """Draw three invented fish before the printed card and open them on the desk.

    Returns
    -------
    list
        The first photo, because napari wants a layer of every sample; the desk takes its place.
    """
    folder = Path(tempfile.mkdtemp(prefix="finmeasure sample "))
    shown: list[tuple[Any, ...]] = []
    for number, (name, form) in enumerate(KINDS.items()):
        rng = np.random.default_rng(SEED + number)
        view = View(1800, 1250, px_per_mm=18.0, card=printed_card("window", "ID1"))
        drawn = draw_photo(random_spec(rng, body_form=form), view, rng)
        shown.append((drawn.pixels, {"name": PHOTO, "rgb": True}, "image"))
        Image.fromarray(drawn.pixels).save(folder / f"{name}.jpg", quality=QUALITY)
    open_on_desk(str(folder))
    return shown[:1]
