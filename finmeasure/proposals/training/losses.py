"""What the networks are trained to make small."""

from __future__ import annotations

import torch
from torch.nn import functional

from finmeasure.proposals.layout import (
    FIND_STRIDE_PX,
    FIND_UNIT_PX,
    HEAT_STRIDE_PX,
    LANDMARKS,
    MASK_PARTS,
    MASK_STRIDE_PX,
)
from finmeasure.proposals.training.scenes import FindBatch, FineBatch

SNOUT, TAIL = LANDMARKS.index("snout_tip"), LANDMARKS.index("caudal_base")
#: Weights of ground, body, dorsal, second dorsal, adipose, caudal, anal, pelvic, pectoral.
CLASS_WEIGHTS = (0.8, 1.0, 1.4, 1.4, 2.0, 1.3, 1.4, 1.8, 1.5)
HEAT_WIDTH = 1.0


def fine_loss(
    outputs: tuple[torch.Tensor, torch.Tensor, torch.Tensor], batch: FineBatch
) -> tuple[torch.Tensor, torch.Tensor]:
    """Sum and parts of the fine network's loss: mask, overlap, heat, place, visibility."""
    mask, heat, shows = (output.float().contiguous() for output in outputs)
    truth = batch.mask[:, ::MASK_STRIDE_PX, ::MASK_STRIDE_PX]
    weights = torch.tensor(CLASS_WEIGHTS, device=mask.device)
    cross = functional.cross_entropy(mask, truth, weight=weights)
    share = mask.softmax(1)
    one_hot = functional.one_hot(truth, len(MASK_PARTS) + 1).permute(0, 3, 1, 2).float()
    both = (share * one_hot).sum((0, 2, 3))
    overlap = 1 - ((2 * both + 1) / (share.sum((0, 2, 3)) + one_hot.sum((0, 2, 3)) + 1)).mean()
    heated, placed = _landmark_losses(heat, batch)
    visible = torch.cat([batch.visible, batch.well[:, None]], 1).float()
    known = torch.cat([batch.well[:, None].expand_as(batch.visible),
                       torch.ones_like(batch.well[:, None])], 1).float()  # fmt: skip
    seen = functional.binary_cross_entropy_with_logits(shows, visible, weight=known)
    total = cross + 0.5 * overlap + 0.25 * heated + 2.0 * placed + 0.25 * seen
    return total, torch.stack([cross, overlap, heated, placed, seen]).detach()


def _landmark_losses(heat: torch.Tensor, batch: FineBatch) -> tuple[torch.Tensor, torch.Tensor]:
    """Cross-entropy of the heat maps, and distance of their mean place as a share of length."""
    count, landmarks, side, _ = heat.shape
    steps = torch.arange(side, device=heat.device).float()
    offset = (HEAT_STRIDE_PX - 1) / 2
    place = ((batch.landmarks - offset) / HEAT_STRIDE_PX).nan_to_num(0)
    wide_x = torch.exp(-((steps - place[..., :1]) ** 2) / (2 * HEAT_WIDTH**2))
    wide_y = torch.exp(-((steps - place[..., 1:]) ** 2) / (2 * HEAT_WIDTH**2))
    wide_x = wide_x / wide_x.sum(-1, keepdim=True).clamp_min(1e-6)
    wide_y = wide_y / wide_y.sum(-1, keepdim=True).clamp_min(1e-6)
    logs = functional.log_softmax(heat.view(count, landmarks, -1), -1).view_as(heat)
    weight = batch.visible.float()
    total = weight.sum().clamp_min(1)
    down = torch.einsum("blyx,bly->blx", logs, wide_y)
    heated = (-(down * wide_x).sum(-1) * weight).sum() / total
    share = logs.exp()
    mean_x, mean_y = (share.sum(2) * steps).sum(-1), (share.sum(3) * steps).sum(-1)
    away = torch.sqrt((mean_x - place[..., 0]) ** 2 + (mean_y - place[..., 1]) ** 2 + 0.01)
    length = batch.length.clamp_min(40)[:, None] / HEAT_STRIDE_PX
    return heated, (away / length * weight).sum() / total


def find_loss(output: torch.Tensor, batch: FindBatch) -> tuple[torch.Tensor, torch.Tensor]:
    """Sum and parts of the find network's loss: fish, overlap, whole, mirrored, ends."""
    output = output.float()
    step = FIND_STRIDE_PX
    owner = batch.owner[:, step // 2 :: step, step // 2 :: step]
    fish = (owner > 0).float()
    cross = functional.binary_cross_entropy_with_logits(output[:, 0], fish)
    share = output[:, 0].sigmoid()
    overlap = 1 - (2 * (share * fish).sum() + 1) / (share.sum() + fish.sum() + 1)
    index = owner.flatten(1).clamp_min(1) - 1

    def of_owner(values: torch.Tensor) -> torch.Tensor:
        return values.gather(1, index).view_as(fish)

    total = fish.sum().clamp_min(1)
    whole = functional.binary_cross_entropy_with_logits(
        output[:, 1], of_owner(batch.whole.float()), reduction="none")  # fmt: skip
    turned = functional.binary_cross_entropy_with_logits(
        output[:, 2], of_owner(batch.mirrored.float()), reduction="none")  # fmt: skip
    grid = torch.arange(fish.shape[1], device=fish.device).float() * step + step // 2
    ends = torch.zeros_like(fish)
    for number in range(4):
        here = grid[None, None, :] if number % 2 == 0 else grid[None, :, None]
        target = (of_owner(batch.ends[:, :, number]) - here) / FIND_UNIT_PX
        ends = ends + functional.smooth_l1_loss(
            output[:, 3 + number], target, beta=0.1, reduction="none")  # fmt: skip
    # Every fish counts alike, however few places it covers.
    area = torch.zeros_like(batch.whole.float()).scatter_add_(1, index, fish.flatten(1))
    weight = fish * of_owner(1.0 / area.clamp_min(20.0))
    each = weight.sum().clamp_min(1e-3)
    parts = [cross, overlap, (whole * fish).sum() / total, (turned * fish).sum() / total,
             (ends * weight).sum() / each]  # fmt: skip
    loss = parts[0] + 0.5 * parts[1] + 0.3 * parts[2] + 0.3 * parts[3] + parts[4]
    return loss, torch.stack(parts).detach()
