"""Pictures put together on the GPU from sprites: pose, ground, light, lens and file at random."""

from __future__ import annotations

import math
from dataclasses import dataclass

import torch
from torch import Tensor
from torch.nn import functional

from finmeasure.proposals.layout import FIND_SIDE_PX, FINE_SIDE_PX, LANDMARKS
from finmeasure.proposals.training.pool import SpritePool
from finmeasure.proposals.training.sprites import SPRITE_PX

SNOUT, TAIL = LANDMARKS.index("snout_tip"), LANDMARKS.index("caudal_base")
MOST_FISH = 4


@dataclass(frozen=True, slots=True, eq=False)
class FineBatch:
    """Level fish facing left: pictures (B, 3, N, N), truth, and whether the picture holds one."""

    pictures: Tensor
    mask: Tensor
    landmarks: Tensor
    visible: Tensor
    length: Tensor
    well: Tensor


@dataclass(frozen=True, slots=True, eq=False)
class FindBatch:
    """Whole photos: which fish (1 to 4) each pixel shows, and per fish its ends (B, 4, 4)."""

    pictures: Tensor
    owner: Tensor
    whole: Tensor
    mirrored: Tensor
    ends: Tensor


def _per_picture(values: Tensor) -> Tensor:
    return values.view(-1, 1, 1, 1)


class SceneMaker:
    """Draw batches from a pool of sprites."""

    def __init__(self, pool: SpritePool, device: str) -> None:
        self.pool, self.device = pool, device

    def uniform(self, count: int, low: float, high: float) -> Tensor:
        """Draw evenly between two values."""
        return torch.rand(count, device=self.device) * (high - low) + low

    def chance(self, count: int, share: float) -> Tensor:
        """Draw ones with a probability, else zeros."""
        return (torch.rand(count, device=self.device) < share).float()

    # ------------------------------------------------------------------ places

    def _affine(self, size: Tensor, turn: Tensor, flip: Tensor, stretch: Tensor) -> Tensor:
        """Matrices (B, 2, 2) from sprite to picture; `size` is the sprite's side in pixels."""
        scale = size / (SPRITE_PX - 14)
        cos, sin = torch.cos(turn), torch.sin(turn)
        across, down = scale * (1 - 2 * flip) * stretch, scale / stretch
        return torch.stack([torch.stack([cos * across, -sin * down], -1),
                            torch.stack([sin * across, cos * down], -1)], 1)  # fmt: skip

    def _layer(self, pixels: Tensor, matrix: Tensor, shift: Tensor, side: int) -> Tensor:
        """Bring sprites (B, 4, C, C) to the picture, averaged where they get smaller."""
        grid = self._grid(matrix, shift, side)
        scale = torch.linalg.det(matrix).abs().sqrt()
        level = (-torch.log2(scale.clamp_max(1.0))).clamp(0, 3)
        total, smaller = 0.0, pixels
        for number in range(4):
            near = (1 - (level - number).abs()).clamp(0, 1)
            drawn = functional.grid_sample(smaller, grid, align_corners=False)
            total = total + drawn * _per_picture(near)
            smaller = functional.avg_pool2d(smaller, 2)
        return total

    def _grid(self, matrix: Tensor, shift: Tensor, side: int) -> Tensor:
        steps = torch.arange(side, device=self.device).float()
        y, x = torch.meshgrid(steps, steps, indexing="ij")
        away = torch.stack([x, y], -1).view(1, -1, 2) - shift[:, None]
        back = away @ torch.linalg.inv(matrix).transpose(1, 2)
        return ((back + 0.5) / (SPRITE_PX / 2)).view(len(matrix), side, side, 2)

    def _mask(self, index: Tensor, matrix: Tensor, shift: Tensor, side: int) -> Tensor:
        masks = self.pool.masks[index][:, None].float()
        grid = self._grid(matrix, shift, side)
        return functional.grid_sample(masks, grid, mode="nearest", align_corners=False)[:, 0].long()

    def _places(self, index: Tensor, matrix: Tensor, shift: Tensor) -> Tensor:
        away = self.pool.landmarks[index] - (SPRITE_PX - 1) / 2
        return torch.einsum("bij,bnj->bni", matrix, away) + shift[:, None]

    # ------------------------------------------------------------------ fine stage

    def fine(self, count: int, *, held_out: bool = False) -> FineBatch:
        """Make a batch for the fine network."""
        side = FINE_SIDE_PX
        index = self.pool.draw_sprites(count, held_out=held_out)
        size = self.uniform(count, 0.66, 0.99) * side
        spread = torch.where(self.chance(count, 0.75) > 0, 0.09, 0.3)
        turn = torch.randn(count, device=self.device) * spread
        stretch = torch.exp(torch.randn(count, device=self.device) * 0.06)
        matrix = self._affine(size, turn, torch.zeros_like(size), stretch)
        middle = torch.full((count, 2), (side - 1) / 2, device=self.device)
        shift = middle + (torch.rand(count, 2, device=self.device) - 0.5) * (
            1.1 * (side - size).clamp_min(0.06 * side))[:, None]  # fmt: skip
        well = self.chance(count, 0.86) > 0
        places = self._places(index, matrix, shift)
        ground = self._ground(count, side, held_out=held_out)
        ground = self._others(ground, side, 0.3)
        fish = self._layer(self.pool.pixels_of(index), matrix, shift, side)
        decoys = self._layer(self.pool.decoys_of(count), matrix, shift, side)
        none = torch.rand(count, device=self.device) < 0.35
        stand_in = torch.where(_per_picture(none), torch.zeros_like(decoys), decoys)
        fish = torch.where(_per_picture(well), fish, stand_in)
        mask = self._mask(index, matrix, shift, side) * well[:, None, None]
        picture = self._blend(ground, fish)
        picture, cover = self._occlude(picture, 0.12)
        mask = torch.where(cover > 0.5, torch.zeros_like(mask), mask)
        finite = torch.isfinite(places).all(-1)
        inside = ((places >= 0) & (places < side)).all(-1)
        cell = places.nan_to_num(0).round().long().clamp(0, side - 1)
        hidden = cover.flatten(1).gather(1, cell[..., 1] * side + cell[..., 0]) > 0.5
        visible = finite & inside & ~hidden & well[:, None]
        length = (places[:, SNOUT] - places[:, TAIL]).norm(dim=-1).nan_to_num(150.0)
        return FineBatch(self._photographed(picture, mask), mask, places, visible, length, well)

    # ------------------------------------------------------------------ find stage

    def find(self, count: int) -> FindBatch:
        """Make a batch for the find network: none to four fish, any way round, some cut off."""
        side = FIND_SIDE_PX
        picture = self._ground(count, side)
        for share in (0.4, 0.3):
            size = self.uniform(count, 0.2, 1.1) * side
            turn = self.uniform(count, -math.pi, math.pi)
            matrix = self._affine(size, turn, self.chance(count, 0.5), torch.ones_like(size))
            shift = torch.rand(count, 2, device=self.device) * side
            layer = self._layer(self.pool.decoys_of(count), matrix, shift, side)
            picture = self._over(picture, layer * _per_picture(self.chance(count, share)))
        owner = torch.zeros((count, side, side), dtype=torch.long, device=self.device)
        whole, mirrored, ends = [], [], []
        single = self.chance(count, 0.7)
        for number in range(MOST_FISH):
            share = 0.93 if number == 0 else 0.55
            shown = self.chance(count, share) * (1 if number == 0 else 1 - single)
            fish = self._find_fish(count, side, single if number == 0 else torch.zeros_like(single))
            layer, cover, places, complete, flip = fish
            picture = torch.where(_per_picture(shown > 0), self._blend(picture, layer), picture)
            owner = torch.where((shown[:, None, None] > 0) & cover,
                                torch.full_like(owner, number + 1), owner)  # fmt: skip
            whole.append(complete)
            mirrored.append(flip)
            ends.append(torch.cat([places[:, SNOUT], places[:, TAIL]], -1).nan_to_num(0))
        return FindBatch(
            self._photographed(picture, owner), owner,
            torch.stack(whole, 1), torch.stack(mirrored, 1), torch.stack(ends, 1),
        )  # fmt: skip

    def _find_fish(
        self, count: int, side: int, single: Tensor
    ) -> tuple[Tensor, Tensor, Tensor, Tensor, Tensor]:
        index = self.pool.draw_sprites(count)
        large = self.uniform(count, 0.3, 1.05)
        size = torch.where(single > 0, large, self.uniform(count, 0.15, 0.55)) * side
        level = torch.randn(count, device=self.device) * 0.25
        any_way = self.uniform(count, -math.pi, math.pi)
        turn = torch.where(self.chance(count, 0.65) > 0, level, any_way)
        flip = self.chance(count, 0.5)
        matrix = self._affine(size, turn, flip, torch.ones_like(size))
        free = (side - size).clamp_min(0.12 * side)[:, None]
        shift = (side - 1) / 2 + (torch.rand(count, 2, device=self.device) - 0.5) * free * 1.15
        layer = self._layer(self.pool.pixels_of(index), matrix, shift, side)
        cover = self._mask(index, matrix, shift, side) > 0
        places = self._places(index, matrix, shift)
        ends = places[:, [SNOUT, TAIL, LANDMARKS.index("caudal_fork")]].nan_to_num(side / 2)
        complete = ((ends > -0.01 * side) & (ends < 1.01 * side)).all(-1).all(-1)
        return layer, cover, places, complete, flip

    # ------------------------------------------------------------------ parts of a scene

    def _ground(self, count: int, side: int, *, held_out: bool = False) -> Tensor:
        picture = self.pool.grounds_of(count, held_out=held_out)
        zoom = self.uniform(count, 0.45, 1.0)
        turn = self.uniform(count, -0.3, 0.3) * self.chance(count, 0.3)
        flip = 1 - 2 * self.chance(count, 0.5)
        away = (torch.rand(count, 2, device=self.device) * 2 - 1) * (1 - zoom)[:, None] * 0.9
        cos, sin = torch.cos(turn) * zoom, torch.sin(turn) * zoom
        theta = torch.stack([torch.stack([cos * flip, -sin, away[:, 0]], -1),
                             torch.stack([sin * flip, cos, away[:, 1]], -1)], 1)  # fmt: skip
        grid = functional.affine_grid(theta, [count, 3, side, side], align_corners=False)
        return functional.grid_sample(picture, grid, padding_mode="reflection", align_corners=False)

    def _over(self, picture: Tensor, layer: Tensor) -> Tensor:
        return picture * (1 - layer[:, 3:]) + layer[:, :3]

    def _others(self, picture: Tensor, side: int, share: float) -> Tensor:
        """Put another fish or a decoy behind, partly out of the picture."""
        count = len(picture)
        for pixels in (
            self.pool.pixels_of(self.pool.draw_sprites(count)),
            self.pool.decoys_of(count),
        ):
            size = self.uniform(count, 0.15, 0.6) * side
            matrix = self._affine(size, self.uniform(count, -0.7, 0.7), self.chance(count, 0.5),
                                  torch.ones_like(size))  # fmt: skip
            shift = torch.rand(count, 2, device=self.device) * side
            layer = self._layer(pixels, matrix, shift, side)
            shown = self.chance(count, share) * self.uniform(count, 0.5, 1.0)
            picture = self._over(picture, layer * _per_picture(shown))
        return picture

    def _blend(self, ground: Tensor, fish: Tensor) -> Tensor:
        """Lay fish over their ground: shadow, colour cast, likeness to the ground, haze."""
        count = len(ground)
        cover = fish[:, 3:]
        depth = _per_picture(self.chance(count, 0.4) * self.uniform(count, 0.1, 0.7))
        move = torch.randint(-12, 13, (2,)).tolist()
        shadow = torch.roll(
            functional.avg_pool2d(cover, 4), [move[0] // 4 + 1, move[1] // 4], (2, 3)
        )
        shadow = blurred(shadow, self.uniform(count, 0.5, 1.9))
        shadow = functional.interpolate(shadow, scale_factor=4.0, mode="bilinear")
        ground = ground * (1 - depth * shadow)
        own = fish[:, :3] / cover.clamp_min(1e-3)
        own = _saturated(own, _per_picture(self.uniform(count, 0.3, 1.3)))
        own = own * (1 + (torch.rand(count, 3, 1, 1, device=self.device) - 0.5) * 0.4)
        own = own * _per_picture(self.uniform(count, 0.6, 1.35))
        gamma = torch.exp(torch.randn(count, device=self.device) * 0.25)
        own = own.clamp(1e-4, 4) ** _per_picture(gamma)
        mean = ground.mean((2, 3), keepdim=True)
        like = _per_picture(self.chance(count, 0.4) * self.uniform(count, 0, 0.6))
        own = own * (1 - like) + own * like * mean / mean.mean(1, keepdim=True).clamp_min(0.05)
        haze = _per_picture(self.chance(count, 0.35) * self.uniform(count, 0, 0.6))
        own = own * (1 - haze) + haze * mean
        pale = _per_picture(self.chance(count, 0.08) * self.uniform(count, 0.1, 0.5))
        own = own * (1 - pale) + pale
        soft = cover * _per_picture(1 - self.chance(count, 0.12) * self.uniform(count, 0, 0.25))
        return own.clamp(0, 1.2) * soft + ground * (1 - soft)

    def _occlude(self, picture: Tensor, share: float) -> tuple[Tensor, Tensor]:
        """Lay a blade or stone over some pictures; give what it covers."""
        count, _, side, _ = picture.shape
        steps = torch.arange(side, device=self.device).float()
        x = steps[None, None, :] - (torch.rand(count, 1, 1, device=self.device) * side)
        y = steps[None, :, None] - (torch.rand(count, 1, 1, device=self.device) * side)
        turn = self.uniform(count, 0, math.pi).view(-1, 1, 1)
        along = x * torch.cos(turn) + y * torch.sin(turn)
        across = y * torch.cos(turn) - x * torch.sin(turn)
        long = self.uniform(count, 0.06, 0.4).view(-1, 1, 1) * side
        narrow = self.uniform(count, 0.01, 0.07).view(-1, 1, 1) * side
        inside = ((along / long) ** 2 + (across / narrow) ** 2 < 1).float()
        inside = inside * self.chance(count, share).view(-1, 1, 1)
        other = self._ground(count, side) * _per_picture(self.uniform(count, 0.5, 1.2))
        return picture * (1 - inside[:, None]) + other * inside[:, None], inside

    # ------------------------------------------------------------------ light, lens, file

    def _photographed(self, x: Tensor, mask: Tensor) -> Tensor:
        x = self._bars(self._filed(self._lit(x)), mask)
        return x.clamp(0, 1)

    def _lit(self, x: Tensor) -> Tensor:
        count, _, side, _ = x.shape
        steps = torch.linspace(-0.5, 0.5, side, device=self.device)
        angle = self.uniform(count, 0, 2 * math.pi).view(-1, 1, 1)
        slope = torch.cos(angle) * steps[None, None, :] + torch.sin(angle) * steps[None, :, None]
        fall = (self.chance(count, 0.5) * self.uniform(count, 0, 0.9)).view(-1, 1, 1)
        x = x * (1 + slope * fall)[:, None] * _per_picture(self.uniform(count, 0.55, 1.3))
        cast = (torch.rand(count, 3, 1, 1, device=self.device) - 0.5) * 0.45
        x = x * (1 + cast * _per_picture(self.chance(count, 0.6)))
        gamma = torch.exp(torch.randn(count, device=self.device) * 0.22)
        x = x.clamp(1e-4, 1.5) ** _per_picture(gamma)
        mean = x.mean((1, 2, 3), keepdim=True)
        x = mean + (x - mean) * _per_picture(self.uniform(count, 0.65, 1.35))
        colourful = self.uniform(count, 0.5, 1.5) * (1 - self.chance(count, 0.05))
        x = _saturated(x, _per_picture(colourful))
        where = torch.rand(count, 2, device=self.device) - 0.5
        wide = self.uniform(count, 0.01, 0.15).view(-1, 1, 1)
        away = (steps[None, None, :] - where[:, :1, None]) ** 2
        away = away + (steps[None, :, None] - where[:, 1:, None]) ** 2
        lamp = _per_picture(self.chance(count, 0.15) * self.uniform(count, 0, 0.8))
        return (x + lamp * torch.exp(-away / (2 * wide**2))[:, None]).clamp(0, 1)

    def _filed(self, x: Tensor) -> Tensor:
        count, _, side, _ = x.shape
        width = torch.where(self.chance(count, 0.55) > 0, self.uniform(count, 0.05, 0.35),
                            self.uniform(count, 0.3, 1.7))  # fmt: skip
        soft = blurred(x, width)
        sharpened = x + _per_picture(self.uniform(count, 0.2, 1.2)) * (
            x - blurred(x, torch.ones_like(width)))  # fmt: skip
        x = torch.where(_per_picture(self.chance(count, 0.3)) > 0, sharpened, soft)
        noise = _per_picture(self.chance(count, 0.5) * self.uniform(count, 0, 0.07))
        x = x + torch.randn_like(x) * noise
        coarse = torch.randn(count, 3, side // 4, side // 4, device=self.device)
        coarse = functional.interpolate(coarse, size=(side, side), mode="bilinear")
        x = x + coarse * _per_picture(self.chance(count, 0.15) * self.uniform(count, 0, 0.05))
        packed = compressed(x.clamp(0, 1), self.uniform(count, 0.15, 1.6))
        return torch.where(_per_picture(self.chance(count, 0.3)) > 0, packed, x).clamp(0, 1)

    def _bars(self, x: Tensor, mask: Tensor) -> Tensor:
        """Fill what lies beyond a photo's edge with grey, above and below or on both sides."""
        count, _, side, _ = x.shape
        rows, columns = (mask > 0).any(2).float(), (mask > 0).any(1).float()
        steps = torch.arange(side, device=self.device).float()
        x0, x1 = _limits(columns, steps)
        y0, y1 = _limits(rows, steps)
        share = self.uniform(count, 0, 1).view(-1, 1, 1)
        kind = torch.randint(0, 4, (count, 1, 1), device=self.device)
        down, across = steps[None, :, None], steps[None, None, :]
        flat = (down < y0 * share) | (down > side - (side - y1) * share)
        tall = (across < x0 * share) | (across > side - (side - x1) * share)
        bar = ((kind == 0) & flat) | ((kind == 1) & tall)
        return torch.where(bar[:, None], torch.full_like(x, PAD), x)


PAD = 0.45


def _limits(hit: Tensor, steps: Tensor) -> tuple[Tensor, Tensor]:
    first = torch.where(hit > 0, steps, torch.full_like(hit, 1e9)).amin(1).clamp_max(len(steps) / 2)
    return first.view(-1, 1, 1), (hit * steps).amax(1).view(-1, 1, 1)


def _saturated(x: Tensor, share: Tensor) -> Tensor:
    grey = x.mean(1, keepdim=True)
    return grey + (x - grey) * share


def blurred(x: Tensor, width: Tensor) -> Tensor:
    """Blur every picture with a Gaussian of its own width, pixels."""
    count, channels, height, breadth = x.shape
    reach = max(math.ceil(3 * float(width.max())), 1)
    steps = torch.arange(-reach, reach + 1, device=x.device).float()
    kernel = torch.exp(-(steps[None] ** 2) / (2 * width[:, None].clamp_min(0.05) ** 2))
    kernel = (kernel / kernel.sum(1, keepdim=True)).repeat_interleave(channels, 0)
    flat, groups = x.reshape(1, count * channels, height, breadth), count * channels
    flat = functional.pad(flat, (reach, reach, 0, 0), mode="replicate")
    flat = functional.conv2d(flat, kernel.view(-1, 1, 1, 2 * reach + 1), groups=groups)
    flat = functional.pad(flat, (0, 0, reach, reach), mode="replicate")
    flat = functional.conv2d(flat, kernel.view(-1, 1, 2 * reach + 1, 1), groups=groups)
    return flat.view(count, channels, height, breadth)


# Luminance table of ITU-T T.81, Annex K.1
_STEPS = (
    16, 11, 10, 16, 24, 40, 51, 61, 12, 12, 14, 19, 26, 58, 60, 55, 14, 13, 16, 24, 40, 57, 69, 56,
    14, 17, 22, 29, 51, 87, 80, 62, 18, 22, 37, 56, 68, 109, 103, 77, 24, 35, 55, 64, 81, 104, 113,
    92, 49, 64, 78, 87, 103, 121, 120, 101, 72, 92, 95, 98, 112, 100, 103, 99,
)  # fmt: skip


def compressed(x: Tensor, strength: Tensor) -> Tensor:
    """Round 8 × 8 blocks as JPEG does, every channel like luminance."""
    count, channels, side, _ = x.shape
    number = torch.arange(8, device=x.device).float()
    cosine = torch.cos((2 * number[None] + 1) * number[:, None] * math.pi / 16) * 0.5
    cosine[0] *= math.sqrt(0.5)
    blocks = x.view(count, channels, side // 8, 8, side // 8, 8).permute(0, 1, 2, 4, 3, 5)
    steps = torch.tensor(_STEPS, device=x.device).float().view(8, 8) / 255
    steps = steps * strength.view(-1, 1, 1, 1, 1, 1)
    rounded = torch.round(cosine @ (blocks - 0.5) @ cosine.t() / steps) * steps
    back = cosine.t() @ rounded @ cosine + 0.5
    return back.permute(0, 1, 2, 4, 3, 5).reshape(count, channels, side, side).clamp(0, 1)
