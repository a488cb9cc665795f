"""The two networks, U-Nets: the fine one on features of photographs, a narrow one for finding."""

from __future__ import annotations

import torch
from torch import nn
from torch.nn import functional

from finmeasure.proposals.layout import FIND_CHANNELS, LANDMARKS, MASK_PARTS
from finmeasure.proposals.training.features import FEATURE_WIDTHS, PhotoFeatures

FIND_WIDTHS = (16, 24, 48, 80, 120)


def _block(
    inputs: int, outputs: int, kernel: int = 3, stride: int = 1, spread: int = 1
) -> nn.Module:
    return nn.Sequential(
        nn.Conv2d(inputs, outputs, kernel, stride, spread * (kernel // 2), spread, bias=False),
        nn.BatchNorm2d(outputs),
        nn.ReLU(inplace=True),
    )


class Residual(nn.Module):
    """Two convolutions whose result is added to their input."""

    def __init__(self, width: int, spread: int = 1) -> None:
        super().__init__()
        self.first = _block(width, width, spread=spread)
        self.second = nn.Sequential(
            nn.Conv2d(width, width, 3, 1, 1, bias=False), nn.BatchNorm2d(width)
        )

    def forward(self, x: torch.Tensor) -> torch.Tensor:
        """Apply the block."""
        return functional.relu(x + self.second(self.first(x)))


class Rise(nn.Module):
    """Double the resolution and join with the features of that resolution."""

    def __init__(self, inputs: int, beside: int, outputs: int, blocks: int = 1) -> None:
        super().__init__()
        self.reduce, self.beside = _block(inputs, outputs, 1), _block(beside, outputs, 1)
        self.join = nn.Sequential(
            _block(2 * outputs, outputs), *(Residual(outputs) for _ in range(blocks))
        )

    def forward(self, x: torch.Tensor, beside: torch.Tensor) -> torch.Tensor:
        """Apply the step."""
        larger = functional.interpolate(self.reduce(x), scale_factor=2.0, mode="nearest")
        return self.join(torch.cat([larger, self.beside(beside)], 1))


class Encoder(nn.Module):
    """Features at five resolutions, the coarsest with a view of the whole picture."""

    def __init__(self, widths: tuple[int, ...]) -> None:
        super().__init__()
        a, b, c, d, e = widths
        self.steps = nn.ModuleList(
            [
                nn.Sequential(_block(3, a, 3, 2), _block(a, a)),
                nn.Sequential(_block(a, b, 3, 2), Residual(b), Residual(b)),
                nn.Sequential(_block(b, c, 3, 2), Residual(c), Residual(c)),
                nn.Sequential(_block(c, d, 3, 2), Residual(d), Residual(d, 2), Residual(d)),
                nn.Sequential(_block(d, e, 3, 2), Residual(e), Residual(e, 2)),
            ]
        )
        self.whole = nn.Sequential(nn.Conv2d(e, e, 1), nn.ReLU(inplace=True))
        self.mix = _block(e, e, 1)

    def forward(self, x: torch.Tensor) -> list[torch.Tensor]:
        """Give features from fine to coarse."""
        features = []
        x = (x - 0.45) * 4.0
        for step in self.steps:
            x = step(x)
            features.append(x)
        features[-1] = self.mix(x + self.whole(functional.adaptive_avg_pool2d(x, 1)))
        return features


class FineNetwork(nn.Module):
    """Part mask, heat maps, and what shows: each landmark, and last a whole fish at all."""

    def __init__(self) -> None:
        super().__init__()
        a, b, c, d, e = FEATURE_WIDTHS
        self.features = PhotoFeatures()
        self.narrow = _block(e, 192, 1)
        self.whole = nn.Sequential(nn.Conv2d(192, 192, 1), nn.ReLU(inplace=True))
        self.mix = nn.Sequential(Residual(192), _block(192, 192, 1))
        self.rises = nn.ModuleList(
            [Rise(192, d, 128), Rise(128, c, 96), Rise(96, b, 72), Rise(72, a, 32, 0)]
        )
        self.mask = nn.Conv2d(32, len(MASK_PARTS) + 1, 1)
        self.heat = nn.Sequential(_block(72, 72), nn.Conv2d(72, len(LANDMARKS), 1))
        self.shows = nn.Linear(192, len(LANDMARKS) + 1)

    def forward(self, x: torch.Tensor) -> tuple[torch.Tensor, torch.Tensor, torch.Tensor]:
        """Give mask logits, heat logits and visibility logits."""
        first, second, third, fourth, y = self.features(x)
        y = self.narrow(y)
        y = self.mix(y + self.whole(functional.adaptive_avg_pool2d(y, 1)))
        shows = self.shows(functional.adaptive_avg_pool2d(y, 1).flatten(1))
        y = self.rises[2](self.rises[1](self.rises[0](y, fourth), third), second)
        return self.mask(self.rises[3](y, first)), self.heat(y), shows


class FindNetwork(nn.Module):
    """Per place: fish or not, whole or not, mirrored or not, and where its ends lie."""

    def __init__(self) -> None:
        super().__init__()
        _, b, c, d, e = FIND_WIDTHS
        self.encoder = Encoder(FIND_WIDTHS)
        self.rises = nn.ModuleList([Rise(e, d, 80), Rise(80, c, 64), Rise(64, b, 48)])
        self.out = nn.Conv2d(48, len(FIND_CHANNELS), 1)

    def forward(self, x: torch.Tensor) -> torch.Tensor:
        """Give all channels of :data:`FIND_CHANNELS`."""
        _, second, third, fourth, y = self.encoder(x)
        return self.out(self.rises[2](self.rises[1](self.rises[0](y, fourth), third), second))
