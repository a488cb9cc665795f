"""Random colours and markings of drawn fish."""

from __future__ import annotations

import colorsys

import numpy as np

from finmeasure.drawing.spec import Colour, FinLook, Look, Pattern

_PALETTES: dict[str, tuple[tuple[float, float], tuple[float, float], tuple[float, float]]] = {
    # hue, saturation, value of the flank
    "silver": ((0.08, 0.2), (0.05, 0.2), (0.6, 0.8)),
    "olive": ((0.12, 0.22), (0.2, 0.45), (0.4, 0.62)),
    "gold": ((0.09, 0.14), (0.4, 0.75), (0.6, 0.85)),
    "red": ((0.0, 0.06), (0.55, 0.85), (0.5, 0.8)),
    "blue": ((0.52, 0.62), (0.3, 0.6), (0.35, 0.65)),
    "brown": ((0.05, 0.1), (0.3, 0.55), (0.3, 0.5)),
}


def random_look(rng: np.random.Generator, body_form: str = "plain") -> Look:
    """Draw the colours of a fish; catfish are duller than the rest."""
    names = ["olive", "brown", "silver"] if "catfish" in body_form else list(_PALETTES)
    hue, saturation, value = (rng.uniform(*span) for span in _PALETTES[str(rng.choice(names))])
    flank = _rgb(hue, saturation, value)
    return Look(
        back=_rgb(hue + rng.uniform(-0.03, 0.05), saturation * 1.1, value * rng.uniform(0.4, 0.62)),
        flank=flank,
        belly=_rgb(hue, saturation * rng.uniform(0.15, 0.5), min(value * 1.35, 0.93)),
        iris=_rgb(rng.uniform(0.06, 0.16), rng.uniform(0.2, 0.7), rng.uniform(0.6, 0.85)),
        patterns=tuple(_random_pattern(rng, flank) for _ in range(int(rng.integers(0, 3)))),
        fins=_random_fins(rng, hue, saturation, value),
        gloss=rng.uniform(0.1, 0.5),
        scale_rows=int(rng.integers(6, 13)),
        scale_contrast=rng.uniform(0.15, 0.5),
        seed=int(rng.integers(2**31)),
    )


def _rgb(hue: float, saturation: float, value: float) -> Colour:
    return colorsys.hsv_to_rgb(hue % 1.0, float(np.clip(saturation, 0, 1)), min(value, 1.0))


def _random_pattern(rng: np.random.Generator, flank: Colour) -> Pattern:
    kind = str(rng.choice(["stripe", "bars", "spots", "blotch", "rear"]))
    place = {"stripe": (-0.4, 0.4), "bars": (0.0, 1.0), "spots": (0.0, 1.0)}.get(kind, (0.3, 0.95))
    size = {"stripe": (0.08, 0.25), "bars": (0.1, 0.25), "rear": (0.05, 0.3)}.get(kind, (0.1, 0.4))
    dark = tuple(float(tone * rng.uniform(0.1, 0.4)) for tone in flank)
    bright = _rgb(rng.uniform(0, 1), rng.uniform(0.5, 0.9), rng.uniform(0.5, 0.9))
    colour = dark if rng.random() < 0.7 else bright
    return Pattern(
        kind,
        (colour[0], colour[1], colour[2]),
        rng.uniform(0.4, 0.9),
        rng.uniform(*place),
        rng.uniform(*size),
        int(rng.integers(2**31)),
    )


def _random_fins(rng: np.random.Generator, hue: float, saturation: float, value: float) -> FinLook:
    membrane = rng.uniform(0.1, 0.5)
    tint = rng.uniform(0.1, 0.9)
    return FinLook(
        colour=_rgb(hue, saturation * tint, value * 0.9),
        tip_colour=_rgb(hue + rng.uniform(-0.05, 0.05), saturation * tint, value),
        membrane=membrane,
        ray=min(membrane + rng.uniform(0.25, 0.45), 0.95),
        edge=rng.uniform(0.3, 0.9) if rng.random() < 0.2 else 0.0,
        edge_colour=_rgb(rng.uniform(0, 1), 0.4, 0.12 if rng.random() < 0.6 else 0.9),
        spots=rng.uniform(0.3, 0.8) if rng.random() < 0.12 else 0.0,
    )
