"""Sprites, decoys and grounds kept on the GPU; workers' files are taken in and replace old ones."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import torch
from torch import Tensor

from finmeasure.proposals.layout import LANDMARKS
from finmeasure.proposals.training.sprites import GROUND_PX, SPRITE_PX

HELD_OUT_SPRITES, HELD_OUT_GROUNDS = 512, 100


class SpritePool:
    """A ring of the latest drawings; the first ones are held out and never trained on."""

    def __init__(self, device: str, sprites: int = 40_000, grounds: int = 5_000) -> None:
        byte = {"dtype": torch.uint8, "device": device}
        self.pixels = torch.zeros((sprites, SPRITE_PX, SPRITE_PX, 4), **byte)
        self.masks = torch.zeros((sprites, SPRITE_PX, SPRITE_PX), **byte)
        self.landmarks = torch.full((sprites, len(LANDMARKS), 2), float("nan"), device=device)
        self.grounds = torch.zeros((grounds, GROUND_PX, GROUND_PX, 3), **byte)
        self.decoys = torch.zeros((grounds // 2, SPRITE_PX, SPRITE_PX, 4), **byte)
        self.device, self.taken = device, {"sprites": 0, "grounds": 0, "decoys": 0}

    def take_in(self, folder: Path, most: int = 4) -> int:
        """Read files that workers have finished and remove them; give how many."""
        files = sorted(folder.glob("*.ready"))[:most]
        for file in files:
            with np.load(file) as data:
                for names, kind, kept in (
                    (("pixels", "masks", "landmarks"), "sprites", HELD_OUT_SPRITES),
                    (("grounds",), "grounds", HELD_OUT_GROUNDS),
                    (("decoys",), "decoys", 0),
                ):
                    self._store({name: data[name] for name in names}, kind, kept)
            file.unlink()
        return len(files)

    def _store(self, arrays: dict[str, np.ndarray], kind: str, kept: int) -> None:
        count, start = len(next(iter(arrays.values()))), self.taken[kind]
        room = len(getattr(self, next(iter(arrays))))
        places = np.arange(start, start + count)
        places = np.where(places < room, places, kept + (places - room) % (room - kept))
        index = torch.from_numpy(places).to(self.device)
        for name, values in arrays.items():
            getattr(self, name)[index] = torch.from_numpy(values).to(self.device)
        self.taken[kind] = start + count

    def _draw(self, kind: str, store: Tensor, count: int, kept: int, *, held_out: bool) -> Tensor:
        filled = min(self.taken[kind], len(store))
        low, high = (0, kept) if held_out else (min(kept, filled - 1), filled)
        return torch.randint(low, high, (count,), device=self.device)

    def draw_sprites(self, count: int, *, held_out: bool = False) -> Tensor:
        """Draw indices of random sprites."""
        return self._draw("sprites", self.pixels, count, HELD_OUT_SPRITES, held_out=held_out)

    def pixels_of(self, index: Tensor) -> Tensor:
        """Give sprites (B, 4, C, C), 0 to 1."""
        return self.pixels[index].permute(0, 3, 1, 2).float() / 255

    def decoys_of(self, count: int) -> Tensor:
        """Draw decoys (B, 4, C, C), 0 to 1."""
        index = self._draw("decoys", self.decoys, count, 0, held_out=False)
        return self.decoys[index].permute(0, 3, 1, 2).float() / 255

    def grounds_of(self, count: int, *, held_out: bool = False) -> Tensor:
        """Draw grounds (B, 3, G, G), 0 to 1."""
        index = self._draw("grounds", self.grounds, count, HELD_OUT_GROUNDS, held_out=held_out)
        return self.grounds[index].permute(0, 3, 1, 2).float() / 255
