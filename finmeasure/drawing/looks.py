"""Random colours and markings of drawn fish."""

from __future__ import annotations

import colorsys

import numpy as np

from finmeasure.drawing.spec import Colour, FinLook, Look, Pattern

_PALETTES: dict[str, tuple[tuple[float, float], tuple[float, float], tuple[float, float]]] = {
    # hue, saturation, value of the flank
    "silver": ((0.08, 0.2), (0.05, 0.22), (0.55, 0.75)),
    "olive": ((0.11, 0.19), (0.2, 0.5), (0.38, 0.6)),
    "gold": ((0.08, 0.13), (0.4, 0.8), (0.55, 0.78)),
    "red": ((0.0, 0.06), (0.5, 0.85), (0.45, 0.75)),
    "blue": ((0.52, 0.62), (0.25, 0.6), (0.3, 0.6)),
    "brown": ((0.05, 0.1), (0.3, 0.6), (0.28, 0.48)),
    "dark": ((0.05, 0.65), (0.1, 0.35), (0.12, 0.25)),
}


def random_look(rng: np.random.Generator, body_form: str = "plain") -> Look:
    """Draw the colours of a fish; catfish are duller than the rest."""
    names = ["olive", "brown", "silver"] if "catfish" in body_form else list(_PALETTES)
    hue, saturation, value = (rng.uniform(*span) for span in _PALETTES[str(rng.choice(names))])
    flank = _rgb(hue, saturation, value)
    return Look(
        back=_rgb(hue + rng.uniform(-0.03, 0.05), saturation * 1.1, value * rng.uniform(0.4, 0.7)),
        flank=flank,
        belly=_rgb(hue, saturation * rng.uniform(0.2, 0.8), min(value * 1.35, 0.9)),
        iris=_rgb(rng.uniform(0.02, 0.16), rng.uniform(0.15, 0.75), rng.uniform(0.45, 0.8)),
        patterns=tuple(_random_pattern(rng, flank) for _ in range(int(rng.integers(0, 3)))),
        fins=_random_fins(rng, hue, saturation, value),
        gloss=rng.uniform(0.2, 0.9),
        scale_rows=int(rng.integers(7, 15)),
        scale_contrast=rng.uniform(0.15, 0.6),
        seed=int(rng.integers(2**31)),
    )


def _rgb(hue: float, saturation: float, value: float) -> Colour:
    return colorsys.hsv_to_rgb(hue % 1.0, float(np.clip(saturation, 0, 1)), min(value, 1.0))


_PLACES = {"stripe": (-0.4, 0.3), "bars": (0.0, 1.0), "spots": (0.0, 1.0), "rear": (0.4, 0.95)}
_SIZES = {"stripe": (0.08, 0.3), "bars": (0.1, 0.25), "rear": (0.1, 0.35), "spots": (0.1, 0.35)}


def _random_pattern(rng: np.random.Generator, flank: Colour) -> Pattern:
    """Draw a marking: mostly dark, else a shining stripe or a warm rear half."""
    kind = str(rng.choice(["stripe", "bars", "spots", "blotch", "rear"]))
    red, green, blue = (float(tone * rng.uniform(0.1, 0.4)) for tone in flank)
    colour = (red, green, blue)
    if kind in {"stripe", "rear"} and rng.random() < 0.5:
        hue = rng.uniform(0.0, 0.12) if kind == "rear" or rng.random() < 0.5 else 0.53
        colour = _rgb(hue, rng.uniform(0.6, 0.9), rng.uniform(0.6, 0.9))
    place, size = _PLACES.get(kind, (0.3, 0.95)), _SIZES.get(kind, (0.05, 0.14))
    return Pattern(
        kind,
        colour,
        rng.uniform(0.35, 0.85),
        rng.uniform(*place),
        rng.uniform(*size),
        int(rng.integers(2**31)),
    )


def _random_fins(rng: np.random.Generator, hue: float, saturation: float, value: float) -> FinLook:
    clear = rng.random() < 0.5
    membrane = rng.uniform(0.12, 0.3) if clear else rng.uniform(0.35, 0.75)
    tint = rng.uniform(0.1, 0.5) if clear else rng.uniform(0.5, 1.2)
    bright = rng.uniform(0.85, 1.3)
    return FinLook(
        colour=_rgb(hue, saturation * tint, value * bright),
        tip_colour=_rgb(hue + rng.uniform(-0.06, 0.06), saturation * tint, value * bright * 1.1),
        membrane=membrane,
        ray=min(membrane + rng.uniform(0.2, 0.4), 0.95),
        ray_tone=rng.uniform(-0.35, -0.15) if rng.random() < 0.7 else rng.uniform(0.12, 0.25),
        edge=rng.uniform(0.3, 0.9) if rng.random() < 0.25 else 0.0,
        edge_colour=_rgb(rng.uniform(0, 0.15), 0.4, 0.1 if rng.random() < 0.6 else 0.9),
        spots=rng.uniform(0.3, 0.8) if rng.random() < 0.12 else 0.0,
    )
