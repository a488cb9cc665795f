"""What stands behind the fish, and what light, lens and file do to the picture."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import cv2
import numpy as np
from numpy.typing import NDArray

from finmeasure.card.raster import card_raster
from finmeasure.card_design import card_design
from finmeasure.drawing.camera import Camera
from finmeasure.drawing.grounds import lay_plain_ground
from finmeasure.drawing.noise import Field, sensor_noise, tripled

if TYPE_CHECKING:
    from finmeasure.drawing.photo import View


@dataclass(frozen=True, slots=True, eq=False)
class CardRaster:
    """A printed card as an image.

    Parameters
    ----------
    pixels : ndarray of shape (H, W) or (H, W, 3), uint8
        The card's face, edge to edge.
    px_per_mm : float
        Its resolution; the upper left corner of the raster is the card's.
    size_mm : tuple of float
        The card's width and height; the raster may end a fraction of a pixel before or behind it.
    """

    pixels: NDArray[np.uint8]
    px_per_mm: float
    size_mm: tuple[float, float]


@lru_cache(maxsize=8)
def printed_card(
    kind: str, paper: str, *, ground: str = "white", px_per_mm: float = 40.0
) -> CardRaster:
    """Our own printed card as a raster.

    Parameters
    ----------
    kind, paper : str
        See :func:`finmeasure.card_design.card_design`.
    ground : str
        Colour of the blank field of a window card.
    px_per_mm : float
        Resolution.

    Raises
    ------
    DefinitionError
        If there is no such card.
    """
    design = card_design(kind, paper)
    return CardRaster(card_raster(design, px_per_mm, ground), px_per_mm, design.size_mm)


def lay_ground(
    camera: Camera,
    shape: tuple[int, int],
    card: CardRaster | None,
    ground: str,
    rng: np.random.Generator,
) -> Field:
    """Draw the picture without the fish, shape (H, W, 3), 0 to 1."""
    picture = lay_plain_ground(shape, ground, rng)
    if card is not None:
        _lay_card(picture, camera, card)
    return picture


def _lay_card(picture: Field, camera: Camera, card: CardRaster) -> None:
    """Map a card's raster into the photo; it is brought to the photo's own fineness first."""
    height, width = picture.shape[:2]
    # As fine as the photo: box and triangle filter then leave nothing that sampling could fold
    # back, which would move edges by up to 0.1 px.
    fine = camera.px_per_mm_at((0.0, 0.0))
    face = card.pixels
    share = min(1.0, fine / card.px_per_mm)
    across, down = (max(round(side * share), 1) for side in face.shape[1::-1])
    # Both directions may be shrunk a little differently, to whole pixels.
    scale = (card.px_per_mm * across / face.shape[1], card.px_per_mm * down / face.shape[0])
    if share < 1.0:
        face = cv2.resize(face, (across, down), interpolation=cv2.INTER_AREA)
    x, y = camera.plane_of(np.arange(width)[None, :], np.arange(height)[:, None])
    # Pixel centres of the raster lie half a raster pixel inside its edge.
    map_x = ((x + card.size_mm[0] / 2) * scale[0] - 0.5).astype(np.float32)
    map_y = ((y + card.size_mm[1] / 2) * scale[1] - 0.5).astype(np.float32)
    face = face[..., None] if face.ndim == 2 else face
    layer = np.empty((*face.shape[:2], face.shape[2] + 1), np.float32)
    # Paper white and printer's black are neither pure white nor pure black.
    layer[..., :-1], layer[..., -1] = 0.08 + face * np.float32(0.84 / 255.0), 1.0
    seen = cv2.remap(layer, map_x, map_y, cv2.INTER_LINEAR, borderValue=(0, 0, 0, 0))
    picture *= 1.0 - seen[..., -1:]
    picture += seen[..., :-1]


def cast_shadow(picture: Field, opacity: Field, strength: float) -> None:
    """Darken the ground behind a fish, softly and a little below it, in place."""
    height, width = opacity.shape
    shrink = max(width // 160, 1)
    small = (max(width // shrink, 1), max(height // shrink, 1))
    blob = cv2.resize(opacity, small, interpolation=cv2.INTER_AREA)
    blob = cv2.GaussianBlur(blob, (0, 0), 0.02 * small[0] + 0.5)
    fall = np.array([[1, 0, 0.01 * small[0]], [0, 1, 0.025 * small[0]]], np.float32)
    blob = cv2.resize(cv2.warpAffine(blob, fall, small), (width, height))
    picture *= tripled(1.0 - np.float32(strength) * blob)


def spoil(picture: Field, view: View, rng: np.random.Generator) -> NDArray[np.uint8]:
    """Apply light, haze, glare, lens blur, sensor noise and JPEG.

    Blur acts on display values, so that the half-way level of a blurred edge stays at the edge.
    """
    picture = _lit(picture, view, rng)
    if view.blur_px:
        picture = cv2.GaussianBlur(picture, (0, 0), view.blur_px, borderType=cv2.BORDER_REPLICATE)
    picture *= np.float32(255.0)
    if view.noise:
        picture += sensor_noise(rng, picture.shape, view.noise)
    return developed(picture, view.jpeg_quality)


def developed(levels: Field, jpeg_quality: int) -> NDArray[np.uint8]:
    """Round grey levels 0 to 255 and send them through JPEG, unless the quality is 0."""
    levels += np.float32(0.5)
    pixels = np.clip(levels, 0, 255, out=levels).astype(np.uint8)
    return _compressed(pixels, jpeg_quality) if jpeg_quality else pixels


def _lit(picture: Field, view: View, rng: np.random.Generator) -> Field:
    height, width = picture.shape[:2]
    x = np.linspace(-1, 1, width, dtype=np.float32)[None, :]
    y = np.linspace(-1, 1, height, dtype=np.float32)[:, None]
    if view.haze:
        veil = np.float32(view.haze)
        picture *= 1 - veil
        picture += veil * np.array([0.62, 0.66, 0.62], np.float32)
    if view.light_fall:
        angle = rng.uniform(0, 2 * np.pi)
        slope = np.float32(np.cos(angle)) * x + np.float32(np.sin(angle)) * y
        slope += np.float32(0.35) * (x * x + y * y)
        picture *= tripled(1 - np.float32(view.light_fall / 2) * slope)
    if view.glare:
        at = rng.uniform(-0.8, 0.8, 2)
        spot = np.exp(-(((x - at[0]) / 0.22) ** 2) - ((y - at[1]) / 0.16) ** 2)
        picture += tripled((view.glare * spot).astype(np.float32))
    return np.clip(picture, 0, 1, out=picture)


def _compressed(pixels: NDArray[np.uint8], quality: int) -> NDArray[np.uint8]:
    """Send an RGB picture through JPEG."""
    turned = cv2.cvtColor(pixels, cv2.COLOR_RGB2BGR)  # ten times as fast as a reversed view
    _, data = cv2.imencode(".jpg", turned, [cv2.IMWRITE_JPEG_QUALITY, quality])
    back = np.asarray(cv2.imdecode(data, cv2.IMREAD_COLOR), np.uint8)
    return np.asarray(cv2.cvtColor(back, cv2.COLOR_BGR2RGB), np.uint8)
