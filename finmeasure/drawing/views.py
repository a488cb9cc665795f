"""Random views: how people photograph fish, from careful to careless."""

from __future__ import annotations

from dataclasses import replace
from typing import Literal

import numpy as np

from finmeasure.card_design import PAPER_MM
from finmeasure.drawing.camera import FOCAL_SHARE
from finmeasure.drawing.grounds import GROUNDS
from finmeasure.drawing.photo import View, camera_of
from finmeasure.drawing.scene import printed_card

CardKind = Literal["window", "squares"]


def random_view(
    rng: np.random.Generator, size_px: tuple[int, int] = (400, 300), *, careless: float = 1.0
) -> View:
    """Draw a view without a card: any way round, any ground, any light.

    Parameters
    ----------
    rng : numpy Generator
    size_px : tuple of int
        Width and height.
    careless : float
        Factor on tilt, blur, noise, uneven light, haze and glare; 0 is a perfect photo.
    """
    grounds = [name for name in GROUNDS if name != "blank"]
    view = View(
        *size_px,
        facing="left" if rng.random() < 0.5 else "right",
        fish_angle_deg=rng.normal(0, 12) if rng.random() < 0.8 else rng.uniform(-180, 180),
        ground=str(rng.choice(grounds)),
    )
    return _imperfect(view, rng, careless)


def random_card_view(
    rng: np.random.Generator,
    size_px: tuple[int, int] = (1600, 1200),
    *,
    kind: CardKind = "window",
    paper: str = "ID1",
    careless: float = 1.0,
    largest_tilt_deg: float = 20.0,
) -> View:
    """Draw a view before one of our cards, the whole card in the picture.

    Parameters
    ----------
    rng : numpy Generator
    size_px : tuple of int
    kind, paper : str
        See :func:`finmeasure.card_design.card_design`.
    careless : float
        As for :func:`random_view`.
    largest_tilt_deg : float
        The tilt is drawn evenly from 0 to this, about any axis.
    """
    view = View(
        *size_px,
        facing="left" if rng.random() < 0.5 else "right",
        fish_angle_deg=rng.normal(0, 6),
        fish_at_mm=(rng.normal(0, 1.5), rng.normal(0, 0.8)),
        turn_deg=rng.normal(0, 4),
        card=printed_card(kind, paper),
        ground=str(rng.choice(["water", "plain", "dark"])),
        shadow=rng.uniform(0, 0.3),
    )
    view = replace(
        _imperfect(view, rng, careless),
        tilt_deg=rng.uniform(0, largest_tilt_deg),
        focal_share=rng.uniform(FOCAL_SHARE, 2.5),
    )
    return fitted(view, PAPER_MM[paper])


def fitted(view: View, card_mm: tuple[float, float]) -> View:
    """Step back until all four corners of the card are in the picture, with a narrow border."""
    corners = np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)]) * card_mm / 2
    size = np.array([view.width_px, view.height_px])
    px_per_mm = float((size / card_mm).min())
    for _ in range(20):
        camera = camera_of(replace(view, px_per_mm=px_per_mm))
        away = np.abs(camera.to_pixel(corners) - camera.centre_px) / (size / 2)
        if away.max() <= 0.97:
            break
        px_per_mm *= 0.96 / max(away.max(), 1.0)
    return replace(view, px_per_mm=px_per_mm)


def _imperfect(view: View, rng: np.random.Generator, careless: float) -> View:
    """Add what hand, lens, light, water and file do."""
    return replace(
        view,
        tilt_deg=careless * rng.uniform(0, 12),
        tilt_axis_deg=rng.uniform(0, 180),
        radial=min(careless, 1.0) * float(rng.choice([-0.08, -0.03, 0.0, 0.0, 0.04])),
        blur_px=0.6 + careless * rng.exponential(0.4),
        noise=careless * rng.uniform(1.0, 6.0),
        jpeg_quality=int(rng.integers(70, 96)),
        light_fall=careless * rng.uniform(0.0, 0.45),
        glare=rng.uniform(0.1, 0.5) if rng.random() < 0.3 * careless else 0.0,
        haze=careless * rng.uniform(0.0, 0.2) if rng.random() < 0.5 else 0.0,
    )
